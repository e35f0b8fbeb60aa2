"""Scripted runs of the virtual rig: what must sound does, in time, and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

with pytest.MonkeyPatch.context() as patch:
    # A bench imports from its own folder.
    patch.syspath_prepend(Path(__file__).resolve().parents[1] / "bench")
    from scriptedcases import CASES
    from scripting import CAUGHT, judged

if TYPE_CHECKING:
    from scripting import Case

MOST_IN_ROUND_1 = 2
"""A normal run makes no more sounds before its first round is over."""


def _known(case: Case) -> tuple[pytest.MarkDecorator, ...]:
    return (pytest.mark.xfail(strict=True, reason=case.known),) if case.known else ()


@pytest.mark.parametrize(
    "case", [pytest.param(case, id=case.name, marks=_known(case)) for case in CASES]
)
def test_what_must_sound_does_and_nothing_else(case: Case) -> None:
    """Every alarm within its seconds of the truth, and no alarm that nothing speaks for."""
    assert [row for row in judged(case) if row.verdict != CAUGHT] == []


def test_no_normal_run_asks_for_more_than_two_sounds() -> None:
    """What the table demands of normal runs is itself within the rule."""
    normal = [case for case in CASES if case.name.startswith("normal")]

    assert normal
    assert all(len(case.must) <= MOST_IN_ROUND_1 for case in normal)


def test_the_table_names_each_run_once_and_holds_thirty() -> None:
    """Thirty runs at least, of which few may be known to fail."""
    names = [case.name for case in CASES]

    assert len(set(names)) == len(names) >= 30
    assert sum(bool(case.known) for case in CASES) <= 4
