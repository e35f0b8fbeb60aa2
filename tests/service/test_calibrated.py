"""What a log's calibrations make of a rig's probes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigmon.config import parse_config
from rigmon.estimate.memory import RigPart
from rigmon.probes.calibration import Point, Share
from rigmon.records import Converter, Mark, MarkWord, ProbeSetup, Reading
from rigmon.run.monitor import Monitor
from rigmon.service.calibrated import (
    Standing,
    correction_of,
    moved,
    points_of,
    text_of,
    told,
    with_calibrations,
)
from rigmon.service.export import export
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.memory import Changed, Kept, change
from rigmon.service.mixessay import mixes_say
from rigmon.service.prepare import Rig, header_of, logged_rig
from rigmon.service.replay import rig_to_replay
from rigmon.service.rigwatch import RigWatch
from rigmon.store import RunLog, read_run
from rigmon.store.calibrations import keep, take_back

if TYPE_CHECKING:
    from pathlib import Path

    from tests.service.conftest import Ears

DAY_S = 86_400.0
T0 = 1_783_173_600.0

Made = Callable[..., Point]


@pytest.fixture
def made(log: RunLog, rig: Rig) -> Made:
    """Keeps a point of one of the rig's probes."""

    def put(
        name: str,
        off_k: float,
        *,
        true_c: float = 0.0,
        kind: str = "ice",
        days: float = 0.0,
        sd_k: float = 0.06,
        **other: object,
    ) -> Point:
        probe = replace(next(p for p in rig.setup.probes if p.name == name), **other)  # type: ignore[arg-type]
        point = Point(kind, true_c, true_c + off_k, (Share("bath", sd_k),))
        row = (rig.setup.id, name, T0 + days * DAY_S, kind, text_of(point, probe, readings=120))
        keep(log, [row])
        return point

    return put


def probe_of(rig: Rig, name: str) -> ProbeSetup:
    """A probe of a rig."""
    return next(probe for probe in rig.setup.probes if probe.name == name)


def test_a_calibration_stands_in_for_the_configured_offset(
    log: RunLog, rig: Rig, made: Made
) -> None:
    """The mix probe's configured −0.2 K gives way to what the ice said; others stay."""
    made("mix", 0.4)
    known = with_calibrations(log, rig)
    mix = probe_of(known, "mix")
    assert (mix.offset_k, mix.gain) == (-0.4, 1.0)
    assert 0.15 < mix.uncertainty_k < 0.25
    assert probe_of(known, "bath") == probe_of(rig, "bath")


def test_applied_twice_it_is_applied_once_and_undone_it_is_gone(
    log: RunLog, rig: Rig, made: Made
) -> None:
    """Between two runs of one watch a calibration may come, and go again."""
    made("mix", 0.4)
    known = with_calibrations(log, with_calibrations(log, rig))
    assert probe_of(known, "mix").offset_k == -0.4
    take_back(log, log.calibrations(rig.setup.id), T0 + DAY_S)
    assert with_calibrations(log, known).setup == rig.setup


def test_the_newest_of_each_kind_make_the_line(log: RunLog, rig: Rig, made: Made) -> None:
    """An older ice point counts no more; ice and boiling water give a factor together."""
    made("bath", 0.9, days=0)
    made("bath", 0.4, days=1)
    made("bath", -1.1, true_c=99.0, kind="boil", days=2, sd_k=0.03)
    standings = [one.standing for one in points_of(log, rig.setup.id, probe_of(rig, "bath"))]
    assert standings == [Standing.OLDER, Standing.COUNTS, Standing.COUNTS]
    found = correction_of(log, rig.setup.id, probe_of(rig, "bath"))
    assert found is not None
    assert found.probe.gain > 1.01
    assert found.line.true_c(0.4) == pytest.approx(0.0, abs=0.05)


def test_points_half_a_year_apart_make_no_line(log: RunLog, rig: Rig, made: Made) -> None:
    """The older kind is left out."""
    made("bath", -1.0, true_c=99.0, kind="boil", days=0)
    made("bath", 0.4, days=200)
    found = correction_of(log, rig.setup.id, probe_of(rig, "bath"))
    assert found is not None
    assert found.probe.gain == 1.0


def test_another_converter_type_or_probe_makes_it_void(log: RunLog, rig: Rig, made: Made) -> None:
    """What was found with other settings, or another probe, says nothing of this one."""
    made("bath", 0.4, converter=Converter.STRAIGHT_LINE)
    made("mix", 0.4, type="K")
    assert with_calibrations(log, rig) == rig
    made("mix", 0.3, days=1)
    change(log, Kept(rig.setup.id), Changed(RigPart.PROBE, T0 + 2 * DAY_S))
    mix = points_of(log, rig.setup.id, probe_of(rig, "mix"))
    assert [one.standing for one in mix] == [Standing.OTHER_SETTING, Standing.OTHER_PROBE]
    assert with_calibrations(log, rig) == rig


def test_a_row_of_a_newer_program_is_passed_over(log: RunLog, rig: Rig) -> None:
    """It is listed, and does not count."""
    keep(log, [(rig.setup.id, "mix", T0, "ice", json.dumps({"another": 1}))])
    (one,) = points_of(log, rig.setup.id, probe_of(rig, "mix"))
    assert one.standing is Standing.UNREADABLE
    assert with_calibrations(log, rig) == rig


def test_a_virtual_rig_has_none(log: RunLog, virtual_rig: Rig, made: Made) -> None:
    """What is measured of a real rig says nothing of an invented one."""
    made("mix", 0.4)
    assert with_calibrations(log, virtual_rig) == virtual_rig


def test_a_watch_says_so_at_its_start(log: RunLog, rig: Rig, made: Made) -> None:
    """Which probe, by how much, since when; and that the configuration's own offset gives way."""
    made("mix", 0.4)
    said = list(told(log, rig, T0 + DAY_S))
    assert said[0].startswith("slip: mix is corrected by −0.40 K (± ")
    assert "ice point of 2026-07-" in said[0]
    assert "stands in for offset_k" in said[1]
    old = list(told(log, rig, T0 + 400 * DAY_S))
    assert any("more than a year old" in sentence for sentence in old)


def test_a_run_keeps_what_it_was_corrected_by_and_replays_to_the_same(
    log: RunLog, rig: Rig, made: Made, ears: Ears, tmp_path: Path
) -> None:
    """The run's document has the calibrated probes, and so has its export, also after an undo."""
    made("mix", 0.4)
    keeper = LogKeeper(log)
    watch = RigWatch(rig, keeper, ears.tell, T0)
    watch.take(Mark(T0, MarkWord.ICE_IN, detail={"ice_g": 2600.0, "salt_g": 650.0}))
    run_id = watch.run_id
    assert run_id is not None
    for t in range(1, 20):
        watch.take(Reading(T0 + t, "bath", -15.0))
        watch.take(Reading(T0 + t, "mix", 4.0))
    watch.pass_time(T0 + 20.0)
    watch.take(Mark(T0 + 20.0, MarkWord.END))
    (row,) = (row for row in log.runs() if row.header.id == run_id)
    assert probe_of(logged_rig(row.header), "mix").offset_k == -0.4
    take_back(log, log.calibrations(rig.setup.id), T0 + DAY_S)
    _, beside, _ = export(log, run_id, tmp_path / "run.csv")
    again = rig_to_replay(beside, None, None, None)
    assert probe_of(again, "mix").offset_k == -0.4
    monitor = Monitor(again.setup, again.recipe, again.prior, again.seed, again.speech)
    said = []
    for item in read_run(tmp_path / "run.csv", again.setup).items:
        said += monitor.feed(item) if isinstance(item, Reading | Mark) else []
    mixes = [one.estimate.mix_c for one in said if hasattr(one, "estimate")]
    assert mixes[-1] == pytest.approx(3.6, abs=0.01)


def test_a_run_begun_after_an_undo_is_as_configured(log: RunLog, rig: Rig, made: Made) -> None:
    """The next run of a watch that goes on takes what holds by then."""
    made("mix", 0.4)
    keeper = LogKeeper(log)
    calibrated = keeper.known(rig)
    assert probe_of(calibrated, "mix").offset_k == -0.4
    take_back(log, log.calibrations(rig.setup.id), T0)
    assert probe_of(keeper.known(calibrated), "mix").offset_k == -0.2
    text = header_of(calibrated, T0).document
    (kept,) = parse_config(text, "run").rigs
    assert kept.setup == calibrated.setup


def test_a_probe_that_moved_is_told(log: RunLog, rig: Rig, made: Made) -> None:
    """0.5 K in ninety days is more than both points are unsure; 0.1 K is not."""
    made("mix", 0.4)
    at_unix = T0 + 90 * DAY_S
    mix = probe_of(rig, "mix")
    far = Point("ice", 0.0, 0.9, (Share("bath", 0.06),))
    near = Point("ice", 0.0, 0.5, (Share("bath", 0.06),))
    assert "0.50 K warmer than after its calibration 90 days ago" in moved(
        log, rig.setup.id, mix, far, at_unix
    )
    assert moved(log, rig.setup.id, mix, near, at_unix) == ""


def test_past_mixes_say_what_the_mix_probe_is_off(log: RunLog, rig: Rig) -> None:
    """Runs after the last calibration count, weighed; those of a virtual rig do not."""
    for days, off_k in enumerate((0.9, 0.5, 0.7)):
        header = header_of(rig, T0 + days * DAY_S)
        log.begin(header)
        line = {"type": "summary", "at": 9.0, "mix_offset_k": off_k, "mix_offset_k_sd": 0.1}
        log.say(header.id, 9.0, "summary", json.dumps(line))
        log.end(header.id, 9.0)
    say = mixes_say(log, rig.setup.id)
    assert say is not None
    assert (say.runs, round(say.off_k, 2)) == (3, 0.70)
    assert say.certain
    since = mixes_say(log, rig.setup.id, T0 + 0.5 * DAY_S)
    assert since is not None
    assert since.runs == 2
    assert mixes_say(log, "another") is None
