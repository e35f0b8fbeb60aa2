"""From files to rigs: which rig, which recipe, and what a run is logged with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rigmon.errors import ConfigError, UsageError
from rigmon.service.prepare import Rig, header_of, logged_rig, read_config, read_recipe, rigs_of

TWO = "[rigs.left]\n[rigs.right]\n"


@pytest.fixture
def two(tmp_path: Path) -> Path:
    """A configuration with two rigs."""
    path = tmp_path / "two.toml"
    path.write_text(TWO)
    return path


def test_rigs_come_in_the_order_of_the_file_or_alone(two: Path) -> None:
    """`--rig` picks one."""
    config = read_config(two)
    assert [rig.setup.id for rig in rigs_of(config, None)] == ["left", "right"]
    assert [rig.setup.id for rig in rigs_of(config, None, "right")] == ["right"]
    with pytest.raises(UsageError, match=r"There is no rig 'middle' .* there are: left, right"):
        rigs_of(config, None, "middle")


def test_one_recipe_is_for_one_rig(two: Path, tmp_path: Path) -> None:
    """Two bowls may hold different mixes; guessing would be wrong for one of them."""
    recipe = tmp_path / "plum.toml"
    recipe.write_text("[composition]\nsucrose = 28\n")
    with pytest.raises(UsageError, match=r"One recipe cannot be for several rigs \(left, right\)"):
        rigs_of(read_config(two), recipe)
    (left,) = rigs_of(read_config(two), recipe, "left")
    assert left.recipe is not None
    assert left.recipe.name == "plum"


def test_a_mix_that_cannot_freeze_is_refused_with_its_file(tmp_path: Path) -> None:
    """Pure spirit is a recipe, but none for this bowl."""
    recipe = tmp_path / "spirit.toml"
    recipe.write_text("[composition]\nwater = 0.5\nalcohol = 99.5\n")
    with pytest.raises(ConfigError, match=r"spirit\.toml"):
        read_recipe(recipe)


def test_a_logged_rig_is_the_one_that_was_watched(rig: Rig) -> None:
    """All that moves a monitor comes back from the log's document to the last bit."""
    again = logged_rig(header_of(rig, 1_783_173_600.0))
    assert again.setup == rig.setup
    assert rig.recipe is not None
    assert again.recipe == replace(rig.recipe, ingredients=())
    assert (again.prior, again.seed, again.units) == (rig.prior, rig.seed, rig.units)


def test_a_run_is_named_by_its_rig_and_the_time_in_utc(rig: Rig, virtual_rig: Rig) -> None:
    """The same everywhere, whatever the kitchen's own clock says."""
    header = header_of(rig, 1_783_173_600.0)
    assert (header.id, header.rig, header.virtual) == ("slip-20260704T140000Z", "slip", False)
    assert header_of(virtual_rig, 1_783_173_600.0).virtual


def test_a_set_point_that_makes_no_sense_is_refused(tmp_path: Path) -> None:
    """With the bounds of the table of alarms, and what the figure is; one within them is taken."""
    path = tmp_path / "rig.toml"
    path.write_text("[rigs.slip]\n[alarms.freezer-warm]\nset_point = 5.0\n", "utf-8")
    with pytest.raises(ConfigError, match=r"found 5, allowed are -30 to -5 °C \(freezer air\)"):
        read_config(path)
    path.write_text("[rigs.slip]\n[alarms.freezer-warm]\nset_point = -12.0\n", "utf-8")

    (rig,) = read_config(path).rigs
    assert rig.setup.alarms["freezer-warm"].set_point == -12.0
