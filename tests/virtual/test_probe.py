"""Thermocouples: slow, off, noisy, and sometimes broken."""

from __future__ import annotations

import statistics

import numpy as np
import pytest

from rigmon.records import Fault
from rigmon.virtual.probe import (
    Medium,
    ProbeParameters,
    Surroundings,
    Upset,
    UpsetKind,
    VirtualProbe,
    draw_probe,
)

CLEAN = ProbeParameters(
    lag_s=3.0, stem=0.0, quiet_k=0.0, loud_k=0.0, spikes=0.0, wander_k=0.0, step_k=1e-6
)


def around(c: float, *, medium: Medium = Medium.STIRRED, motor: bool = False) -> Surroundings:
    """A place of that temperature, beside a cold wall in a warm room."""
    return Surroundings(medium, c, wall_c=-10.0, room_c=22.0, motor=motor)


def probe(parameters: ProbeParameters, *upsets: Upset) -> VirtualProbe:
    """A probe with its upsets."""
    return VirtualProbe(parameters, upsets, np.random.default_rng(5))


def numbers(values: list[float | Fault | None]) -> list[float]:
    """The readings that are numbers."""
    return [value for value in values if isinstance(value, float)]


@pytest.mark.parametrize(("medium", "slower"), [(Medium.STIRRED, 1.0), (Medium.SLUSH, 3.0)])
def test_a_step_is_followed_to_63_percent_in_one_lag(medium: Medium, slower: float) -> None:
    """A first-order probe has covered 1 - 1/e of a step after its lag."""
    tip = probe(CLEAN)
    tip.read(0.0, around(10.0, medium=medium))
    value = tip.read(3.0 * slower, around(0.0, medium=medium))
    assert value == pytest.approx(10.0 * np.exp(-1.0), abs=1e-3)


def test_stem_wall_and_offset_add_up() -> None:
    """A probe that touches the wall feels it, its stem feels the room, and it is off by its own."""
    tip = probe(
        ProbeParameters(
            stem=0.01, touch=0.1, offset_k=0.4, quiet_k=0.0, wander_k=0.0, spikes=0.0, step_k=1e-6
        )
    )
    felt = 0.9 * -3.0 + 0.1 * -10.0
    assert tip.read(0.0, around(-3.0)) == pytest.approx(felt + 0.01 * (22.0 - felt) + 0.4, abs=1e-3)


@pytest.mark.parametrize("step_k", [0.0625, 0.25])
def test_readings_are_whole_counts(step_k: float) -> None:
    """The converter knows no temperatures between its counts."""
    tip = probe(ProbeParameters(step_k=step_k))
    for t in range(50):
        value = tip.read(float(t), around(-3.3, motor=True))
        assert isinstance(value, float)
        assert value / step_k == pytest.approx(round(value / step_k), abs=1e-9)


def test_the_mixer_makes_noise_and_spikes_and_a_still_one_does_not() -> None:
    """Scatter grows with the motor on, and only then do single samples jump."""
    parameters = ProbeParameters(wander_k=0.0, spikes=0.01)
    quiet, loud = probe(parameters), probe(parameters)
    still = numbers([quiet.read(float(t), around(-3.0)) for t in range(3000)])
    beaten = numbers([loud.read(float(t), around(-3.0, motor=True)) for t in range(3000)])
    middle = statistics.median(beaten)
    spikes = [value for value in beaten if abs(value - middle) > 1.9]
    assert max(abs(value - statistics.median(still)) for value in still) < 0.5
    assert 10 < len(spikes) < 60
    rest = [value for value in beaten if abs(value - middle) <= 1.5]
    assert statistics.stdev(rest) > 2.5 * statistics.stdev(still)


def test_wander_is_slow() -> None:
    """Neighbouring samples err alike, samples minutes apart do not."""
    tip = probe(ProbeParameters(wander_k=0.2, wander_s=40.0, quiet_k=0.0, spikes=0.0, step_k=1e-6))
    trace = np.array(numbers([tip.read(float(t), around(-3.0)) for t in range(6000)]))
    trace -= trace.mean()
    assert np.corrcoef(trace[:-1], trace[1:])[0, 1] > 0.9
    assert abs(np.corrcoef(trace[:-400], trace[400:])[0, 1]) < 0.3
    assert trace.std() == pytest.approx(0.2, rel=0.3)


def test_lost_samples_come_in_bursts_and_in_the_share_asked_for() -> None:
    """Of twenty thousand samples the given share falls into gaps of the given length."""
    tip = probe(ProbeParameters(lost=0.02, lost_s=6.0))
    gone = [tip.read(float(t), around(-3.0)) is None for t in range(20_000)]
    bursts = sum(now and not before for before, now in zip([False, *gone], gone, strict=False))
    assert sum(gone) / len(gone) == pytest.approx(0.02, rel=0.5)
    assert sum(gone) / bursts == pytest.approx(6.0, rel=0.5)


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        (UpsetKind.OPEN, Fault.OPEN),
        (UpsetKind.SHORT_GND, Fault.SHORT_GND),
        (UpsetKind.SILENT, None),
    ],
)
def test_an_upset_lasts_from_its_beginning_to_its_end(
    kind: UpsetKind, expected: Fault | None
) -> None:
    """A broken circuit gives its fault, a silent one nothing, and only while it lasts."""
    tip = probe(ProbeParameters(), Upset(kind, "mix", 10.0, 20.0))
    values = [tip.read(float(t), around(-3.0)) for t in range(30)]
    assert values[10:20] == [expected] * 10
    assert all(isinstance(value, float) for value in values[:10] + values[20:])


def test_a_probe_lifted_out_warms_towards_the_room() -> None:
    """Out of the mix it reads air, slowly, and comes back when it is put back."""
    tip = probe(CLEAN, Upset(UpsetKind.LIFTED, "mix", 10.0, 70.0))
    values = numbers([tip.read(float(t), around(-3.0)) for t in range(120)])
    assert values[9] == pytest.approx(-3.0, abs=0.01)
    assert 10.0 < values[69] < 22.0
    assert values[110] == pytest.approx(-3.0, abs=0.1)


def test_a_stuck_probe_repeats_one_value() -> None:
    """The last reading before it stuck comes again and again."""
    tip = probe(ProbeParameters(), Upset(UpsetKind.STUCK, "mix", 10.0, 40.0))
    values = [tip.read(float(t), around(5.0 - 0.2 * t)) for t in range(50)]
    assert set(values[10:40]) == {values[9]}
    assert values[45] != values[9]


def test_an_upset_leaves_the_noise_of_the_rest_alone() -> None:
    """A run with a fault is the same run outside the fault."""
    whole, broken = (
        probe(ProbeParameters()),
        probe(ProbeParameters(), Upset(UpsetKind.OPEN, "mix", 10.0, 20.0)),
    )
    a = [whole.read(float(t), around(-3.0, motor=True)) for t in range(40)]
    b = [broken.read(float(t), around(-3.0, motor=True)) for t in range(40)]
    assert a[:10] + a[20:] == b[:10] + b[20:]


def test_drawn_probes_of_type_k_are_further_off_than_type_t() -> None:
    """Offsets scatter by 0.5 K for type T and by 1 K for type K (common practice)."""
    off = {
        kind: statistics.stdev(
            draw_probe(np.random.default_rng(seed), kind).offset_k for seed in range(400)
        )
        for kind in ("T", "K")
    }
    assert off["T"] == pytest.approx(0.5, rel=0.15)
    assert off["K"] == pytest.approx(1.0, rel=0.15)
