"""The line of a key is found however the file is laid out."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from rigmon.config import KeyPath, where
from rigmon.config.places import dotted, key_lines
from rigmon.errors import ConfigError

_LAYOUTS = '''\
# [rigs.not-this]
title = "[x]"      # port = 1
rigs.a.port = "p"
"quoted key".'other one'."" = 1
[rigs.a.bath]
ice_g = 2600
"salt\\u005fg" = 650
text = """
[rigs.a.nor-this]
ice_g = 1 \\""" still inside
quotes at the end"""""
raw = \'\'\'
kind = 'rock\'\'\'\'

[[rigs.a.probe]]
name = "bath"

[[rigs.a.probe]]
inline = { type = "T", more = { gain = 1.0 } }
columns = [
  "ms",   # "not", "these"
  ["nested", "]"],
  { name = "x" },
]
  [rigs.a.probe.deep]
  when = 2026-02-14 18:30:00
[ rigs . b ]
'''

_PLACES: list[tuple[KeyPath, int]] = [
    (("title",), 2),
    (("rigs",), 3),
    (("rigs", "a", "port"), 3),
    (("quoted key", "other one", ""), 4),
    (("rigs", "a", "bath"), 5),
    (("rigs", "a", "bath", "ice_g"), 6),
    (("rigs", "a", "bath", "salt_g"), 7),
    (("rigs", "a", "bath", "text"), 8),
    (("rigs", "a", "bath", "raw"), 12),
    (("rigs", "a", "probe"), 15),
    (("rigs", "a", "probe", 0, "name"), 16),
    (("rigs", "a", "probe", 1), 18),
    (("rigs", "a", "probe", 1, "inline", "more", "gain"), 19),
    (("rigs", "a", "probe", 1, "columns", 1), 22),
    (("rigs", "a", "probe", 1, "columns", 2, "name"), 23),
    (("rigs", "a", "probe", 1, "deep", "when"), 26),
    (("rigs", "b"), 27),
]


@pytest.mark.parametrize(("path", "line"), _PLACES, ids=[dotted(path) for path, _ in _PLACES])
def test_a_key_is_found_in_any_layout(path: KeyPath, line: int) -> None:
    """Dotted and quoted keys, tables, arrays of tables, inline tables and long texts."""
    assert where(_LAYOUTS, path) == f"line {line} {dotted(path)}"


def test_a_key_that_is_not_there_has_the_line_of_what_is_around_it() -> None:
    """A missing key is sought at its table, and failing that at the top."""
    assert where(_LAYOUTS, ("rigs", "a", "bath", "limit_c")).startswith("line 5 ")
    assert where(_LAYOUTS, ("log", "path")).startswith("line 1 ")


def test_a_table_header_counts_more_than_a_table_within_it() -> None:
    """The line of a table is its own header, even below the header of a table in it."""
    assert where("[rigs.a.bath]\n[rigs.a]\n", ("rigs", "a")) == "line 2 rigs.a"


def test_a_file_is_named_with_the_place(tmp_path: Path) -> None:
    """With a path the place begins with it."""
    path = tmp_path / "rig.toml"
    path.write_text("\n\nunits.mass = 'g'\n", encoding="utf-8")
    assert where(path, ("units", "mass")) == f"{path}:3 units.mass"


def test_a_place_in_a_missing_file_is_an_error(tmp_path: Path) -> None:
    """A file that is not there has no places."""
    with pytest.raises(ConfigError, match="there is no such file"):
        where(tmp_path / "nowhere.toml", ("units",))


@pytest.mark.parametrize(
    ("path", "text"),
    [
        (("rigs", "a b", 0), 'rigs."a b"[0]'),
        (("",), '""'),
        (("a\nb",), r'"a\nb"'),
        (("k" * 100,), "k" * 59 + "…"),
    ],
)
def test_an_odd_key_stays_on_one_line(path: KeyPath, text: str) -> None:
    """Control characters are escaped and endless keys are cut."""
    assert dotted(path) == text


def paths_in(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key path of a parsed TOML value."""
    if path:
        yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths_in(inner, (*path, key))
    if isinstance(value, list):
        for index, inner in enumerate(value):
            yield from paths_in(inner, (*path, index))


_KEYS = st.text(alphabet=st.characters(codec="utf-8"), max_size=6)
_SCALARS = (
    st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.floats(allow_nan=False)
    | st.datetimes()
    | st.dates()
    | st.text(st.characters(codec="utf-8"))
    | st.text("\"'\\#[]{}=,.\n \r\t")
)
_TABLES = st.dictionaries(
    _KEYS,
    st.recursive(
        _SCALARS,
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_KEYS, inner, max_size=4),
        max_leaves=12,
    ),
    max_size=5,
)


@given(_TABLES, st.booleans())
def test_every_key_of_a_written_file_is_found(table: dict[str, Any], multiline: bool) -> None:
    """The scan finds exactly the keys that the parser finds, whatever the values hold."""
    text = tomli_w.dumps(table, multiline_strings=multiline)
    assert set(key_lines(text)) == set(paths_in(tomllib.loads(text)))


@given(_TABLES, st.booleans())
def test_the_line_found_holds_the_key(table: dict[str, Any], multiline: bool) -> None:
    """With keys that occur once, the line that is named is the one with the key in it."""
    numbers = iter(range(10**6))

    def renamed(value: Any) -> Any:
        if isinstance(value, dict):
            return {f"key-{next(numbers)}-": renamed(inner) for inner in value.values()}
        if isinstance(value, list):
            return [renamed(inner) for inner in value]
        return value

    text = tomli_w.dumps(renamed(table), multiline_strings=multiline)
    lines = text.split("\n")
    for path, line in key_lines(text).items():
        if isinstance(path[-1], str):
            assert path[-1] in lines[line - 1]


@given(st.text(st.characters(codec="utf-8")) | st.text("\"'\\#[]{}=,.\nab1 "))
def test_any_text_is_scanned_to_an_end(text: str) -> None:
    """Text that is no TOML gives places as far as it goes, and no error."""
    last = text.replace("\r\n", "\n").count("\n") + 1
    assert all(1 <= line <= last for line in key_lines(text).values())


def test_deep_nesting_is_scanned_to_an_end() -> None:
    """A nest too deep to follow ends the scan and nothing else."""
    assert key_lines("a = 1\nb = " + "[" * 100_000)[("a",)] == 1


def test_the_layouts_above_are_toml() -> None:
    """The example is real TOML, and each of its keys is found."""
    parsed = tomllib.loads(_LAYOUTS)
    assert set(key_lines(_LAYOUTS)) == set(paths_in(parsed))
    assert re.search("still inside", parsed["rigs"]["a"]["bath"]["text"])
