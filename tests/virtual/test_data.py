"""The demonstration's files: invented, said so, readable, and made by the program itself."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from rigmon.config import load_config, load_recipe
from rigmon.physics.ingredients import compose
from rigmon.physics.mix import freezing_curve
from rigmon.records import MarkWord, parse_detail
from rigmon.virtual.catalogue import RECORDED, demo_scenario
from rigmon.virtual.drawn import RECIPES, drawn_scenario
from rigmon.virtual.record import record_run, run_file
from rigmon.virtual.scenario import data_folder, recipe_path

FOREIGN = data_folder() / "foreign" / "thermometer.csv"
"""A table as another program writes it, in its own encoding and with its own head."""
FILES = sorted({*data_folder().rglob("*.csv"), *data_folder().rglob("*.toml")} - {FOREIGN})
RUNS = sorted((data_folder() / "runs").glob("*.csv"))


def by_name(path: Path) -> str:
    """The name of a file, to name a test case by."""
    return path.name


@pytest.mark.parametrize("path", FILES, ids=by_name)
def test_every_file_says_in_its_head_that_it_is_invented(path: Path) -> None:
    """Nobody shall take the demonstration for measurements."""
    head = path.read_text(encoding="utf-8").splitlines()[0]
    assert head.startswith("# ")
    assert "invented" in head.lower()


def test_a_foreign_table_says_so_too() -> None:
    """In the line that such programs put above the headings."""
    assert "(invented)" in FOREIGN.read_text(encoding="latin-1").splitlines()[0]


def test_there_is_a_file_for_every_recorded_run_and_no_other() -> None:
    """The folder and the catalogue agree."""
    assert {path.stem for path in RUNS} == set(RECORDED)
    assert len(RUNS) >= 6


@pytest.mark.parametrize("name", ["slip-custard-4to1", "loft-gooseberry-5to1-open"])
def test_a_recorded_run_comes_out_the_same_again(name: str) -> None:
    """The same scenario and seed give the same bytes as the file that is kept."""
    scenario, seed = RECORDED[name]
    kept = (data_folder() / "runs" / f"{name}.csv").read_bytes()
    assert run_file(scenario, seed, record_run(scenario, seed).items).encode() == kept


@pytest.mark.parametrize("path", RUNS, ids=by_name)
def test_a_run_file_is_plain_and_in_order(path: Path) -> None:
    """A header, rising times, numbers in °C, marks with details that can be read."""
    assert path.stat().st_size < 300_000
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert rows[0]["mark"] == "ice-in"
    assert rows[-1]["mark"] == "end"
    times = [float(row["time_s"]) for row in rows]
    assert times == sorted(times)
    for row in rows:
        if row["mark"]:
            parse_detail(row["detail"], MarkWord(row["mark"]))
            assert row["by"] == "maker"
        for name, value in row.items():
            assert not (name.endswith("_c") and value) or -45.0 < float(value) < 60.0


def test_the_runs_differ_in_ratio_ice_and_salt() -> None:
    """At least four ratios by mass, both kinds of ice, and fine, kosher and rock salt."""
    baths = [scenario.plan.ice_in for scenario, _ in RECORDED.values()]
    ratios = {round(float(bath["ice_g"]) / float(bath["salt_g"]), 1) for bath in baths}
    assert {3.3, 4.0, 5.0, 6.0, 8.0} <= ratios
    assert {bath["ice_kind"] for bath in baths} == {"cubes", "crushed"}
    assert {bath["salt_kind"] for bath in baths} == {"fine", "kosher", "rock"}


def test_the_open_circuit_is_two_minutes_without_a_mix_reading() -> None:
    """A fault is an empty field in a run file."""
    with (data_folder() / "runs" / "loft-gooseberry-5to1-open.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    gap = [row for row in rows if 900.0 <= float(row["time_s"]) < 1020.0 and not row["mark"]]
    assert len(gap) == 120
    assert all(row["mix_c"] == "" for row in gap)
    assert sum(row["bath_c"] != "" for row in gap) > 100


@pytest.mark.parametrize("path", sorted((data_folder() / "rigs").glob("*.toml")), ids=by_name)
def test_a_rig_file_is_a_configuration_with_a_recipe(path: Path) -> None:
    """Each can be copied and used, and its recipe is where it says."""
    (rig,) = load_config(path).rigs
    assert rig.setup.id == path.stem
    assert rig.recipe_path is not None
    assert load_recipe(rig.recipe_path).name


@pytest.mark.parametrize("name", RECIPES)
def test_a_recipe_freezes_where_mixes_freeze(name: str) -> None:
    """Between -4 and -1.4 °C, with more than half of its water frozen at -8 °C."""
    recipe = compose(load_recipe(data_folder() / "recipes" / f"{name}.toml"))
    assert recipe.composition is not None
    assert recipe.mass_g is not None
    curve = freezing_curve(recipe.composition)
    assert -4.0 < curve.initial_c < -1.4
    assert curve.frozen_pct(-8.0) > 50.0


def test_every_scenario_has_its_recipe_and_its_rig() -> None:
    """No scenario names a file that is not there."""
    played = [scenario for scenario, _ in RECORDED.values()]
    for scenario in (*played, demo_scenario(), demo_scenario(whole=True), drawn_scenario(3)):
        assert recipe_path(scenario).is_file()
        assert (data_folder() / "rigs" / f"{scenario.rig}.toml").is_file()
