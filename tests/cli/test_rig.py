"""`rigmon rig`: what has been learned is told in words, and what was changed is kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import remember
from rigmon.records import RigSetup, RunFit, VirtualLink
from rigmon.service.memory import teach
from rigmon.service.prepare import Rig, header_of
from rigmon.store import RunLog
from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

T0 = 1_783_173_600.0
CUSTARD = data_folder() / "recipes" / "barley-custard.toml"

Seen = Callable[..., None]


def said(more: float) -> RunFit:
    """A run that says how the wall conducts, as a logarithm above the usual."""
    covariance = [list(row) for row in PRIOR.covariance]
    covariance[0][0] = 0.01
    return RunFit(
        PRIOR.names,
        PRIOR.transforms,
        (PRIOR.mean[0] + more, *PRIOR.mean[1:]),
        tuple(map(tuple, covariance)),
        PRIOR.model_version,
        PRIOR,
    )


@pytest.fixture
def seen(tmp_path: Path) -> Seen:
    """Puts a run of a rig into a.sqlite, with what it says of the wall, if anything."""

    def put(rig_id: str, more: float | None, *, virtual: bool = False, started: float = T0) -> None:
        rig = Rig(RigSetup(id=rig_id), link=VirtualLink() if virtual else None)
        header = header_of(rig, started)
        with RunLog(tmp_path / "a.sqlite") as log:
            log.begin(header)
            log.end(header.id, 1.0)
            teach(log, rig, header.id, None if more is None else said(more))

    return put


def test_what_was_learned_is_said_with_which_way_and_how_sure(rigmon: Rigmon, seen: Seen) -> None:
    """More or less than an unknown rig, by how much; of the rest that no run has said."""
    for day, more in enumerate((-0.25, -0.2, -0.15, None)):
        seen("kitchen", more, started=T0 + 86_400.0 * day)
    (wall, *_) = remember([said(more) for more in (-0.25, -0.2, -0.15)], PRIOR).parameters
    told = rigmon("rig", "show", "--log", "a.sqlite")
    lines = told.out.splitlines()
    assert (told.code, told.err) == (0, "")
    assert lines[0] == "kitchen: learned from 3 runs of 4"
    assert lines[1] == (
        f"  The wall conducts {-wall.more_pct:.0f} % less than usual, ±{wall.give_pct:.0f} %."
    )
    assert lines[2].startswith(f"    unknown rig {wall.usual[1]:.2f} (")
    assert f"W/K, this one {wall.own[1]:.2f} (" in lines[2]
    assert sum("No run has said." in line for line in lines) == 4


def test_a_rig_of_which_nothing_is_known_is_told_as_such(rigmon: Rigmon, seen: Seen) -> None:
    """With how many runs were seen, and what none of them had."""
    seen("kitchen", None)
    assert rigmon("rig", "show", "kitchen", "--log", "a.sqlite").out == (
        "kitchen: nothing yet: 1 run seen, none with a first round of a weighed mix whose recipe "
        "is known\n"
    )


def test_real_and_virtual_rigs_are_shown_apart(rigmon: Rigmon, seen: Seen) -> None:
    """The real one first; a rig that is named is shown alone."""
    seen("kitchen", 0.2)
    seen("kitchen", -0.4, virtual=True, started=T0 + 60.0)
    seen("attic", 0.1)
    heads = [
        line
        for line in rigmon("rig", "show", "--log", "a.sqlite").out.splitlines()
        if not line.startswith(" ")
    ]
    assert heads == [
        "attic: learned from 1 run of 1",
        "kitchen: learned from 1 run of 1",
        "kitchen, virtual rig: learned from 1 run of 1",
    ]
    assert "kitchen" not in rigmon("rig", "show", "attic", "--log", "a.sqlite").out


def test_a_changed_bowl_loosens_what_was_learned(rigmon: Rigmon, seen: Seen) -> None:
    """It is noted with its day, and the wall is no longer known as it was."""
    for day in range(4):
        seen("kitchen", -0.5, started=T0 + 86_400.0 * day)
    before = rigmon("rig", "show", "--log", "a.sqlite").out
    told = rigmon("rig", "changed", "bowl", "--log", "a.sqlite")
    assert told.out == (
        "kitchen: another bowl. What was learned of the wall counts for less from now on.\n"
    )
    after = rigmon("rig", "show", "--log", "a.sqlite").out
    assert "less than usual" in before
    assert "less than usual" not in after
    assert after.endswith(": the bowl was changed\n")


def test_a_changed_probe_is_noted_and_loosens_nothing(rigmon: Rigmon, seen: Seen) -> None:
    """Nothing is learned of it from run to run; what it was calibrated to counts no more."""
    seen("kitchen", -0.5)
    before = rigmon("rig", "show", "--log", "a.sqlite").out
    told = rigmon("rig", "changed", "probe", "--log", "a.sqlite")
    assert "Calibrations from before no longer count" in told.out
    assert rigmon("rig", "show", "--log", "a.sqlite").out.startswith(before)


def test_which_rig_was_changed_must_be_clear(rigmon: Rigmon, seen: Seen) -> None:
    """Of several one is named; the real one is meant where a virtual one has its name."""
    seen("kitchen", -0.5)
    seen("kitchen", -0.5, virtual=True, started=T0 + 60.0)
    seen("attic", -0.5)
    told = rigmon("rig", "changed", "mixer", "--log", "a.sqlite")
    assert told.code == 2
    assert "several rigs (attic, kitchen): say which" in told.err
    assert rigmon("rig", "changed", "mixer", "kitchen", "--log", "a.sqlite").code == 0
    shown = rigmon("rig", "show", "kitchen", "--log", "a.sqlite").out
    real, virtual = shown.split("kitchen, virtual rig")
    assert "the mixer was changed" in real
    assert "changed" not in virtual


@pytest.mark.parametrize("words", [("show",), ("changed", "bowl")])
def test_a_rig_that_the_log_does_not_hold_is_named_with_those_it_does(
    rigmon: Rigmon, seen: Seen, words: tuple[str, ...]
) -> None:
    """A slip in the name teaches and changes nothing."""
    seen("kitchen", -0.5)
    told = rigmon("rig", *words, "kichen", "--log", "a.sqlite")
    assert told.code == 2
    assert "no run of a rig 'kichen'; there are: kitchen" in told.err


def test_without_a_log_there_is_nothing_to_show(rigmon: Rigmon) -> None:
    """Looking makes no log."""
    told = rigmon("rig", "show", "--log", "none.sqlite")
    assert told.code != 0
    assert "There is no run log" in told.err
    assert not Path("none.sqlite").exists()


def test_a_plan_is_narrowed_by_what_the_log_has_learned(rigmon: Rigmon, seen: Seen) -> None:
    """Of the rig that is planned for, and of no other; without a log, for an unknown rig."""
    for day in range(5):
        seen("kitchen", -0.6, started=T0 + 86_400.0 * day)
    for name in ("kitchen", "attic"):
        Path(f"{name}.toml").write_text(f'[rigs.{name}]\nsource = "serial"\nport = "/dev/x"\n')
    plain = rigmon("plan", CUSTARD, "--rig", "kitchen.toml")
    known = rigmon("plan", CUSTARD, "--rig", "kitchen.toml", "--log", "a.sqlite")
    other = rigmon("plan", CUSTARD, "--rig", "attic.toml", "--log", "a.sqlite")
    assert (plain.code, known.code, other.code) == (0, 0, 0)
    assert known.err == "Planned with what the log has learned of kitchen.\n"
    assert (plain.err, other.err) == ("", "")
    assert plain.out == other.out != known.out


def test_a_log_that_cannot_be_read_does_not_keep_from_planning(rigmon: Rigmon) -> None:
    """It is said, and the rig is an unknown one."""
    Path("bad.sqlite").write_text("no log at all" * 100)
    Path("rig.toml").write_text('[rigs.kitchen]\nsource = "serial"\nport = "/dev/x"\n')
    told = rigmon("plan", CUSTARD, "--rig", "rig.toml", "--log", "bad.sqlite")
    assert told.code == 0
    assert told.err.startswith("Planned as for an unknown rig: ")
