"""`rigmon plan`: words, data and a page; whatever is wrong is one sentence and exit code 2."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

CUSTARD = data_folder() / "recipes" / "barley-custard.toml"
SLIP = data_folder() / "rigs" / "slip.toml"
COMPOSITION = "[composition]\nwater = 74\nsucrose = 26\n"


@pytest.fixture
def ice(tmp_path: Path) -> Path:
    """A declared water ice without a mass."""
    path = tmp_path / "ice.toml"
    path.write_text(COMPOSITION)
    return path


def test_a_recipe_is_enough(rigmon: Rigmon) -> None:
    """It says what it took for the rest, without a colour code in a pipe."""
    told = rigmon("plan", CUSTARD)
    assert (told.code, told.err) == (0, "")
    assert "Toasted barley custard" in told.out
    assert "Assumed   bowls of 4 l in 9.5 l; a room of 22 °C;" in told.out
    assert "\x1b" not in told.out
    assert max(map(len, told.out.splitlines())) <= 80


def test_json_and_a_page_at_once(rigmon: Rigmon, tmp_path: Path) -> None:
    """The object alone stands on standard output; alternatives and the rig's amounts are in it."""
    told = rigmon(
        "plan", CUSTARD, "--rig", SLIP, "--json", "--out", "plan.pdf", "--compare", "ratio=3,6"
    )
    assert (told.code, told.err) == (0, "The page is in plan.pdf.\n")
    found = json.loads(told.out)
    assert (found["ice_g"], found["salt_g"]) == (3000, 750)
    assert [one["ratio"] for one in found["alternatives"]] == [3.0, 6.0]
    assert [one["salt_g"] for one in found["alternatives"]] == [1000, 500]
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF-")


def test_every_option_reaches_the_plan(rigmon: Rigmon, ice: Path) -> None:
    """What is asked for is what is planned."""
    options = {
        "mix_g": 900, "mix_c": 7, "ice_g": 2000, "salt_g": 450, "room_c": 28,
        "ice_kind": "cubes", "salt_kind": "rock", "salt": "potassium-chloride",
    }  # fmt: skip
    words = [w for key, value in options.items() for w in (f"--{key.replace('_', '-')}", value)]
    told = rigmon("plan", ice, "--json", "--seed", "3", *map(str, words))
    found = json.loads(told.out)
    assert {key: found[key] for key in options} == options


def test_the_cup_and_the_units_are_those_of_the_configuration(
    rigmon: Rigmon, tmp_path: Path
) -> None:
    """A cup of 250 ml holds more than one of 240 ml."""
    rig = '[units]\ncup_ml = 250\nmass = "oz"\ntemperature = "F"\n[rigs.kitchen]\nroom_c = 20\n'
    (tmp_path / "rig.toml").write_text(rig)
    told = rigmon("plan", CUSTARD, "--rig", "rig.toml")
    assert told.code == 0
    assert "Cups      of 250 ml" in told.out
    assert "the room is at 68 °F" in told.out
    assert re.search(r"Ice +[\d.]+ oz crushed", told.out)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--salt-g", "500", "--ratio", "4"), "give one of them"),
        (("--mix-c", "-9"), "is frozen in part"),
        (("--mix-g", "nan"), "'nan' is not a number"),
        (("--ice-g", "0"), "--ice-g"),
        (("--salt-g", "-5"), "--salt-g"),
        (("--room-c", "inf"), "--room-c"),
        (("--salt", "sugar"), "sodium-chloride"),
        (("--ice-kind", "snow"), "'cubes', 'crushed'"),
        (("--out", "plan.jpg"), "plan.jpg ends in none of .pdf, .png, .svg"),
        (("--out", "none/plan.png"), "none/plan.png cannot be written"),
        (("--compare", "ratio"), "such as ratio=3,4,5"),
        (("--compare", "speed=1,2"), "such as ratio=3,4,5"),
        (("--compare", "ratio=3,,4"), "--compare"),
        (("--compare", "ratio=3,nan"), "--compare"),
        (("--compare", "ratio=1,2,3,4,5,6,7,8,9"), "more than 8"),
        (("--compare", "ratio=3,4", "--salt-g", "500"), "leave --salt-g out"),
        (("--compare", "mix_c=4,-9"), "is frozen in part"),
        (("--rig", "none.toml"), "there is no such file"),
        (("--rig-id", "slip"), "give that with --rig"),
        (("--rig", str(SLIP), "--rig-id", "slap"), "There is no rig 'slap'"),
    ],
)
def test_whatever_is_wrong_is_a_sentence(rigmon: Rigmon, words: tuple[str, ...], says: str) -> None:
    """On standard error, and nothing is planned."""
    told = rigmon("plan", CUSTARD, *words)
    assert told.code == 2
    assert says in told.err
    assert told.out == ""


def test_a_recipe_that_gives_no_mass_asks_for_it(rigmon: Rigmon, ice: Path) -> None:
    """And is planned with one."""
    told = rigmon("plan", ice)
    assert (told.code, told.out) == (2, "")
    assert told.err == (
        "rigmon: The recipe 'ice' gives no mass: add mass_g to it, or give --mix-g\n"
    )


def test_a_bad_recipe_is_told_by_file_and_line(rigmon: Rigmon, tmp_path: Path) -> None:
    """As everywhere else."""
    (tmp_path / "bad.toml").write_text('[[ingredient]]\nname = "hole milk"\ngrams = 500\n')
    told = rigmon("plan", "bad.toml")
    assert (told.code, told.out) == (2, "")
    assert "bad.toml:2" in told.err
    assert "'whole milk'" in told.err
    assert rigmon("plan", "none.toml").code == 2


def test_of_several_rigs_one_must_be_named(rigmon: Rigmon, tmp_path: Path) -> None:
    """They may have other bowls."""
    (tmp_path / "rig.toml").write_text("[rigs.a]\nroom_c = 20\n[rigs.b]\nroom_c = 30\n")
    told = rigmon("plan", CUSTARD, "--rig", "rig.toml")
    assert told.code == 2
    assert told.err == "rigmon: rig.toml has several rigs (a, b): say which with --rig-id\n"
    named = rigmon("plan", CUSTARD, "--rig", "rig.toml", "--rig-id", "b", "--json")
    assert json.loads(named.out)["room_c"] == 30
