"""One run as a story: in order, in words that fit a terminal, with what to change."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.review.lessons import do_differently, held_back
from rigmon.review.measures import Bath, Limits, Measures, Point, Span
from rigmon.review.page import LABEL, WIDTH, lines
from rigmon.review.story import Story, as_object
from rigmon.review.told import Told

SAID = Told()


def test_moments_stand_in_order_of_time(recharged: Story, unwatched: Story) -> None:
    """Marks, alarms and what was seen are one timeline."""
    for told in (recharged, unwatched):
        at_s = [one.at_s for one in told.moments]
        assert at_s == sorted(at_s)
    texts = [one.text for one in recharged.moments]
    assert any(text.startswith("recharged: 1400 g ice, 350 g salt, 500 g brine") for text in texts)
    assert any(text.startswith("alarm plateau-reached") for text in texts)
    assert [one.text for one in unwatched.moments].count("wall scraped") == 2


def test_a_story_fits_a_terminal(recharged: Story, unwatched: Story) -> None:
    """No line is longer than 80 columns, and no label runs into its text."""
    for told in (recharged, unwatched):
        for label, text in lines(told):
            assert len(label) <= LABEL
            assert len(f"{label:{LABEL}}{text}") <= WIDTH


def test_what_held_it_back_adds_up(recharged: Story) -> None:
    """The shares of each part make a whole, as far as they are large enough to be named."""
    for one in recharged.measures.limits:
        assert one.bath_pct + one.wall_pct + one.beater_pct == pytest.approx(100.0, abs=0.1)
    assert len(list(held_back(recharged.measures))) == 3


def lessons(measured: Measures) -> str:
    """All of them in one text."""
    return " ".join(do_differently(measured, SAID))


def bare(**figures: object) -> Measures:
    """A run of which only so much is known."""
    return replace(Measures("a-1", "a", True, 0.0, "m"), **figures)  # type: ignore[arg-type]


def test_a_warm_mix_is_told_to_be_chilled() -> None:
    """With what its warmth cost: 1 kg by 8 K is 27 kJ."""
    warm = bare(mix_g=1000.0, mix_c=12.0)
    assert "it brought 27 kJ more than at 4 °C" in lessons(warm)
    assert "Chill" not in lessons(bare(mix_g=1000.0, mix_c=4.0))


def test_beating_on_is_blamed_only_where_it_brought_nothing(recharged: Story) -> None:
    """After a recharge the mix went on freezing, so that beating on was right."""
    measured = replace(recharged.measures, plateau_after_s=900.0)
    assert "Stop at the alarm" not in lessons(measured)
    last = measured.course[-1]
    flat = tuple(
        replace(one, frozen_pct=20.0) if one.after_s > 700.0 else one for one in measured.course
    )
    assert last.frozen_pct is not None
    assert "it froze next to nothing" in lessons(replace(measured, course=flat))


@pytest.mark.parametrize(
    ("last", "advice"),
    [
        (Limits(1.0, 10.0, 60.0, 30.0), "Scrape the wall"),
        (Limits(1.0, 60.0, 20.0, 20.0), "Recharge earlier"),
    ],
)
def test_what_limited_it_decides_what_is_advised(last: Limits, advice: str) -> None:
    """The wall calls for a scrape, the bath for a recharge; the other is not named."""
    told = lessons(bare(limits=(last,)))
    assert advice in told
    others = {"Scrape the wall", "Recharge earlier"} - {advice}
    assert not any(other in told for other in others)


def test_a_bath_is_called_unready_by_how_it_falls() -> None:
    """One that falls by 2 K in the first minute and by 4 K in all was poured into too soon."""
    falling = tuple(Point(30.0 * n, bath_c=-12.0 - min(float(n), 4.0)) for n in range(20))
    slow = tuple(Point(30.0 * n, bath_c=-12.0 - min(0.2 * n, 4.0)) for n in range(20))
    bath = Bath(at_pour_c=-12.0)
    assert "Pour later: the bath was at −12.0 °C" in lessons(bare(bath=bath, course=falling))
    assert "Pour later" not in lessons(bare(bath=bath, course=slow))


def test_a_probe_is_blamed_only_if_surely_off() -> None:
    """Half a kelvin is within what probes are off; a kelvin and a half is not."""
    assert "Look at the mix probe" in lessons(bare(mix_offset_k=Span(1.0, 1.5, 2.0)))
    assert "Look at the mix probe" not in lessons(bare(mix_offset_k=Span(0.2, 0.5, 0.8)))


def test_a_story_is_plain_data_too(recharged: Story) -> None:
    """With the measures, the moments and what to change."""
    found = as_object(recharged)
    assert found["run"] == recharged.measures.run
    assert found["bath"]["ratio"] == 6.0
    assert len(found["moments"]) == len(recharged.moments)
    assert found["next_time"] == list(do_differently(recharged.measures, SAID))
