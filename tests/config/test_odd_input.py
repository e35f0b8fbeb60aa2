"""Whatever stands in a file, reading it gives values or the one error of a configuration.

Ten thousand odd files in a usual run, a million with RIGMON_NIGHTLY=1.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigmon.config import Config, load_config, load_recipe
from rigmon.config.models import ConfigTable, RecipeTable
from rigmon.config.places import key_lines
from rigmon.errors import ConfigError
from rigmon.records import Recipe

_NIGHTLY = 100 if os.environ.get("RIGMON_NIGHTLY") == "1" else 1


def odd_files(count: int) -> settings:
    """So many examples in a usual run, a hundred times as many at night."""
    return settings(
        max_examples=count * _NIGHTLY,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow],
    )


_JARGON = re.compile(r"pydantic|Input should|Field required|Traceback|NoneType|valid dictionary")


@pytest.fixture(scope="module")
def odd_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file to write to; hypothesis writes it anew for each example."""
    return tmp_path_factory.mktemp("odd") / "odd.toml"


def told_in_sentences(read: Callable[[Path], Config | Recipe], path: Path) -> None:
    """Reads the file; an error has the file, a place and words for a maker on every line."""
    try:
        read(path)
    except ConfigError as error:
        for line in str(error).splitlines():
            assert line.startswith(f"{path}:")
            assert re.match(
                r":\d+: .|:\d+ [^ ].*: .|: (brackets|a number) ", line[len(str(path)) :]
            )
            assert line.isprintable()
            assert not _JARGON.search(line)


def _words(model: Any, known: set[str]) -> set[str]:
    for name, field in model.model_fields.items():
        known.add(name)
        for annotation in (field.annotation, *getattr(field.annotation, "__args__", ())):
            if hasattr(annotation, "model_fields"):
                _words(annotation, known)
    return known


_KNOWN = sorted(_words(ConfigTable, set()) | _words(RecipeTable, set()))
_KEYS = st.sampled_from(_KNOWN) | st.text(st.characters(codec="utf-8"), max_size=8)
_SCALARS = (
    st.sampled_from(["serial", "mqtt", "bath", "mix", "frames", "columns", "T", "other", "emf"])
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters(codec="utf-8"), max_size=20)
    | st.datetimes()
)
_VALUES = st.recursive(
    _SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_KEYS, inner, max_size=4),
    max_leaves=6,
)
_RIGS = st.dictionaries(st.sampled_from(["a", "b-2"]) | _KEYS, _VALUES, max_size=3)
_TABLES = st.dictionaries(_KEYS, _VALUES, max_size=5) | st.fixed_dictionaries(
    {"rigs": _RIGS}, optional={"alarms": _VALUES, "prior": _VALUES, "recorded": _VALUES}
)
_PIECES = st.text("\"'\\#[]{}=,.\n aT019-_", max_size=8) | st.sampled_from(
    ["[[", "]]", '"""', "true", "nan", "inf", "-1", "1e400", "[rigs.b]\n", "\x00", "\u2028", "é"]
)
_MUTATIONS = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 12), _PIECES), min_size=1, max_size=4
)


def mutated(text: str, mutations: list[tuple[float, int, str]]) -> str:
    """A text with a few pieces of it replaced."""
    for where, length, piece in mutations:
        at = int(where * len(text))
        text = text[:at] + piece + text[at + length :]
    return text


@odd_files(4500)
@given(raw=st.binary() | st.text(st.characters(codec="utf-8")).map(str.encode))
def test_any_bytes_are_read_or_refused(odd_file: Path, raw: bytes) -> None:
    """Bytes of any kind never end in anything but the configuration's error."""
    odd_file.write_bytes(raw)
    told_in_sentences(load_config, odd_file)


@odd_files(700)
@given(table=_TABLES)
def test_any_values_under_known_keys_are_read_or_refused(
    odd_file: Path, table: dict[str, Any]
) -> None:
    """Values of the wrong kind, size or place are refused in words."""
    odd_file.write_text(tomli_w.dumps(table), encoding="utf-8")
    told_in_sentences(load_config, odd_file)
    told_in_sentences(load_recipe, odd_file)


@odd_files(3000)
@given(mutations=_MUTATIONS)
def test_a_damaged_configuration_is_read_or_refused(
    odd_file: Path, full_config: str, mutations: list[tuple[float, int, str]]
) -> None:
    """A slip of the hand anywhere in a good file is read or refused in words."""
    odd_file.write_text(mutated(full_config, mutations), encoding="utf-8", newline="")
    told_in_sentences(lambda path: load_config(path, {"plateau-reached"}), odd_file)


@odd_files(1300)
@given(mutations=_MUTATIONS)
def test_a_damaged_recipe_is_read_or_refused(
    odd_file: Path, full_recipe: str, mutations: list[tuple[float, int, str]]
) -> None:
    """A slip of the hand anywhere in a good recipe is read or refused in words."""
    odd_file.write_text(mutated(full_recipe, mutations), encoding="utf-8", newline="")
    told_in_sentences(load_recipe, odd_file)


@odd_files(500)
@given(mutations=_MUTATIONS)
def test_every_key_of_a_damaged_configuration_has_a_line(
    full_config: str, mutations: list[tuple[float, int, str]]
) -> None:
    """As long as a damaged file is TOML, each key in it is found on a line."""
    text = mutated(full_config, mutations)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = key_lines(text)
    for key, value in table.items():
        assert (key,) in lines
        if isinstance(value, dict):
            assert all((key, inner) in lines for inner in value)
