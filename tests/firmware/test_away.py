"""While the network is away: nothing is lost, and everything arrives with its time."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest

from rigmon.records import MqttLink, Reading
from rigmon.sources import Decoder, MqttSource

PROBES = ["bath", "mix"]
STARTED_S = 1_785_000_000
CONNACK, PUBACK = b"\x20\x02\x00\x00", b"\x40\x02"
STEP_MS = 250
EVERY_MS = 1000
KEPT = 64


class Network:
    """A board's uplink, a broker that acknowledges, a way between them that comes and goes."""

    def __init__(self, riguplink: Any, seed: int, knows_time: bool) -> None:
        self._drawn = random.Random(seed)
        self._knows_time = knows_time
        self._uplink = riguplink.Uplink("rig-a", PROBES, KEPT)
        self._decoder = Decoder(max_bytes=1024)
        self._up = False
        self.arrived: list[Reading] = []
        self.measured: dict[int, float] = {}

    def run(self, until_ms: int, restless: bool = False, gone: bool = False) -> None:
        """Sample and send; a restless network breaks and loses packets all the time."""
        begun = max(self.measured, default=-EVERY_MS) + EVERY_MS
        for ms in range(begun, until_ms, STEP_MS):
            if ms % EVERY_MS == 0:
                self.measured[ms] = -20.0 + len(self.measured) / 8
                e4 = round(1e4 * self.measured[ms])
                self._uplink.sampled(ms, [(e4, None, ""), (e4, 245000, "")])
            if gone or (restless and self._drawn.random() < (0.05 if self._up else 0.9)):
                self._up = False
                self._uplink.closed()
            elif not self._up:
                self._up = True
                self._uplink.opened(ms)
                self._uplink.heard(CONNACK, ms)
            else:
                self._carry(ms, restless)

    def _carry(self, ms: int, restless: bool) -> None:
        unix_ms = 1000 * STARTED_S + ms if self._knows_time else None
        packet = self._uplink.due(ms, unix_ms)
        if packet[:1] != b"\x32":
            return
        topic = b"\x00\x14rigs/rig-a/readings"
        head, _, rest = packet.partition(topic[2:])
        assert len(head) <= 5
        if restless and self._drawn.random() < 0.1:
            return
        self.arrived += self._decoder.line(rest[2:], STARTED_S + ms / 1000).readings
        if not restless or self._drawn.random() > 0.1:
            self._uplink.heard(PUBACK + rest[:2], ms)

    def waiting(self) -> set[int]:
        """Times of the samples that the board still has [ms]."""
        return {ms for ms, _ in self._uplink.backlog.samples}


@pytest.mark.parametrize("knows_time", [True, False])
@pytest.mark.parametrize("seed", range(6))
def test_each_sample_arrives_with_its_time(riguplink: Any, seed: int, knows_time: bool) -> None:
    """Through breaks, lost packs and lost receipts: at least once, at its own second."""
    network = Network(riguplink, seed, knows_time)
    network.run(180_000, restless=True)
    network.run(220_000, gone=True)
    kept = network.waiting()
    network.run(300_000)
    assert not network.waiting()
    assert len(kept) >= 40
    came = {round(1000 * (r.t - STARTED_S)): r for r in network.arrived if r.probe == "mix"}
    assert came.keys() == network.measured.keys()
    for ms, reading in came.items():
        assert reading.value == network.measured[ms]
        assert reading.t == pytest.approx(STARTED_S + ms / 1000, abs=1e-3)
        assert reading.cj_c == 24.5
    assert not any(r.board_s is None for r in network.arrived) or not knows_time


def test_a_long_absence_is_kept_evenly_from_its_beginning(riguplink: Any) -> None:
    """Far more samples than there is room for: the first, the last, and even gaps between them."""
    backlog = riguplink.Backlog(KEPT)
    for ms in range(0, 3_600_000, EVERY_MS):
        backlog.add(ms, [(0, None, "")])
    times = [ms for ms, _ in backlog.samples]
    assert (times[0], times[-1]) == (0, 3_599_000)
    assert KEPT / 2 <= len(times) <= KEPT
    gaps = {after - before for before, after in itertools.pairwise(times[:-1])}
    assert gaps == {64_000}


def test_a_host_whose_clock_is_wrong_dates_old_samples_by_the_newest(rigboard: Any) -> None:
    """Ten minutes apart, board and host still agree on how old the old sample is."""
    samples = [(1000, [(-142500, None, "")]), (61_000, [(-140000, None, "")])]
    for wrong_s in (-600, 600):
        text, taken = rigboard.pack("rig-a", ["bath"], samples, 61_000, 1000 * STARTED_S)
        old, new = Decoder().line(text.encode(), STARTED_S + wrong_s).readings
        assert taken == 1
        assert new.t - old.t == 60.0
        assert new.t == STARTED_S + min(wrong_s, 0) or wrong_s > 0


@pytest.mark.parametrize(("first_year", "seconds"), [(1970, 1_785_000_000), (2000, 838_315_200)])
def test_both_counts_of_seconds_give_unix_time(
    rigboard: Any, first_year: int, seconds: int
) -> None:
    """Boards count from 1970 or from 2000, 10,957 days later."""
    assert rigboard.unix_s(seconds, first_year) == 1_785_000_000
    assert 10_957 * 86_400 == 946_684_800


def test_a_sample_sent_twice_is_recognised(rigboard: Any) -> None:
    """Two packs that hold the same sample at different ages give it the same time of the board."""
    link = MqttLink(host="broker.example")
    items: list[object] = []
    source = MqttSource({"rig-a": link})
    source._ledger.begin(lambda _rig, item: items.append(item), lambda: STARTED_S + 200.0)
    samples = [(ms, [(-142500, None, "")]) for ms in range(0, 100_000, 997)]
    for now_ms in (120_001, 130_333, 140_777):
        for sample in samples:
            text, _ = rigboard.pack("rig-a", ["bath"], [sample], now_ms, 1000 * STARTED_S + now_ms)
            source._readings("rig-a", ["readings"], text.encode(), "rigs/rig-a/readings")
    assert len(items) == len(samples)
    assert source.counts().duplicates == 2 * len(samples)
