"""`rigmon calibrate`: from recorded and typed readings to what is known of each probe."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

RIG = """
[rigs.kitchen]
[[rigs.kitchen.probe]]
name = "bath"
type = "T"
[[rigs.kitchen.probe]]
name = "mix"
type = "T"
[log]
path = "runs.sqlite"
"""

Baths = Callable[..., Path]
WITH = ("--config", "rig.toml")


@pytest.fixture(autouse=True)
def rig(tmp_path: Path) -> None:
    """The kitchen's configuration."""
    (tmp_path / "rig.toml").write_text(RIG)


@pytest.fixture
def recorded(tmp_path: Path) -> Baths:
    """A run file of probes in a bath, read once a second; each by its column, mean and drift."""
    rng = np.random.default_rng(4)

    def write(seconds: int = 180, drift_k_s: float = 0.0, **means_c: float) -> Path:
        path = tmp_path / "bath.csv"
        rows = [",".join(["time_s", *means_c])]
        for t in range(seconds):
            values = [
                round((c + drift_k_s * t + rng.normal(0.0, 0.06)) / 0.0625) * 0.0625
                for c in means_c.values()
            ]
            rows.append(",".join([str(t), *(f"{value:.4f}" for value in values)]))
        path.write_text("\n".join(rows) + "\n")
        return path

    return write


def test_ice_is_kept_listed_and_taken_back(rigmon: Rigmon, recorded: Baths) -> None:
    """Both probes at once, with a budget; undone it stays in the list and counts no more."""
    path = recorded(bath_c=0.4, mix_c=-0.25)
    made = rigmon("calibrate", "ice", "--from", path, *WITH)
    assert made.code == 0
    assert "bath reads 0.40 °C where it is 0.00 °C: corrected by −0.40 K" in made.out
    assert "corrected by +0.25 K" in made.out
    assert "ice point 0.060" in made.out
    listed = rigmon("calibrate", "list", *WITH)
    assert "kitchen mix: corrected by +0.2" in listed.out
    assert listed.out.count("counts") == 2
    back = rigmon("calibrate", "undo", "--log", "runs.sqlite")
    assert back.code == 0
    assert "bath (ice point) and mix (ice point)" in back.out
    assert "no calibration counts" in rigmon("calibrate", "list", *WITH).out
    assert rigmon("calibrate", "undo", *WITH).code == 2


def test_a_bath_that_moves_is_no_ice_point(rigmon: Rigmon, recorded: Baths) -> None:
    """What to do is said, and nothing is kept."""
    told = rigmon(
        "calibrate", "ice", "--from", recorded(bath_c=-0.5, drift_k_s=0.008), "bath", *WITH
    )
    assert told.code == 1
    assert "A true ice point stands still: pack more fine ice" in told.out
    assert "Nothing is kept." in told.out
    assert rigmon("calibrate", "list", *WITH).code != 0


def test_a_probe_on_the_table_is_left_out(rigmon: Rigmon, recorded: Baths) -> None:
    """The one in the ice is kept; the exit code says that something is missing."""
    told = rigmon("calibrate", "ice", "--from", recorded(bath_c=0.4, mix_c=21.0), *WITH)
    assert told.code == 1
    assert re.search(r"! mix 2\d\.\d\d °C, 21\.0 K from 0\.0 °C", told.out)
    assert "bath reads 0.4" in told.out


def test_a_straight_line_chip_is_recognised_and_not_papered_over(
    rigmon: Rigmon, recorded: Baths
) -> None:
    """Type T reads 6 °C in ice there: no offset mends that."""
    told = rigmon("calibrate", "ice", "--from", recorded(bath_c=6.0), "bath", *WITH)
    assert told.code == 1
    assert 'set converter = "straight-line"' in told.out


def test_two_points_give_a_factor(rigmon: Rigmon, recorded: Baths) -> None:
    """Ice and boiling water at a known pressure: 99.97 °C and a quarter for superheat."""
    rigmon("calibrate", "ice", "--from", recorded(bath_c=0.4), "bath", *WITH)
    path = recorded(bath_c=99.0)
    told = rigmon("calibrate", "boil", "bath", "--pressure", "1013.25", "--from", path, *WITH)
    assert told.code == 0
    assert "where it is 100.22 °C" in told.out
    assert "and the factor 1.0" in told.out
    assert "superheat 0.144" in told.out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "boil needs the pressure or the altitude"),
        (("--pressure", "1000", "--altitude", "0"), "boil needs the pressure or the altitude"),
        (("--pressure", "760"), None),
        (("--pressure", "29.9"), "allowed are 500 to 1100 hPa"),
        (("--altitude", "9000"), "allowed are -450 to 5500 m"),
    ],
)
def test_boiling_needs_one_sensible_figure(
    rigmon: Rigmon, recorded: Baths, words: tuple[str, ...], sentence: str | None
) -> None:
    """Inches of mercury are refused; 760 hPa is a kitchen at 2400 m."""
    told = rigmon("calibrate", "boil", *words, "--from", recorded(bath_c=91.9), "bath", *WITH)
    if sentence is None:
        assert "where it is 92." in told.out
    else:
        assert told.code == 2
        assert sentence in told.err


def test_one_probe_is_set_right_by_another(rigmon: Rigmon, recorded: Baths) -> None:
    """The trusted one is taken as it is corrected, and lends its uncertainty."""
    rigmon("calibrate", "ice", "--from", recorded(bath_c=0.4), "bath", *WITH)
    path = recorded(bath_c=-13.6, mix_c=-14.5)
    told = rigmon("calibrate", "compare", "bath", "mix", "--from", path, *WITH)
    assert told.code == 0
    assert re.search(r"bath has the bath at −1(4\.0|3\.9)\d °C", told.out)
    assert re.search(r"mix reads −14\.[45]\d °C .* corrected by \+0\.(4|5)\d K", told.out)
    assert "between the tips 0.050" in told.out


def test_a_hand_held_thermometer_is_held_to_ice_and_then_believed(
    rigmon: Rigmon, recorded: Baths
) -> None:
    """Its own correction is used when a probe is compared with it."""
    made = rigmon("calibrate", "ice", "--typed", "hand=0.3,0.4,0.3", *WITH)
    assert made.code == 0
    assert "add −0.33 K to what you read off it" in made.out
    path = recorded(mix_c=-14.5)
    told = rigmon(
        "calibrate",
        "compare",
        "hand",
        "mix",
        "--typed",
        "hand=-14.2,-14.1,-14.2",
        "--from",
        path,
        *WITH,
    )
    assert told.code == 0
    assert "hand has the bath at −14.50 °C" in told.out
    assert "read by hand: add −0.33 K" in rigmon("calibrate", "list", *WITH).out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("ice",), "calibrate needs the rig's configuration"),
        (("ice", *WITH), "kitchen has no source"),
        (("ice", "left", *WITH), "no probe 'left'; there are: bath, mix"),
        (("ice", "--typed", "hand=0.3,0.4", *WITH), "at least three values"),
        (("ice", "--typed", "hand=warm,0,0", *WITH), "is not understood"),
        (("ice", "--typed", "mix=0,0,0", *WITH), "mix is a probe of the rig"),
        (("ice", "--typed", "hand=22,22,22", *WITH), "is it in the bath?"),
        (("compare", "mix", "mix", *WITH), "two different probes"),
        (("list",), "There is no run log"),
        (("undo", "--config", "no.toml"), "no.toml"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    rigmon: Rigmon, words: tuple[str, ...], sentence: str
) -> None:
    """Where, what was found, and what to do."""
    told = rigmon("calibrate", *words, "--log", "other.sqlite")
    assert told.code in (1, 2)
    assert sentence in told.err


def test_cautions_stand_before_baths_that_hurt(rigmon: Rigmon) -> None:
    """Boiling water scalds and needs no mains beside it; cold brine freezes skin."""
    boil = rigmon("calibrate", "boil", "--altitude", "0", *WITH)
    slush = rigmon("calibrate", "slush", *WITH)
    assert "steam and boiling water scald" in boil.err
    assert "mains" in boil.err
    assert "freeze skin in seconds" in slush.err


def test_a_dry_run_keeps_nothing(rigmon: Rigmon, recorded: Baths) -> None:
    """The result is said all the same."""
    told = rigmon("calibrate", "ice", "--dry-run", "--from", recorded(bath_c=0.4), "bath", *WITH)
    assert told.code == 0
    assert "corrected by −0.40 K" in told.out
    assert "Nothing is kept" in told.out
    assert "holds no calibration" in rigmon("calibrate", "list", *WITH).err


def test_probes_that_moved_alike_point_at_the_bath(rigmon: Rigmon, recorded: Baths) -> None:
    """Half a degree colder, both: salt in the ice rather than two bad probes."""
    rigmon("calibrate", "ice", "--from", recorded(bath_c=0.4, mix_c=-0.25), *WITH)
    told = rigmon("calibrate", "ice", "--from", recorded(bath_c=-0.1, mix_c=-0.75), *WITH)
    assert re.search(r"All probes read 0\.(49|50|51) K colder", told.out)
    assert "moved by" in rigmon("calibrate", "list", *WITH).out
