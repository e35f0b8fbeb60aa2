"""A session: lines and marks in time, the same for the same seed, and the truth behind them."""

from __future__ import annotations

import json
import statistics
from dataclasses import replace
from itertools import pairwise

import pytest

from rigmon.records import LineForm, Mark, MarkWord, Place, PlateauSetting, Reading, Unit
from rigmon.virtual.board import BoardSetup
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.kitchens import SLIP_CHANNELS
from rigmon.virtual.probe import ProbeParameters
from rigmon.virtual.record import record_run
from rigmon.virtual.scenario import Channel, Scenario
from rigmon.virtual.session import Output, VirtualSession


def played(seed: int, cuts: list[float]) -> list[Output]:
    """What comes out of the demo's batch when it is asked for at those times."""
    session = VirtualSession(demo_scenario(), seed)
    return [output for to_s in cuts for output in session.advance(to_s)]


@pytest.fixture(scope="module")
def demo_run() -> VirtualSession:
    """The demo's round 1, nobody listening."""
    return record_run(demo_scenario(), 7).session


def test_the_same_seed_gives_the_same_bytes_however_it_is_asked() -> None:
    """Asking every fraction of a second or once is all the same."""
    often = played(7, [0.37 * n for n in range(1000)])
    assert often == played(7, [0.37 * 999])
    assert often != played(8, [0.37 * 999])


def test_outputs_come_in_order_of_time_with_marks_where_they_belong() -> None:
    """Ice goes in at 0, the mix at 180 s, and there is a line a second."""
    outputs = played(7, [200.0])
    times = [output.t for output in outputs]
    assert times == sorted(times)
    assert [(o.t, o.mark.word) for o in outputs if o.mark] == [
        (0.0, MarkWord.ICE_IN),
        (180.0, MarkWord.POUR),
        (195.0, MarkWord.BEAT_START),
    ]
    lines = [output for output in outputs if output.line]
    assert [output.t for output in lines] == [float(t) for t in range(201)]
    assert {record["n"] for record in json.loads(lines[0].line)} == {"bath", "mix"}


@pytest.mark.parametrize(
    ("form", "columns"),
    [(LineForm.COLUMNS, ("ms", "bath", "mix")), (LineForm.FRAMES, ("ms", "bath", "mix"))],
)
def test_another_board_writes_the_same_batch_in_its_own_form(
    form: LineForm, columns: tuple[str, ...]
) -> None:
    """The board is chosen apart from the rig."""
    session = VirtualSession(demo_scenario(), 7, BoardSetup("demo", form, columns))
    lines = [output.line for output in session.advance(5.0) if output.line]
    assert len(lines) == 6
    assert all(line.count(b",") == 2 for line in lines)


def test_samples_follow_the_stage() -> None:
    """One a second while beaten, one in ten seconds at rest, one a minute in the tub."""
    session = VirtualSession(demo_scenario(whole=True), 7)
    items = session.items(9000.0)
    times = sorted({item.t for item in items if isinstance(item, Reading)})
    marks = {item.word: item.t for item in items if isinstance(item, Mark)}
    hard_s = marks[MarkWord.HARDEN_START] + 60.0
    spans = {"beat": (300.0, 1000.0), "rest": (2000.0, 5000.0), "harden": (hard_s, 9000.0)}
    gaps = {
        name: [b - a for a, b in pairwise(times) if start < a < end]
        for name, (start, end) in spans.items()
    }
    assert {name: statistics.median(values) for name, values in gaps.items()} == {
        "beat": 1.0,
        "rest": 10.0,
        "harden": 60.0,
    }


def test_probes_are_where_the_stage_puts_them() -> None:
    """Bath and mix until packing, the core once it hardens, the freezer once it is used."""
    items = VirtualSession(demo_scenario(whole=True), 7).items(9000.0)
    marks = {item.word: item.t for item in items if isinstance(item, Mark)}
    spans: dict[str, tuple[float, float]] = {}
    for item in items:
        if isinstance(item, Reading):
            first = spans.get(item.probe, (item.t, item.t))[0]
            spans[item.probe] = (first, item.t)
    assert spans["mix"][1] <= marks[MarkWord.PACK]
    assert spans["core"][0] >= marks[MarkWord.HARDEN_START]
    assert spans["freezer"][0] >= marks[MarkWord.REST_START]


def test_readings_stay_near_the_truth(demo_run: VirtualSession) -> None:
    """Offset, lag and noise of the demo's probes keep within half a kelvin at the median."""
    again = record_run(demo_scenario(), 7)
    errors = [
        abs(item.value - again.session.truth(item.t).mix_c)
        for item in again.items
        if isinstance(item, Reading) and item.probe == "mix" and item.value and item.t > 300.0
    ]
    assert statistics.median(errors) < 0.5
    assert demo_run.truth(900.0) == again.session.truth(900.0)


def test_a_heard_alarm_ends_the_round() -> None:
    """The maker stops beating when told, and the session ends with the plan."""
    session = VirtualSession(demo_scenario(), 7)
    session.advance(900.0)
    session.hears("plateau-reached", {"do": "stop-beating"})
    outputs = session.advance(5000.0)
    marks = [output.mark for output in outputs if output.mark]
    assert [mark.word for mark in marks] == [MarkWord.BEAT_STOP, MarkWord.END]
    assert 910.0 <= marks[0].t <= 920.0
    assert session.ended
    assert session.advance(6000.0) == []


def test_the_demo_stops_stiffening_well_within_its_round(demo_run: VirtualSession) -> None:
    """Between 12 and 20 minutes after the pour, and before the maker would stop by the clock."""
    plateau = demo_run.true_plateau_s()
    assert plateau is not None
    assert 720.0 < plateau - 180.0 < 1200.0
    assert plateau < 195.0 + demo_scenario().plan.beat_for_s


def test_the_plateau_means_what_it_says(demo_run: VirtualSession) -> None:
    """Just before it two minutes still freeze two points, from it on they do not."""
    plateau = demo_run.true_plateau_s()
    assert plateau is not None

    def gain(t: float) -> float:
        return demo_run.truth(t + 120.0).frozen_pct - demo_run.truth(t).frozen_pct

    assert gain(plateau - 10.0) >= 2.0
    assert all(gain(plateau + s) < 2.0 for s in range(1, 300, 10))
    easier = demo_run.true_plateau_s(PlateauSetting(gain_pct=3.0))
    assert easier is not None
    assert easier < plateau


def test_the_plateau_is_the_same_seen_from_before_and_after(demo_run: VirtualSession) -> None:
    """Looking ahead from the middle of a round finds what then happens."""
    session = VirtualSession(demo_scenario(), 7)
    assert session.true_plateau_s() is None
    session.items(600.0)
    early, late = session.true_plateau_s(), demo_run.true_plateau_s()
    assert early is not None
    assert late is not None
    assert early == pytest.approx(late, abs=2.0)


def test_a_power_meter_tells_how_stiff_the_mix_is() -> None:
    """Electrical power rises as the mix thickens, and is nothing while the mixer stands."""
    scenario = replace(
        demo_scenario(),
        channels=(*SLIP_CHANNELS, Channel("mixer", Place.MIXER)),
    )
    watts = {
        item.t: item.value
        for item in VirtualSession(scenario, 7).items(1500.0)
        if isinstance(item, Reading) and item.unit is Unit.WATT and item.value is not None
    }
    assert watts[100.0] == 0.0
    late = statistics.mean(watts[float(t)] for t in range(1380, 1500))
    early = statistics.mean(watts[float(t)] for t in range(350, 450))
    assert late > early + 15.0


def test_a_second_bath_probe_may_read_otherwise(demo_run: VirtualSession) -> None:
    """Two probes of the same make at other depths see other brine."""
    perfect = ProbeParameters(stem=0.0, quiet_k=0.0, loud_k=0.0, spikes=0.0, wander_k=0.0)
    scenario: Scenario = replace(
        demo_run.scenario,
        channels=(
            Channel("bath", Place.BATH, parameters=perfect),
            Channel("bath_2", Place.BATH, parameters=perfect),
        ),
    )
    last = {
        item.probe: item.value
        for item in VirtualSession(scenario, 7).items(600.0)
        if isinstance(item, Reading)
    }
    truth = demo_run.truth(600.0)
    low, high = sorted((truth.upper_c, truth.lower_c))
    for value in last.values():
        assert value is not None
        assert low - 0.1 <= value <= high + 0.1
