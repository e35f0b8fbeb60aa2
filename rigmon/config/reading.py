"""Opens a TOML file and says in one sentence why it cannot be read, if it cannot."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from rigmon.config.faults import TomlFile
from rigmon.config.places import KeyPath, dotted, key_lines, line_of
from rigmon.errors import ConfigError

_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_HINTS = (
    ("Invalid value", "a value is missing or is none; text needs quotation marks"),
    ("Expected '='", "an = is missing behind the key"),
    ("Expected newline", "something stands behind the value; each key needs a line of its own"),
    ("Cannot overwrite", "this key or table is given a second time; keep one"),
    ("Cannot declare", "this table is given a second time; keep one"),
    ("Cannot mutate", "this table is complete already; nothing can be added to it here"),
    ("Cannot redefine", "this table is given a second time; keep one"),
    ("Duplicate inline", "a key is given a second time within the braces; keep one"),
    ("Expected ']", "a closing bracket is missing behind the table's name"),
    ("Unclosed array", "a list is not closed; it needs a ] at its end"),
    ("Unclosed inline", "a table in braces is not closed; it needs a } at its end"),
    ("Unescaped", "a \\ in a text must be doubled, or the text put in single quotes"),
    ("Invalid hex", "a \\ in a text must be doubled, or the text put in single quotes"),
    ("Escaped character", "a \\ in a text must be doubled, or the text put in single quotes"),
    ("Unterminated string", "a text is not closed; it needs a quotation mark at its end"),
    ("Illegal character '\\n'", "a text is not closed; it needs a quotation mark at its end"),
    ("Invalid date", "this is no date or time that there is"),
    ("Invalid statement", "a line begins with a key, a table in brackets, or #"),
    ("Invalid initial character", "a key is missing; keys are letters, digits, _ and -"),
)
"""What `tomllib` says, and the same for someone who has never heard of a parser.

The texts never quote the file, since the line may hold a password.
"""


def read_text(path: Path) -> str:
    """The text of a file.

    Raises:
        ConfigError: it is missing, no file, not readable, or not UTF-8.
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise ConfigError(f"{path}: there is no such file; check the path") from None
    except IsADirectoryError:
        raise ConfigError(f"{path}: this is a directory; name the file in it") from None
    except PermissionError:
        raise ConfigError(
            f"{path}: you may not read this file; change its permissions or its owner"
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise ConfigError(f"{path}: the file cannot be read ({reason})") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise ConfigError(f"{path}:{line}: this is not UTF-8 text, save it as UTF-8") from None


def read_toml(path: Path) -> TomlFile:
    """A TOML file with the lines of its keys.

    Raises:
        ConfigError: as `read_text`, or it is not TOML.
    """
    return parse_toml(read_text(path), str(path))


def parse_toml(text: str, name: str) -> TomlFile:
    """A TOML text with the lines of its keys; `name` stands for it in messages.

    Raises:
        ConfigError: it is not TOML.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(_not_toml(name, text, str(error))) from None
    except RecursionError:
        raise ConfigError(f"{name}: brackets are nested too deeply to be read") from None
    except ValueError:
        raise ConfigError(f"{name}: a number has too many digits to be read") from None
    return TomlFile(name, table, key_lines(text))


def where(source: Path | str, at: KeyPath) -> str:
    r"""The place of a key, in a file (a `Path`) or in a text.

    Args:
        source: the file, or the TOML text itself.
        at: keys from the top down, with an index from 0 for an element of an array.

    Raises:
        ConfigError: the file cannot be read.

    >>> where('[units]\nmass = "lb"', ("units", "mass"))
    'line 2 units.mass'
    """
    if isinstance(source, Path):
        return f"{source}:{line_of(key_lines(read_text(source)), at)} {dotted(at)}"
    return f"line {line_of(key_lines(source), at)} {dotted(at)}"


def _not_toml(name: str, text: str, says: str) -> str:
    at = _AT.search(says)
    says = says[: at.start()] if at else says
    if at and at[1]:
        place = f"{name}:{at[1]} column {at[2]}"
    else:
        place = f"{name}:{text.rstrip().count(chr(10)) + 1}"
    hint = next((hint for start, hint in _HINTS if says.startswith(start)), says.lower())
    return f"{place}: this is not TOML, {hint}"
