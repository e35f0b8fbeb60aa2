"""What a run started from is written as a file that reads back to the same values."""

from __future__ import annotations

import datetime
import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.config import Recorded, RigConfig, Units, load_config, parse_config, run_document
from rigmon.errors import ConfigError
from rigmon.records import (
    AlarmSetting,
    BathSetup,
    BowlSetup,
    BowlShape,
    Composition,
    Converter,
    IceKind,
    IngredientLine,
    Place,
    PlateauSetting,
    ProbeSetup,
    Recipe,
    RigPrior,
    RigSetup,
    SaltKind,
)


def _above(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, exclude_min=True)


@st.composite
def _bowls(draw: st.DrawFn) -> BowlSetup:
    given: dict[str, Any] = {}
    sizes = {"inner": st.floats(100, 5000), "outer": _above(5000, 100_000)}
    for which, ml in sizes.items():
        shape = draw(st.sampled_from(BowlShape))
        given[f"{which}_shape"] = shape
        given[f"{which}_ml"] = draw(ml)
        if shape is BowlShape.FRUSTUM:
            given[f"{which}_rim_mm"] = rim = draw(st.floats(50, 1000))
            given[f"{which}_base_mm"] = draw(st.floats(20, rim))
        if shape is BowlShape.MEASURED:
            points = draw(st.integers(2, 5))
            depths = draw(st.lists(_above(0, 1000), min_size=points, max_size=points, unique=True))
            given[f"{which}_table"] = tuple(
                (depth, given[f"{which}_ml"] * (index + 1) / points)
                for index, depth in enumerate(sorted(depths))
            )
    return BowlSetup(**given)


_LINES = st.text(st.characters(categories=["L", "N", "P", "S"]), max_size=30)
_PROBES = st.lists(
    st.builds(
        ProbeSetup,
        name=st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,12}", fullmatch=True).filter(
            lambda name: name not in {"ms", "s"}
        ),
        sits_in=st.sampled_from(Place),
        type=st.sampled_from(["T", "K", "J", "E", "N"]),
        converter=st.sampled_from(Converter),
        offset_k=st.floats(-20, 20),
        gain=st.floats(0.5, 1.5),
        uncertainty_k=_above(0, 20),
    ),
    max_size=4,
    unique_by=lambda probe: probe.name,
).map(tuple)
_SETUPS = st.builds(
    RigSetup,
    id=st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True),
    probes=_PROBES,
    bath=st.builds(
        BathSetup,
        ice_g=st.none() | _above(0, 50_000),
        salt_g=st.none() | _above(0, 50_000),
        water_g=st.floats(0, 50_000),
        salt_kind=st.sampled_from(SaltKind),
        ice_kind=st.sampled_from(IceKind),
        limit_c=st.none() | st.floats(-60, 0),
    ),
    bowls=_bowls(),
    room_c=st.none() | st.floats(-30, 50),
    mixer=_LINES,
    scoop_g=st.none() | _above(0, 5000),
    plateau=st.builds(PlateauSetting, gain_pct=_above(0, 20), within_s=st.floats(10, 1800)),
    alarms=st.dictionaries(
        _LINES,
        st.builds(
            AlarmSetting,
            enabled=st.booleans(),
            on_delay_s=st.none() | st.floats(0, 3600),
            off_delay_s=st.none() | st.floats(0, 3600),
        ),
        max_size=3,
    ),
)
_TIMES = st.datetimes(timezones=st.just(datetime.UTC)).map(lambda time: time.replace(fold=0))
_FINITE = st.floats(allow_nan=False, allow_infinity=False)


@st.composite
def _compositions(draw: st.DrawFn) -> Composition:
    parts = draw(st.lists(st.floats(0, 1), min_size=11, max_size=11))
    water = draw(st.floats(0.1, 1))
    share = 100 / (water + math.fsum(parts))
    fat, msnf, sucrose, dextrose, fructose, syrup, lactose, *rest = (part * share for part in parts)
    de = draw(st.floats(0, 100))
    return Composition(
        water * share, fat, msnf, sucrose, dextrose, fructose, syrup, de, lactose, *rest
    )


@st.composite
def _priors(draw: st.DrawFn) -> RigPrior:
    names = draw(st.lists(_LINES.filter(bool), max_size=4))
    rows = [[draw(_FINITE) for _ in names] for _ in names]
    for index, row in enumerate(rows):
        row[index] = abs(row[index])
    return RigPrior(
        names=tuple(names),
        transforms=tuple(draw(st.sampled_from(["log", "identity"])) for _ in names),
        mean=tuple(draw(_FINITE) for _ in names),
        covariance=tuple(map(tuple, rows)),
        model_version=draw(_LINES.filter(bool)),
    )


@st.composite
def _starts(draw: st.DrawFn) -> tuple[RigSetup, Units, Recorded]:
    units = Units(
        draw(st.sampled_from(["C", "F"])),
        draw(st.sampled_from(["g", "oz"])),
        draw(st.floats(100, 500)),
    )
    recipe = st.builds(
        Recipe,
        name=_LINES,
        composition=_compositions(),
        mass_g=st.none() | _above(0, 50_000),
        ingredients=st.just(()),
        cup_ml=st.just(units.cup_ml),
    )
    recorded = Recorded(
        recipe=draw(st.none() | recipe),
        prior=draw(_priors()),
        seed=draw(st.integers(0, 2**63 - 1)),
        version=draw(_LINES.filter(bool)),
        started=draw(st.none() | _TIMES),
    )
    return draw(_SETUPS), units, recorded


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file to write to; hypothesis writes it anew for each example."""
    return tmp_path_factory.mktemp("exported") / "out.toml"


@given(start=_starts())
def test_what_is_written_reads_back_to_the_last_bit(
    exported: Path, start: tuple[RigSetup, Units, Recorded]
) -> None:
    """Rig, units, recipe, prior and seed survive writing and reading unchanged."""
    setup, units, recorded = start
    text = run_document(
        setup,
        recorded.recipe,
        recorded.prior,
        recorded.seed,
        recorded.version,
        units,
        recorded.started,
    )
    exported.write_text(text, encoding="utf-8")
    config = load_config(exported)
    assert config.rigs == (RigConfig(setup),)
    assert (config.units, config.recorded) == (units, recorded)
    # Equality cannot tell −0.0 from 0.0; the shortest text of a float names its bits.
    assert repr((config.rigs[0].setup, config.recorded)) == repr((setup, recorded))


_PRIOR = RigPrior(("ua_w_per_k",), ("log",), (2.25,), ((0.16,),), "1")


def test_a_text_from_the_log_reads_like_the_file(exported: Path) -> None:
    """The run log keeps the same text that an export writes."""
    text = run_document(RigSetup(), None, _PRIOR, 1, "0.1", Units())
    exported.write_text(text, encoding="utf-8")
    assert parse_config(text, "bench-2026") == load_config(exported)


def test_a_faulty_text_from_the_log_is_named_as_it_was_given() -> None:
    """A message about a text has the name that it was given in place of a file's."""
    with pytest.raises(ConfigError, match=r"^bench-2026:2 log\.x: unknown key"):
        parse_config("[log]\nx = 1\n", "bench-2026")


def test_defaults_are_written_out() -> None:
    """A later version with other defaults reads the same rig."""
    table = tomllib.loads(run_document(RigSetup(), None, _PRIOR, 1, "0.1", Units()))
    assert table["rigs"]["rig"]["bowls"]["inner_ml"] == BowlSetup().inner_ml
    assert table["rigs"]["rig"]["plateau"]["within_s"] == PlateauSetting().within_s


def test_a_recipe_is_kept_by_its_composition(exported: Path) -> None:
    """The lines that a composition was computed from are not needed again."""
    composition = Composition(water=70, fat=30)
    recipe = Recipe("cream", composition, 900.0, (IngredientLine("cream", 900.0),))
    text = run_document(RigSetup(), recipe, _PRIOR, 1, "0.1", Units())
    exported.write_text(text, encoding="utf-8")
    recorded = load_config(exported).recorded
    assert recorded is not None
    assert recorded.recipe == Recipe("cream", composition, 900.0)


def test_a_recipe_without_composition_cannot_be_kept() -> None:
    """Ingredients alone would make the file depend on an ingredient table."""
    recipe = Recipe("cream", None, ingredients=(IngredientLine("cream", 900.0),))
    with pytest.raises(ValueError, match="has none yet"):
        run_document(RigSetup(), recipe, _PRIOR, 1, "0.1", Units())
