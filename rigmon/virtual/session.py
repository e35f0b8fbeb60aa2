"""A virtual batch as the program meets it: lines from a board, and what the maker says."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from numpy.random import SeedSequence, default_rng

from rigmon.records import DetailValue, Mark, MarkWord, PlateauSetting, Reading
from rigmon.virtual.board import Board, BoardSetup
from rigmon.virtual.inputs import Input
from rigmon.virtual.maker import Maker
from rigmon.virtual.parameters import draw_parameters, varied
from rigmon.virtual.plateau import Stiffening, beaten_on, plateau_s
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.scenario import Scenario, mix_tables
from rigmon.virtual.truth import Truth, truth_of

BEAT_EVERY_S = 1.0
REST_EVERY_S = 10.0
HARDEN_EVERY_S = 60.0

_LOOK_AHEAD_S = 3600.0


@dataclass(frozen=True, slots=True)
class Output:
    """What leaves the virtual kitchen at one time: a line of the board, or a mark.

    Args:
        t: run time [s].
        line: bytes of one line, its LF included; b"" for a mark.
        mark: what the maker says; None for a line.
    """

    t: float
    line: bytes = b""
    mark: Mark | None = None


class VirtualSession:
    """One batch, carried on as far as it is asked for. Run time 0 is the ice going in.

    Args:
        scenario: who does what with which rig.
        seed: all chance in it; the same scenario and seed give the same batch.
        board: how the board writes; None for the scenario's own.

    `done` lists what the maker has done so far, said or not; `ended` is whether that is all.
    """

    def __init__(self, scenario: Scenario, seed: int, board: BoardSetup | None = None) -> None:
        self.scenario = scenario
        self.board = Board(board or scenario.board)
        seeds = SeedSequence(seed).spawn(4 + len(scenario.channels))
        of_rig, of_freezer, of_maker, of_depth, *of_probes = map(default_rng, seeds)
        if scenario.parameters is None:
            parameters = draw_parameters(of_rig)
        else:
            parameters = varied(scenario.parameters, of_rig)
        mix = mix_tables(scenario, parameters)
        self.rig = VirtualRig(parameters, mix, scenario.room_c, scenario.bowl_c, of_freezer)
        self.maker = Maker(scenario.plan, of_maker)
        self._inputs = [
            Input(channel, scenario, rng, float(of_depth.uniform(0.25, 0.75)))
            for channel, rng in zip(scenario.channels, of_probes, strict=True)
        ]
        self.done: list[Mark] = []
        self._words: set[MarkWord] = set()
        self._truths: list[Truth] = []
        self._stopped: VirtualRig | None = None
        self._beat_from_s: float | None = None
        self._sample_s = self._asked_s = 0.0
        self.ended = False

    def advance(self, to_s: float) -> list[Output]:
        """Carry the batch on to run time `to_s` [s]; returns what left the kitchen meanwhile."""
        outputs: list[Output] = []
        for item in self._events(to_s):
            if isinstance(item, Mark):
                outputs.append(Output(item.t, mark=item))
            else:
                t, readings = item
                outputs += [Output(t, line) for line in self.board.lines(t, readings)]
        return outputs

    def items(self, to_s: float) -> list[Reading | Mark]:
        """The same without a board between: readings in °C and marks, in order of time."""
        found: list[Reading | Mark] = []
        for item in self._events(to_s):
            found.extend([item] if isinstance(item, Mark) else item[1])
        return found

    def hears(
        self, code: str, advice: Mapping[str, DetailValue] | None = None, t: float | None = None
    ) -> None:
        """The maker hears an alarm, at `t` [s] or now."""
        self.maker.hears(code, self._asked_s if t is None else t, advice)

    def truth(self, t: float | None = None) -> Truth:
        """How things truly stood at the last sample up to `t` [s]; the newest of all for None."""
        if t is None or not self._truths:
            return truth_of(self.rig)
        place = bisect_right(self._truths, t, key=lambda truth: truth.t)
        return self._truths[max(place - 1, 0)]

    def true_plateau_s(
        self, setting: PlateauSetting | None = None, ahead_s: float = _LOOK_AHEAD_S
    ) -> float | None:
        """When the mix of round 1 truly stops stiffening [s of run time].

        What has been done so far counts; from now, or from when beating stopped, the rig is beaten
        on with nothing else done. None before beating, or with no plateau within `ahead_s` [s].
        """
        if self._beat_from_s is None:
            return None
        ahead = beaten_on(self._stopped or self.rig, ahead_s)
        so_far = tuple(
            truth.frozen_pct
            for truth in self._truths
            if self._beat_from_s <= truth.t < ahead.start_s
        )
        start_s = ahead.start_s - len(so_far)
        return plateau_s(Stiffening(start_s, so_far + ahead.frozen_pct), setting)

    def _events(self, to_s: float) -> Iterator[Mark | tuple[float, list[Reading]]]:
        while not self.ended:
            next_s = self.maker.next_s()
            at = self._sample_s if next_s is None else min(next_s, self._sample_s)
            if at > to_s:
                break
            self.rig.bowl.speed = self.maker.speed(self.rig.t)
            self.rig.run(at)
            for mark in self.maker.step(at):
                self._do(mark)
                said = self.maker.says(mark)
                if said:
                    yield said
            if at >= self._sample_s and not self.ended:
                truth = truth_of(self.rig)
                self._truths.append(truth)
                yield at, self._readings(truth)
                self._sample_s = at + self._every_s()
        # The rig stays at its last event: steps cut where someone asked would change the batch.
        self._asked_s = max(self._asked_s, to_s)

    def _do(self, mark: Mark) -> None:
        if mark.word is MarkWord.BEAT_STOP and self._stopped is None:
            self._stopped = self.rig.copy()
        self.rig.do(mark)
        self.done.append(mark)
        self._words.add(mark.word)
        if mark.word is MarkWord.BEAT_START:
            self.rig.bowl.speed = self.maker.speed(mark.t)
            if self._beat_from_s is None:
                self._beat_from_s = mark.t
            self._sample_s = min(self._sample_s, mark.t + BEAT_EVERY_S)
        self.ended = mark.word is MarkWord.END

    def _every_s(self) -> float:
        """A board samples as fast as the stage deserves."""
        if MarkWord.PACK in self._words:
            return HARDEN_EVERY_S
        still = self.rig.still is not None
        return REST_EVERY_S if still else BEAT_EVERY_S

    def _readings(self, truth: Truth) -> list[Reading]:
        found = [channel.read(self.rig, truth, self._words) for channel in self._inputs]
        return [reading for reading in found if reading is not None]
