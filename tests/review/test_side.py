"""Several runs side by side: brought to one footing, what differed told, within 80 columns."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import remember
from rigmon.records import Composition, SaltKind
from rigmon.review.adjust import Adjusted, adjusted, common_of, reached_after_s
from rigmon.review.measures import Measures, Point
from rigmon.review.side import WIDTH, as_object, beside, differed, lines
from rigmon.review.told import Told
from rigmon.store import RunLog
from tests.review.logs import custard

SAID = Told()


def run(name: str, **changes: object) -> Measures:
    """A run that froze to 30 % in a straight line of twenty minutes from the second one on."""
    course = tuple(
        Point(60.0 * minute, max(minute - 2.0, 0.0) * 30.0 / 18.0) for minute in range(21)
    )
    made = Measures(name, "slip", True, 0.0, "m", recipe="custard", course=course)
    bath = replace(made.bath, ice_g=2800.0, salt_g=700.0, ratio=4.0, wait_s=240.0)
    made = replace(made, mix_g=1000.0, mix_c=4.0, room_c=22.0, poured_s=240.0, bath=bath)
    within = {key: value for key, value in changes.items() if hasattr(bath, key)}
    whole = {key: value for key, value in changes.items() if key not in within}
    return replace(made, bath=replace(bath, **within), **whole)  # type: ignore[arg-type]


def brought(*runs: Measures) -> list[Adjusted]:
    """Runs on one footing, all of the same mix and an unknown rig."""
    common = common_of(runs)
    assert common is not None
    composition = custard().composition
    assert composition is not None
    mixes: dict[str, Composition] = {one.run: composition for one in runs}
    return adjusted(runs, common, mixes, {("slip", True): remember([], PRIOR)})


def test_the_time_to_a_share_lies_on_the_line() -> None:
    """Half of 30 % at half of the way from the second minute to the twentieth."""
    assert reached_after_s(run("a"), 15.0) == pytest.approx(60.0 * 11.0)
    assert reached_after_s(run("a"), 31.0) is None


def test_runs_alike_stay_as_they_were() -> None:
    """Where nothing differs there is nothing to adjust."""
    for one in brought(run("a"), run("b"), run("c")):
        assert one.common_s is not None
        assert one.took_s is not None
        assert one.common_s.p50 == pytest.approx(one.took_s, rel=1e-6)
        assert one.common_s.p10 < one.took_s < one.common_s.p90


def test_a_warm_mix_is_given_its_time_back() -> None:
    """Of three runs that took as long, the one whose mix was warmer was really the quickest."""
    warm, *others = brought(run("a", mix_c=12.0), run("b"), run("c"))
    assert warm.common_s is not None
    for other in others:
        assert other.common_s is not None
        assert warm.common_s.p50 < 0.97 * other.common_s.p50


def test_the_ratio_is_not_adjusted_away() -> None:
    """It is what one wants to see: a weaker bath that took as long stays as it was."""
    weak, usual, _ = brought(run("a", salt_g=400.0, ratio=7.0), run("b"), run("c"))
    assert weak.common_s is not None
    assert usual.common_s is not None
    assert weak.common_s.p50 == pytest.approx(usual.common_s.p50, rel=0.02)


def test_what_cannot_be_adjusted_says_why() -> None:
    """A bath that was recharged on the way, and masses that nobody weighed."""
    mixed = brought(run("a", recharges=(400.0,)), run("b", mix_g=None), run("c"), run("d"))
    assert [one.why for one in mixed] == [
        "recharged before",
        "mix, ice or salt not weighed",
        "",
        "",
    ]


def test_what_differed_is_named_and_what_did_not_is_not() -> None:
    """Ratio and grain, not the mix that was the same."""
    told = "; ".join(differed([run("a"), run("b", ratio=5.0, salt_kind=SaltKind.ROCK)], SAID))
    assert told == "ratio 4.0 to 5.0; salt fine, rock"


@pytest.mark.parametrize("number", [2, 4, 5, 12, 60])
def test_a_table_fits_a_terminal(log: RunLog, number: int) -> None:
    """In columns for a few runs, in rows for many, never wider than 80 columns."""
    found = [
        replace(run("slip-20260704T140000Z"), started_unix=86_400.0 * n) for n in range(number)
    ]
    told = list(lines(beside(log, found), SAID))
    assert max(map(len, told)) <= WIDTH
    assert ("rows" if number > 4 else "columns") == (
        "rows" if told[0].startswith("run") else "columns"
    )


def test_two_logged_runs_stand_side_by_side(log: RunLog, both: tuple[Measures, Measures]) -> None:
    """With the adjustment stated, the one that cannot be adjusted named, and as plain data."""
    side = beside(log, both)
    told = " ".join(" ".join(lines(side, SAID)).split())
    assert "by the model of the rig as the log has learned it" in told
    assert "ratio 3.3 to 6.0" in told
    assert f"{both[0].run} is not brought to it: recharged before." in told
    data = as_object(side)
    assert [one["run"] for one in data["runs"]] == [one.run for one in both]
    assert data["runs"][0]["adjusted"]["why"] == "recharged before"
