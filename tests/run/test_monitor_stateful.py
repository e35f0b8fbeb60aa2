"""Any order of marks, readings, faults and pauses leaves a legal state and an explainable log."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Condition,
    DetailValue,
    Fault,
    Item,
    Mark,
    MarkHeard,
    MarkWord,
    Problem,
    Reading,
    RigSetup,
    Said,
    Stage,
    State,
)
from rigmon.run.monitor import Monitor

SHOWN = {
    AlarmState.UNACKNOWLEDGED,
    AlarmState.ACKNOWLEDGED,
    AlarmState.RETURNED_UNACKNOWLEDGED,
    AlarmState.SHELVED,
}
ALLOWED: Mapping[AlarmState, set[AlarmState]] = {
    # It occurs; it can be put aside before.
    AlarmState.RETURNED: {AlarmState.UNACKNOWLEDGED, AlarmState.SHELVED},
    # Acknowledged; its cause goes; alarmed anew (another probe); put aside; suppressed.
    AlarmState.UNACKNOWLEDGED: {
        AlarmState.ACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
        AlarmState.UNACKNOWLEDGED,
        AlarmState.SHELVED,
        AlarmState.SUPPRESSED,
    },
    # Its cause goes; alarmed anew; put aside; suppressed.
    AlarmState.ACKNOWLEDGED: {
        AlarmState.RETURNED,
        AlarmState.UNACKNOWLEDGED,
        AlarmState.SHELVED,
        AlarmState.SUPPRESSED,
    },
    # Acknowledged; its cause comes back; put aside; suppressed.
    AlarmState.RETURNED_UNACKNOWLEDGED: {
        AlarmState.RETURNED,
        AlarmState.UNACKNOWLEDGED,
        AlarmState.SHELVED,
        AlarmState.SUPPRESSED,
    },
    # Given back to where its cause puts it; put aside for longer.
    AlarmState.SHELVED: {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED, AlarmState.SHELVED},
    # What is suppressed goes on as from normal.
    AlarmState.SUPPRESSED: {AlarmState.UNACKNOWLEDGED, AlarmState.SHELVED},
}
"""Where an alarm that was told may go next (ANSI/ISA-18.2-2016, diagram of the alarm's states, from
memory: normal, unacknowledged, acknowledged, returned to normal unacknowledged, shelved, suppressed
by design). "Returned" stands for normal."""

STAYING = {MarkWord.ACK, MarkWord.SHELVE, MarkWord.NOTE}
PROBES = st.sampled_from(["bath", "mix", "core", "freezer"])
CODES = st.sampled_from(
    ["probe-silent", "plateau-reached", "log-stopped", "rest-over", "door-open"]
)
STEPS_S = st.sampled_from([0.0, 0.4, 3.0, 20.0, 70.0, -15.0])
WORDS = st.sampled_from(
    sorted(set(MarkWord) - {MarkWord.READING, MarkWord.UNDO, MarkWord.ACK, MarkWord.SHELVE})
)
DETAILS = st.sampled_from(
    [{}, {"ice_g": 900.0, "salt_g": 200.0}, {"stage": "base"}, {"mix_g": 2.0}]
)


def refused_at(t: float) -> Mark:
    """A mark that never is taken, in the place of one that was not."""
    return Mark(t, MarkWord.MIX_IN, detail={"mix_g": 0.0})


class Kitchen(RuleBasedStateMachine):
    """A rig without a recipe, so that a second of it costs next to nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.monitor = Monitor(RigSetup())
        self.t = 0.0
        self.fed: list[Item] = []
        self.alarms: dict[str, AlarmState] = {}
        self.newest: State | None = None
        self.moved = self.undone = False
        self.undoable: int | None = None
        self.guesses: list[MarkWord] = []
        self.at = -math.inf

    def feed(self, item: Item) -> list[Said]:
        """Feed an item, and hold all that is said against what was said before."""
        clock = self.monitor.clock
        said = self.monitor.feed(item)
        assert clock <= self.monitor.clock
        self.fed.append(item)
        self.hold(said)
        return said

    def hold(self, said: list[Said]) -> None:
        """Hold words against the words before them."""
        for one in said:
            assert one.at >= self.at
            self.at = one.at
            if isinstance(one, State):
                self.see(one)
            elif isinstance(one, Alarm):
                before = self.alarms.get(one.code, AlarmState.RETURNED)
                assert self.undone or one.state in ALLOWED[before], (before, one)
                self.alarms[one.code] = one.state
            elif isinstance(one, MarkHeard):
                self.moved, self.undone = True, self.undone or one.word is MarkWord.UNDO
                if one.by is By.DETECTED:
                    self.undoable = None
                    self.guesses.append(one.word)

    def see(self, state: State) -> None:
        """Hold a state against the one before."""
        before, self.newest = self.newest, state
        if before is not None:
            same = (before.stage, before.round) == (state.stage, state.round)
            assert same or self.moved, "the stage moves only with a mark that was told"
            assert self.undone or before.round <= state.round
            assert self.undone or before.stage is not Stage.DONE or state.stage is Stage.DONE
        self.moved = self.undone = False

    def say(self, word: MarkWord, detail: Mapping[str, DetailValue] | None = None) -> None:
        """Set a mark, which has one answer."""
        mark = Mark(self.t, word, detail=detail or {})
        said = self.feed(mark)
        heard = [s for s in said if isinstance(s, MarkHeard) and s.by is not By.DETECTED]
        refused = [s for s in said if isinstance(s, Problem) and s.what == "mark-refused"]
        assert len(heard) + len(refused) == 1
        if refused:
            self.fed[-1] = refused_at(mark.t)
        elif word not in STAYING:
            self.undoable = len(self.fed) - 1

    @rule(step_s=STEPS_S, probe=PROBES, c=st.sampled_from([-17.0, -9.0, -2.0, 4.0, 60.0, 900.0]))
    def reading(self, step_s: float, probe: str, c: float) -> None:
        """A reading, perhaps late, perhaps absurd."""
        self.t += step_s
        self.feed(Reading(self.t, probe, c))

    @rule(bath_c=st.sampled_from([-17.0, -4.0]), mix_c=st.sampled_from([8.0, -3.0]))
    def minute(self, bath_c: float, mix_c: float) -> None:
        """A minute and more in which both probes send, and the mix cools."""
        for i in range(20):
            self.t += 4.0
            self.feed(Reading(self.t, "bath", bath_c))
            self.feed(Reading(self.t, "mix", mix_c - 0.06 * i))

    @rule(probe=PROBES, fault=st.sampled_from(Fault))
    def broken(self, probe: str, fault: Fault) -> None:
        """A lead that is broken for some seconds."""
        for _ in range(4):
            self.t += 2.0
            self.feed(Reading(self.t, probe, None, fault=fault))

    @rule(code=CODES, active=st.booleans())
    def condition(self, code: str, active: bool) -> None:
        """A condition comes or goes: any alarm's, which no reading would bring about so soon."""
        self.feed(Condition(self.t, code, active, "So it is."))

    @rule(gap_s=st.sampled_from([40.0, 290.0, 310.0, 2000.0]))
    def gap(self, gap_s: float) -> None:
        """Nothing comes."""
        self.t += gap_s
        self.hold(self.monitor.advance(self.t))
        self.fed.append(refused_at(self.t))
        self.hold(self.monitor.feed(self.fed[-1]))

    @rule(step_s=STEPS_S, word=WORDS, detail=DETAILS)
    def mark(self, step_s: float, word: MarkWord, detail: dict[str, DetailValue]) -> None:
        """Any mark, in any order."""
        self.t += step_s
        self.say(word, detail)

    @rule(probe=PROBES, c=st.sampled_from([-15.0, 3.0, 900.0]))
    def typed(self, probe: str, c: float) -> None:
        """A value read by hand, which no probe may send."""
        self.say(MarkWord.READING, {f"{probe}_c": c})

    @rule(code=CODES | st.none())
    def acknowledge(self, code: str | None) -> None:
        """One alarm or all are acknowledged, whether or not they sound."""
        self.say(MarkWord.ACK, {"code": code} if code else {})

    @rule(code=CODES, for_min=st.sampled_from([0.0, 1.0, 30.0]))
    def shelve(self, code: str, for_min: float) -> None:
        """An alarm is put aside."""
        self.say(MarkWord.SHELVE, {"code": code, "for_min": for_min})

    @rule(step_s=STEPS_S)
    def undo(self, step_s: float) -> None:
        """The last mark is taken back: from here on all is said that a run without it says."""
        self.t += step_s
        before = len(self.fed)
        # What is guessed once a mark is gone is told with its undoing.
        undoable, self.undoable = self.undoable, None
        said = self.feed(Mark(self.t, MarkWord.UNDO))
        heard = [s for s in said if isinstance(s, MarkHeard) and s.word is MarkWord.UNDO]
        if not heard:
            self.fed[before] = refused_at(self.t)
            return
        if undoable is None:
            self.guesses.pop()
            return  # A guess was taken back, which is not guessed again.
        self.fed[undoable] = refused_at(self.fed[undoable].t)
        self.fed[before] = refused_at(self.t)
        plain, guesses = Monitor(RigSetup()), list[MarkWord]()
        for item in self.fed:
            marks = [one for one in plain.feed(item) if isinstance(one, MarkHeard)]
            guesses += [one.word for one in marks if one.by is By.DETECTED]
            if isinstance(item, Mark) and item.word is MarkWord.UNDO:
                guesses.pop()
        assert guesses == self.guesses
        assert plain.stage is self.monitor.stage
        assert plain.clock == self.monitor.clock
        assert standing(plain) == standing(self.monitor)
        self.t = math.ceil(self.monitor.clock) + 1.5
        said = self.monitor.advance(self.t)
        assert but_for_undo(said) == but_for_undo(plain.advance(self.t))
        self.hold(said)
        self.fed.append(refused_at(self.t))
        self.hold(self.monitor.feed(self.fed[-1]))

    @rule(
        word=st.sampled_from([MarkWord.ICE_IN, MarkWord.PACK, MarkWord.BEAT_STOP, MarkWord.END]),
        silent=st.booleans(),
    )
    def mistake(self, word: MarkWord, silent: bool) -> None:
        """A mark is set by mistake; what comes meanwhile would have been told without it."""
        self.reading(0.4, "bath", -17.0)
        self.say(word)
        if silent:
            self.gap(70.0)
        else:
            self.minute(-17.0, 8.0)
        self.undo(0.4)

    @invariant()
    def what_stands_was_told(self) -> None:
        """The alarms that stand are those that the words so far leave standing."""
        told = {code: state for code, state in self.alarms.items() if state in SHOWN}
        assert standing(self.monitor) == told


def but_for_undo(said: list[Said]) -> list[Said]:
    """What was said, but for the mark that can be taken back: two cannot, one after another."""
    return [replace(one, undo=None) if isinstance(one, State) else one for one in said]


def standing(monitor: Monitor) -> dict[str, AlarmState]:
    """The alarms that stand, by code."""
    return {alarm.code: alarm.state for alarm in monitor.live_alarms()}


TestKitchen = Kitchen.TestCase
TestKitchen.settings = settings(
    max_examples=16,
    stateful_step_count=20,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
