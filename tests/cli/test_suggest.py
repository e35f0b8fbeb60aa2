"""`rigmon suggest` and `rigmon compare` over a log."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rigmon.records import DetailValue, RigSetup, VirtualLink
from rigmon.review import suggesting
from rigmon.service.prepare import Rig, header_of
from rigmon.store.log import RunLog
from rigmon.virtual.kitchens import SLIP, SLIP_CHANNELS
from rigmon.virtual.maker import Plan
from rigmon.virtual.scenario import Scenario, recipe_of
from rigmon.virtual.session import VirtualSession

AMOUNTS = ((3000.0, 500.0), (3000.0, 750.0), (2800.0, 560.0))


@pytest.fixture(scope="module")
def log_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log with three short batches of one virtual rig, and one of another."""
    path = tmp_path_factory.mktemp("suggest") / "log.sqlite"
    with RunLog(path) as log:
        for number, (ice_g, salt_g) in enumerate((*AMOUNTS, AMOUNTS[0])):
            bath: dict[str, DetailValue] = {
                "ice_g": ice_g,
                "salt_g": salt_g,
                "ice_kind": "crushed",
                "salt_kind": "fine",
            }
            pour: dict[str, DetailValue] = {"mix_g": 1000.0 + 50.0 * number, "mix_c": 5.0}
            plan = Plan(bath, pour, beat_for_s=960.0)
            played = Scenario("test", "slip", "barley-custard", plan, SLIP, SLIP_CHANNELS)
            setup = RigSetup(id="kitchen" if number < len(AMOUNTS) else "other")
            rig = Rig(setup=setup, recipe=recipe_of(played), link=VirtualLink())
            header = replace(header_of(rig, 1.7e9 + 86400.0 * number), version="0")
            session = VirtualSession(played, 700 + number)
            log.begin(header)
            for item in session.items(1500.0):
                log.add(header.id, item, item.t)
            log.end(header.id, 1200.0)
    return path


@pytest.fixture(autouse=True)
def fewer_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is told does not hang on how many rigs are drawn."""
    monkeypatch.setattr(suggesting, "RIGS", 16)


def test_a_suggestion_is_told_with_its_odds(rigmon: Callable[..., Any], log_path: Path) -> None:
    """It names the best so far, what is next or why not, other levers, and every run."""
    told = rigmon("suggest", "kitchen", "--target-frozen", "12", "--log", log_path)

    assert told.code == 0
    assert told.out.startswith("kitchen, virtual rig\n")
    for label in ("Goal", "Batch", "Best yet", "Next", "Ratio", "Levers", "Grounds"):
        assert f"\n{label} " in told.out
    assert "in 10" in told.out
    assert told.out.count("kitchen-2023") == len(AMOUNTS)
    assert max(map(len, told.out.splitlines())) <= 80


def test_a_suggestion_as_json_is_one_object(rigmon: Callable[..., Any], log_path: Path) -> None:
    """The amounts, their price's parts and the odds are there as figures."""
    goal = ("--goal", "least-salt", "--within", "30", "--target-frozen", "12")
    told = rigmon("suggest", "kitchen", *goal, "--json", "--log", log_path)
    found = json.loads(told.out)

    assert found["goal"] == "least-salt"
    assert found["within_s"] == 1800.0
    assert found["verdict"] in ("try", "stay", "unclear")
    assert 0.0 <= found["beats"] <= 1.0
    assert len(found["runs"]) == len(AMOUNTS)


def test_two_runs_are_compared_with_the_adjustment(
    rigmon: Callable[..., Any], log_path: Path
) -> None:
    """The lines of the adjustment stand before what is judged."""
    told = rigmon("compare", "kitchen-20231114", "kitchen-20231115", "--log", log_path)

    assert told.code == 0
    assert "mix 1050 g → 1000 g" in told.out
    assert "salt put in" in told.out
    assert "that B was really better" in told.out
    assert told.out.index("Adjusted") < told.out.index("Measured")


def test_runs_of_different_rigs_are_not_compared(
    rigmon: Callable[..., Any], log_path: Path
) -> None:
    """One sentence says why, and nothing is counted."""
    told = rigmon("compare", "other", "kitchen-20231115", "--log", log_path)

    assert told.code == 2
    assert "different rigs" in told.err
    assert told.out == ""


def test_the_rig_must_be_clear(rigmon: Callable[..., Any], log_path: Path) -> None:
    """Of several rigs one is named, and one that is not there is refused with those that are."""
    several, none = (rigmon("suggest", *words, "--log", log_path) for words in ((), ("cellar",)))

    assert (several.code, none.code) == (2, 2)
    assert "several rigs (kitchen, other)" in several.err
    assert "there are: kitchen, other" in none.err


def test_one_run_gets_no_suggestion(rigmon: Callable[..., Any], log_path: Path) -> None:
    """What one run cannot tell is not told; the runs that would are."""
    told = rigmon("suggest", "other", "--target-frozen", "10", "--log", log_path)

    assert told.code == 0
    assert "not enough evidence" in told.out
    assert "ould tell" in told.out


def test_a_time_limit_where_nothing_is_spared_is_refused(
    rigmon: Callable[..., Any], log_path: Path
) -> None:
    """It would change nothing, so it is not taken in silence; nor is what is no number."""
    unused = rigmon("suggest", "kitchen", "--within", "20", "--log", log_path)
    nonsense = rigmon("suggest", "kitchen", "--target-frozen", "nan", "--log", log_path)

    assert (unused.code, nonsense.code) == (2, 2)
    assert "leave it out" in unused.err
    assert "not a number" in nonsense.err


def test_runs_with_another_bowl_are_left_out(
    rigmon: Callable[..., Any], log_path: Path, tmp_path: Path
) -> None:
    """After a bowl was changed, the runs before it are named as left out, and not heard."""
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(log_path.read_bytes())
    assert rigmon("rig", "changed", "bowl", "kitchen", "--log", copy).code == 0

    told = rigmon("suggest", "kitchen", "--log", copy)

    assert told.code == 2
    assert "made with another bowl or mixer" in told.err
