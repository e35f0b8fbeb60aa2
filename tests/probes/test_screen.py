"""What the screen takes and refuses, and what it says of a probe's quality."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.probes.screen import LIMITS_C, Screen
from rigmon.records import Fault, Place, Quality

Said = float | None | Fault


def feed(
    screen: Screen,
    said: Iterable[Said],
    start_s: float = 0.0,
    interval_s: float = 1.0,
    mixing: bool = False,
) -> list[Quality]:
    """Feed at a steady rate; the quality right after each."""
    qualities = []
    for i, what in enumerate(said):
        t = start_s + i * interval_s
        if isinstance(what, Fault):
            screen.feed(t, None, what, mixing=mixing)
        else:
            screen.feed(t, what, mixing=mixing)
        qualities.append(screen.quality(t))
    return qualities


def changes(qualities: list[Quality]) -> list[Quality]:
    """The qualities in their order, each once."""
    return qualities[:1] + [after for before, after in pairwise(qualities) if after != before]


def lively(n: int, around_c: float = -2.5, scatter_k: float = 0.05, seed: int = 1) -> list[float]:
    """Readings of an honest probe."""
    rng = np.random.default_rng(seed)
    return [float(c) for c in rng.normal(around_c, scatter_k, n)]


@pytest.mark.parametrize("place", list(LIMITS_C))
@pytest.mark.parametrize("side", [0, 1])
def test_what_cannot_be_in_a_place_is_never_accepted(place: Place, side: int) -> None:
    """Readings just outside a place's limits must be refused for ever and called implausible."""
    outside = LIMITS_C[place][side] + (0.01 if side else -0.01)
    screen = Screen(place)
    assert not any(screen.feed(float(i), outside).accepted for i in range(100))
    assert screen.quality(99.0) is Quality.IMPLAUSIBLE
    assert place in screen.reason(99.0)


@pytest.mark.parametrize("said", [nan, inf, -inf, None, 2000.0, 1372.0, 1300.25, *Fault])
@pytest.mark.parametrize("place", list(LIMITS_C))
def test_a_fault_is_never_accepted(said: Said, place: Place) -> None:
    """Fault codes, no number and numbers used as codes must be refused and called a fault."""
    screen = Screen(place)
    assert feed(screen, [said] * 20)[-1] is Quality.FAULT
    assert place in screen.reason(19.0)


@given(st.lists(st.floats(allow_nan=True) | st.none() | st.sampled_from(list(Fault))))
@settings(deadline=None)
def test_whatever_comes_only_possible_temperatures_are_accepted(said: list[Said]) -> None:
    """Any odd sequence must end nothing, and what is accepted must be possible in its place."""
    screen = Screen(Place.BATH)
    for i, what in enumerate(said):
        fault, c = (what, None) if isinstance(what, Fault) else (None, what)
        judged = screen.feed(float(i), c, fault)
        assert judged.accepted == (judged.c is not None) == (judged.why == "")
        if judged.c is not None:
            assert judged.c == c
            assert -60.0 <= judged.c <= 60.0
        assert (screen.reason(float(i)) == "") == (screen.quality(float(i)) is Quality.GOOD)


@given(st.floats(-400.0, 400.0))
def test_a_typed_value_always_passes(typed_c: float) -> None:
    """What a person types must be accepted as it is, at once and far off the course too."""
    screen = Screen(Place.MIX)
    feed(screen, lively(20))
    judged = screen.feed(20.0, typed_c, by="hand")
    assert judged.accepted
    assert judged.c == typed_c


def test_a_typed_value_says_nothing_of_the_probe() -> None:
    """Typing must neither wake a silent probe nor shift the course that its readings follow."""
    screen = Screen(Place.MIX)
    feed(screen, lively(20))
    for i in range(30):
        screen.feed(40.0 + i, 15.0, by="hand")
    assert screen.quality(70.0) is Quality.SILENT
    assert screen.feed(71.0, -2.5).accepted
    assert not screen.feed(72.0, 15.0).accepted


def test_a_place_read_by_a_person_only_is_good() -> None:
    """Where no probe ever spoke but a person types, there is nothing to complain about."""
    screen = Screen(Place.BATH)
    assert screen.quality(0.0) is Quality.SILENT
    screen.feed(5.0, -14.5, by="hand")
    assert screen.quality(600.0) is Quality.GOOD
    assert screen.reason(600.0) == ""


def test_one_missing_or_odd_reading_changes_no_quality() -> None:
    """Two bad readings of five must leave the probe good; the third must not."""
    screen = Screen(Place.MIX)
    said: list[Said] = [*lively(10), None, Fault.OPEN, *lively(5), None, -2.5, 999.0]
    assert set(feed(screen, said)[1:]) == {Quality.GOOD}
    assert feed(screen, [None], start_s=100.0) == [Quality.FAULT]


def test_a_loose_plug_does_not_make_the_quality_flicker() -> None:
    """A circuit that opens every other second must be one fault, over once five are good."""
    screen = Screen(Place.MIX)
    loose: list[Said] = [
        c for pair in zip(lively(60), [Fault.OPEN] * 60, strict=True) for c in pair
    ]
    qualities = feed(screen, [*lively(10), *loose, *lively(30)])
    assert changes(qualities) == [Quality.GOOD, Quality.FAULT, Quality.GOOD]
    assert qualities[-30:].index(Quality.GOOD) == 4


def test_a_fault_names_what_to_look_at() -> None:
    """The sentence must name the probe, its fault and a thing to look at."""
    screen = Screen(Place.BATH, "bath_2")
    feed(screen, [Fault.SHORT_GND] * 5)
    assert screen.reason(4.0) == (
        "The bath probe 'bath_2' is shorted to ground: look for bare wire, and for brine in its"
        " plug."
    )


def test_the_conversions_own_sentence_is_passed_on() -> None:
    """Where the conversion said why there is no temperature, that must be the reason."""
    screen = Screen(Place.MIX)
    for i in range(5):
        screen.feed(float(i), None, problem="The board sends no cold-junction temperature.")
    assert screen.reason(4.0) == "The board sends no cold-junction temperature."


@pytest.mark.parametrize(
    ("interval_s", "good_after_s", "silent_after_s"),
    [(0.1, 4.9, 5.1), (1.0, 4.9, 5.1), (10.0, 49.0, 51.0), (60.0, 299.0, 301.0)],
)
def test_silence_is_judged_by_the_usual_interval(
    interval_s: float, good_after_s: float, silent_after_s: float
) -> None:
    """A probe must be silent after 5 s or 5 of its usual intervals, whichever is longer."""
    screen = Screen(Place.CORE)
    feed(screen, lively(20), interval_s=interval_s)
    last_s = 19 * interval_s
    assert screen.quality(last_s + good_after_s) is Quality.GOOD
    assert screen.quality(last_s + silent_after_s) is Quality.SILENT
    assert "core" in screen.reason(last_s + silent_after_s)


def test_a_drop_out_does_not_hide_the_next_silence() -> None:
    """After one gap of 30 s a probe must still be silent 5 s after its last reading."""
    screen = Screen(Place.MIX)
    feed(screen, lively(20))
    feed(screen, lively(4), start_s=49.0)
    assert screen.quality(57.1) is Quality.SILENT


def test_a_board_that_slows_down_is_soon_believed() -> None:
    """From 1 reading a second to 1 a minute a probe must be silent no more from the third on."""
    screen = Screen(Place.CORE)
    feed(screen, lively(60))
    feed(screen, lively(3), start_s=119.0, interval_s=60.0)
    assert screen.quality(298.0) is Quality.GOOD


def test_a_frozen_reading_is_stuck_while_the_mixer_runs() -> None:
    """A reading that stands still for 90 s in a mixer's scatter must be stuck, until it moves."""
    screen = Screen(Place.MIX)
    quarter = [round(4.0 * c) / 4.0 for c in lively(120, scatter_k=0.3)]
    before = feed(screen, quarter, mixing=True)
    frozen = feed(screen, [-2.25] * 150, start_s=120.0, mixing=True)
    assert set(before[1:]) == {Quality.GOOD}
    assert changes(frozen) == [Quality.GOOD, Quality.STUCK]
    assert 89 <= frozen.index(Quality.STUCK) <= 100
    assert "mix" in screen.reason(269.0)
    assert "−2.25 °C" in screen.reason(269.0)
    assert feed(screen, [-2.5], start_s=270.0, mixing=True) == [Quality.GOOD]


def test_a_coarse_probe_may_stand_still_for_an_hour_of_rest() -> None:
    """In steps of 0.25 K a mix at rest moves less than one step in an hour: that is honest."""
    screen = Screen(Place.MIX)
    quarter = [round(4.0 * c) / 4.0 for c in lively(600, scatter_k=0.3)]
    feed(screen, quarter, mixing=True)
    assert set(feed(screen, [-3.0] * 3600, start_s=600.0)) == {Quality.GOOD}


def test_a_mixer_that_starts_after_a_still_hour_does_not_make_the_probe_stuck() -> None:
    """Time that a reading stood still before the mixer ran must not count against it."""
    screen = Screen(Place.MIX)
    quarter = [round(4.0 * c) / 4.0 for c in lively(600, scatter_k=0.3)]
    feed(screen, quarter, mixing=True)
    feed(screen, [-3.0] * 3600, start_s=600.0)
    assert set(feed(screen, [-3.0] * 60, start_s=4200.0, mixing=True)) == {Quality.GOOD}


def test_a_quarter_kelvin_plateau_under_a_quiet_mixer_is_honest() -> None:
    """Where the scatter is far below the step, minutes on one value must be believed."""
    course = [round(4.0 * (-2.5 - 0.0005 * i)) / 4.0 for i in range(3600)]
    assert set(feed(Screen(Place.MIX), course, mixing=True)[1:]) == {Quality.GOOD}


def test_a_core_that_hardens_slowly_is_not_stuck() -> None:
    """Once a minute in steps of 0.0625 K a core may stay on one value for 3 h: common practice."""
    screen = Screen(Place.CORE)
    falling = [round(16.0 * (4.0 - 0.1 * i)) / 16.0 for i in range(80)]
    qualities = feed(screen, [*falling, *[falling[-1]] * 180], interval_s=60.0)
    assert set(qualities[1:]) == {Quality.GOOD}


def test_a_fine_reading_that_stands_still_is_stuck_anywhere() -> None:
    """A probe seen to resolve hundredths must be stuck after minutes on one value."""
    screen = Screen(Place.FREEZER)
    qualities = feed(screen, [*lively(60, -18.0), *[-18.03] * 900])
    assert changes(qualities[1:]) == [Quality.GOOD, Quality.STUCK]


def test_a_reading_that_never_moved_is_stuck_in_the_end() -> None:
    """One value for a day must be stuck even where no step was ever seen."""
    assert feed(Screen(Place.ROOM), [21.0] * 1440, interval_s=60.0)[-1] is Quality.STUCK


def test_heavy_scatter_makes_noisy_once_and_calm_ends_it() -> None:
    """Scatter of 1.5 K must make the probe noisy, and minutes of calm good again, each once."""
    screen = Screen(Place.MIX)
    calm, wild = lively(120), lively(240, scatter_k=1.5, seed=5)
    qualities = feed(screen, [*calm, *wild, *calm, *calm, *calm])
    assert changes(qualities[1:]) == [Quality.GOOD, Quality.NOISY, Quality.GOOD]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("scatter_k", [0.5, 0.6, 0.65, 0.7, 0.8, 0.9, 1.0])
def test_scatter_near_the_bounds_does_not_flicker(scatter_k: float, seed: int) -> None:
    """At any steady scatter the quality must change at most once in half an hour."""
    screen = Screen(Place.MIX)
    qualities = feed(screen, lively(1800, scatter_k=scatter_k, seed=seed))[1:]
    assert len(changes(qualities)) <= 2


def test_many_spikes_make_noisy() -> None:
    """A third of the readings lost to spikes must make the probe noisy and say the share."""
    screen = Screen(Place.MIX)
    spikes = np.random.default_rng(3).uniform(5.0, 20.0, 300).tolist()
    said = [c + (spikes[i] if i % 3 == 0 else 0.0) for i, c in enumerate(lively(300))]
    assert feed(screen, said)[-1] is Quality.NOISY
    assert "33 %" in screen.reason(299.0)


@pytest.mark.parametrize("share", [0.1, 0.15, 0.2, 0.3])
def test_a_steady_share_of_spikes_does_not_flicker(share: float) -> None:
    """At any steady share of spikes the quality must change at most once in half an hour."""
    rng = np.random.default_rng(11)
    said = [c + (15.0 if rng.random() < share else 0.0) for c in lively(1800)]
    assert len(changes(feed(Screen(Place.MIX), said)[1:])) <= 2


def test_a_step_leaves_the_probe_good() -> None:
    """A recharge and a scrape must not change the quality."""
    screen = Screen(Place.BATH)
    course = [*lively(120, -12.0), *lively(120, -17.0), *lively(120, -18.5)]
    assert set(feed(screen, course)[1:]) == {Quality.GOOD}


def test_time_that_goes_back_starts_a_new_course() -> None:
    """After a clock was set back readings must be accepted again after the second."""
    screen = Screen(Place.MIX)
    feed(screen, lively(20), start_s=5000.0)
    assert [screen.feed(float(i), 12.0).accepted for i in range(3)] == [False, True, True]


def test_asking_changes_nothing() -> None:
    """Quality and reason must be the same however often and for whatever time they are asked."""
    asked, quiet = Screen(Place.MIX), Screen(Place.MIX)
    readings = lively(50, scatter_k=0.4)
    for i, c in enumerate(readings):
        for t in (0.0, 10.0 * i, 1e6):
            asked.quality(t)
            asked.reason(t)
        assert asked.feed(float(i), c) == quiet.feed(float(i), c)
        assert asked.quality(float(i)) == quiet.quality(float(i))


def test_the_mixers_power_is_not_screened_as_a_temperature() -> None:
    """A screen for the mixer must be refused: its readings are watts."""
    with pytest.raises(ValueError, match="mixer"):
        Screen(Place.MIXER)
