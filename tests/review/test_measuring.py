"""Measures: got from the log alone, of what was weighed and read, with ranges and reasons."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rigmon.records import By, Mark, MarkWord, Reading, RigSetup, Stage
from rigmon.review.logged import read
from rigmon.review.measures import Measures, as_json, from_json
from rigmon.review.measuring import measure
from rigmon.review.story import Story
from rigmon.store import RunLog
from tests.review.logs import custard, put, recorded, slip


def test_what_was_weighed_is_what_the_marks_say(recharged: Story) -> None:
    """Ice, salt and mix are those of the marks, the ratio is by mass, the recharge is its own."""
    bath = recharged.measures.bath
    assert (bath.ice_g, bath.salt_g, bath.ratio, bath.ice_c) == (960.0, 160.0, 6.0, -1.0)
    assert (recharged.measures.mix_g, recharged.measures.mix_c) == (1150.0, 8.0)
    assert bath.wait_s == pytest.approx(180.0, abs=1.0)
    assert (bath.added_ice_g, bath.added_salt_g) == (1400.0, 350.0)
    assert len(bath.recharges) == 1
    assert bath.drained_g == 500.0


def test_temperatures_are_those_of_the_probes(log: RunLog, recharged: Story) -> None:
    """Bath at the pour and at its best lie within a kelvin of what the bath probe read then."""
    measured = recharged.measures
    read_c = {
        round(item.t): item.value
        for _, item in log.items(measured.run)
        if isinstance(item, Reading) and item.probe == "bath" and item.value is not None
    }
    assert measured.poured_s is not None
    assert measured.bath.at_pour_c == pytest.approx(read_c[round(measured.poured_s)], abs=1.0)
    # The single coldest readings are spikes.
    coldest = sorted(read_c.values())[len(read_c) // 50]
    assert measured.bath.best_c == pytest.approx(coldest, abs=1.0)


def test_times_are_those_of_marks_and_alarms(log: RunLog, recharged: Story) -> None:
    """The round lasts from the pour to the stop, and its plateau is when the alarm sounded."""
    measured = recharged.measures
    marks = {mark.word: mark.t for mark in log.marks(measured.run)}
    raised = next(
        line["at"]
        for line in map(json.loads, log.said(measured.run))
        if line["type"] == "alarm" and line["code"] == "plateau-reached"
    )
    assert measured.poured_s == marks[MarkWord.POUR]
    assert measured.first_round_s == pytest.approx(
        marks[MarkWord.BEAT_STOP] - marks[MarkWord.POUR], abs=1.5
    )
    assert measured.plateau_after_s == pytest.approx(raised - marks[MarkWord.POUR])
    assert [held.stage for held in measured.stages][:3] == [Stage.READY, Stage.BEAT, Stage.REST]


def test_ice_and_salt_close_their_budget(both: tuple[Measures, Measures]) -> None:
    """What was spent and what was left are what was put in, whatever the range."""
    for one in both:
        bath = one.bath
        assert bath.ice_spent_g is not None
        assert bath.ice_left_g is not None
        assert bath.salt_left_g is not None
        put_g = (bath.ice_g or 0.0) + (bath.added_ice_g or 0.0)
        assert bath.ice_spent_g.p50 + bath.ice_left_g.p50 == pytest.approx(put_g, abs=1.0)
        assert 0.0 <= bath.salt_left_g.p10 <= bath.salt_left_g.p90
        assert bath.salt_left_g.p90 <= (bath.salt_g or 0.0) + (bath.added_salt_g or 0.0)


def test_the_heat_is_what_cools_and_freezes_such_a_mix(both: tuple[Measures, Measures]) -> None:
    """A kilogram of mix gives up 3.4 kJ a kelvin and 334 kJ a kilogram of ice, beaters besides."""
    for one in both:
        share = next(held.frozen_pct for held in one.stages if held.stage is Stage.BEAT)
        assert one.heat_kj is not None
        assert share is not None
        assert one.mix_c is not None
        assert one.beater_w is not None
        assert one.first_round_s is not None
        mix_kg = (one.mix_g or 0.0) / 1000.0
        least = mix_kg * (3.4 * (one.mix_c + 2.0) + 334.0 * 0.6 * share.p10 / 100.0)
        assert least < one.heat_kj.p50
        assert one.heat_kj.p50 < least + 1.3 * one.beater_w.p90 * one.first_round_s / 1000.0 + 60.0


def test_forecasts_stand_beside_what_happened(recharged: Story) -> None:
    """Of the plateau the first one that said a time, and one given later, closer to the event."""
    first, later = (one for one in recharged.measures.forecasts if one.event == "plateau")
    assert first.first
    assert not later.first
    assert first.at_s < later.at_s < (first.happened_s or 0.0)
    assert first.happened_s == later.happened_s


def test_alarms_are_told_with_their_ends(recharged: Story) -> None:
    """The alarms of the log, each with when its cause was gone."""
    found = {one.code: one for one in recharged.measures.alarms}
    assert "plateau-reached" in found
    for one in found.values():
        assert one.over_s is None or one.over_s > one.at_s


def test_measures_come_back_from_json_as_they_were(both: tuple[Measures, Measures]) -> None:
    """Nothing is lost on the way through the log; text of another kind is refused."""
    for one in both:
        assert from_json(as_json(one)) == one
    with pytest.raises(ValueError, match="validation error"):
        from_json('{"run": 1}')


def test_a_run_is_measured_from_the_log_alone(log: RunLog, unwatched: Story) -> None:
    """Nobody watched, so no alarm says when it was stiff; all else is there, and the same again."""
    measured = unwatched.measures
    again = measure(log, measured.run)
    assert measured.plateau_after_s is None
    assert "before the mix stopped stiffening" in measured.unsaid["plateau_after_s"]
    assert measured.ua_w_k is not None
    assert (again.bath.ice_g, again.first_round_s) == (measured.bath.ice_g, measured.first_round_s)
    assert again.ua_w_k is not None
    assert again.ua_w_k.p50 == pytest.approx(measured.ua_w_k.p50, rel=0.05)
    assert len(measured.scrapes) == 2


def test_what_nobody_weighed_is_said_to_be_missing(tmp_path: Path) -> None:
    """Without recipe, masses or marks there are temperatures, and a reason for each gap."""
    setup = RigSetup(id="bare")
    items = [
        item
        for item in recorded("slip-custard-4to1", slip("barley-custard").setup)
        if isinstance(item, Reading)
    ]
    with RunLog(tmp_path / "a.sqlite") as log:
        measured = measure(log, put(log, items, setup, None))
    assert measured.bath.ratio is None
    assert measured.ua_w_k is None
    assert measured.bath.best_c is not None
    assert measured.poured_s is not None  # seen in the readings
    for field in ("bath.ratio", "mix_g", "ua_w_k", "plateau_after_s", "bath.ice_left_g"):
        assert measured.unsaid[field], field


def test_a_log_without_any_reading_is_measured_all_the_same(tmp_path: Path) -> None:
    """A run that was begun and ended has nothing to tell, and says so."""
    with RunLog(tmp_path / "a.sqlite") as log:
        measured = measure(log, put(log, [], RigSetup(id="bare"), custard()))
    assert measured.stages == ()
    assert measured.unsaid["poured_s"] == "no pour was marked or seen"


def test_a_mark_that_was_taken_back_counts_for_nothing(tmp_path: Path) -> None:
    """The ice of a recharge that was taken back was never put in."""
    rig = slip("barley-custard")
    items = recorded("slip-custard-4to1", rig.setup)
    wrong = Mark(600.0, MarkWord.RECHARGE, detail={"ice_g": 500.0, "salt_g": 100.0})
    back = Mark(610.0, MarkWord.UNDO)
    place = next(i for i, item in enumerate(items) if item.t > 600.0)
    later = next(i for i, item in enumerate(items) if item.t > 610.0)
    items[later:later] = [back]
    items[place:place] = [wrong]
    lines = [
        (600.0, "mark", json.dumps({"type": "mark", "at": 600.0, "mark": "recharge",
                                    "by": By.MAKER, "detail": dict(wrong.detail)})),
        (610.0, "mark", json.dumps({"type": "mark", "at": 610.0, "mark": "undo",
                                    "by": By.MAKER, "detail": {"undone": "recharge"}})),
    ]  # fmt: skip
    with RunLog(tmp_path / "a.sqlite") as log:
        run_id = put(log, items[: later + 100], rig.setup, rig.recipe, lines=lines)
        logged = read(log, run_id)
        measured = measure(log, run_id)
    assert not any(isinstance(item, Mark) and item.word in (MarkWord.RECHARGE, MarkWord.UNDO)
                   for _, item in logged.items)  # fmt: skip
    assert measured.bath.recharges == ()
    assert measured.bath.added_ice_g == 0.0


def test_a_span_is_never_upside_down(both: tuple[Measures, Measures]) -> None:
    """Every range goes from its low to its high end with the middle between."""
    for one in both:
        spans = [one.ua_w_k, one.beater_w, one.beater_end_w, one.wall_end_w_k, one.heat_kj]
        spans += [one.freezing_after_s, one.mix_offset_k, one.bath.ice_left_g]
        for span in spans:
            assert span is not None
            assert span.p10 <= span.p50 <= span.p90
