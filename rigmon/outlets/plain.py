"""Plain lines for pipes and screen readers: one a second, and whatever happens at once."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TextIO

from rigmon.outlets.base import Due
from rigmon.outlets.glance import Glance, alarm_line
from rigmon.records import (
    Alarm,
    Event,
    MarkHeard,
    Notice,
    Problem,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.headline import span
from rigmon.run.speech import Speech
from rigmon.texts import marked
from rigmon.units import clock

AHEAD = (
    (Event.PLATEAU, marked("stiff in")),
    (Event.REST_OVER, marked("rested in")),
    (Event.MELT_ONSET, marked("softens in")),
    (Event.HARDENED, marked("hard in")),
    (Event.BATH_LIMIT, marked("bath good for")),
)
"""Forecasts that a maker reads, and the words before their range."""
_IN_TUBS = frozenset({Stage.PACK, Stage.HARDEN, Stage.DONE})
_SLOW_S: Mapping[Stage, float] = {
    Stage.BASE: 60.0,
    Stage.REST: 60.0,
    Stage.PACK: 60.0,
    Stage.HARDEN: 1800.0,
    Stage.DONE: 1800.0,
}
"""Where little happens in a minute, a state is written once in so long [s of the run] ..."""
_UNCHANGED = 4
"""... and one that says what the last one said so many times more seldom still."""


def state_line(glance: Glance) -> str:
    """The newest state as one line, read from left to right as it matters."""
    state, speech = glance.state, glance.speech
    if state is None:
        return speech.say("no reading yet")
    estimate = state.estimate
    parts = [clock(max(state.at, 0.0)).rjust(5), glance.stage()]
    if state.stage not in _IN_TUBS:
        parts.append(f"{speech.say('bath')} {speech.temperature(estimate.bath_c)}")
        parts.append(f"{speech.say('mix')} {speech.temperature(estimate.mix_c)}")
    if estimate.frozen_pct is not None and estimate.frozen_pct_sd is not None:
        share = f"{estimate.frozen_pct:.0f} ± {2 * estimate.frozen_pct_sd:.0f} %"
        parts.append(f"{speech.say('frozen')} {share}")
    if estimate.ice_left_g is not None:
        parts.append(f"{speech.say('ice')} {speech.mass(estimate.ice_left_g)}")
    for event, words in AHEAD:
        ahead = span(glance.forecasts.get(event), state.at, speech)
        if ahead is not None:
            parts.append(f"{speech.say(words)} {ahead}")
    parts += [f"{probe} {fault}" for probe, fault in glance.bad_probes()]
    return "  ".join(parts)


class PlainView:
    """Writes plain lines.

    Args:
        stream: where to.
        glances: what is known of each rig, by id; filled by `tell`.
        every_s: at most one state line in so many seconds of the clock on the wall; 0 for all.
        run_every_s: a state line only in every so many seconds of the run.
    """

    def __init__(
        self,
        stream: TextIO,
        glances: Mapping[str, Glance],
        every_s: float = 1.0,
        run_every_s: int = 1,
    ) -> None:
        self._stream = stream
        self._glances = glances
        self._every_s = every_s
        self._due = Due(run_every_s)
        self._last: dict[str, float] = {}
        self._written: dict[str, tuple[State, str]] = {}

    def tell(self, rig_id: str, said: Said) -> None:
        """Write a state if its second has come, and marks, alarms and problems at once."""
        glance = self._glances[rig_id]
        glance.tell(said)
        at = clock(max(said.at, 0.0)).rjust(5)
        if isinstance(said, State):
            line = state_line(glance)
            if self._is_news(rig_id, said, line) and self._is_time(rig_id, said.at):
                self._written[rig_id] = said, line
                self._write(glance, line)
        elif isinstance(said, Alarm):
            self._write(glance, f"{at}  {alarm_line(said, glance.speech)}")
        elif isinstance(said, MarkHeard | Problem | Notice):
            self._write(glance, f"{at}  {said.text}")
        elif isinstance(said, Summary):
            self._write(glance, summary_line(said, glance.speech))

    def _is_news(self, rig_id: str, state: State, line: str) -> bool:
        before, words = self._written.get(rig_id, (None, ""))
        slow_s = _SLOW_S.get(state.stage, 0.0)
        if before is None or before.stage is not state.stage or state.at < before.at:
            return True
        if _words(words) == _words(line):
            slow_s *= _UNCHANGED
        return state.at - before.at >= slow_s

    def _is_time(self, rig_id: str, at: float) -> bool:
        now = time.monotonic()
        # A little early is in time: states come by their own clock, a second apart.
        if now - self._last.get(rig_id, float("-inf")) < 0.9 * self._every_s:
            return False
        if not self._due.falls(rig_id, at):
            return False
        self._last[rig_id] = now
        return True

    def _write(self, glance: Glance, line: str) -> None:
        heads = [glance.rig_id] if len(self._glances) > 1 else []
        heads += [glance.speech.say("virtual rig")] if glance.virtual else []
        head = f"{', '.join(heads)}: " if heads else ""
        self._stream.write(f"{head}{line}\n")
        self._stream.flush()

    def close(self) -> None:
        """Nothing is left to write."""


def _words(line: str) -> str:
    """A state's line without its time."""
    return line.lstrip().partition("  ")[2]


def summary_line(summary: Summary, speech: Speech | None = None) -> str:
    """The end of a run in a sentence."""
    speech = speech or Speech()
    figures = summary.figures
    parts = [speech.say("Run of {time}", time=clock(summary.at))]
    poured, plateau = figures["poured_s"], figures["plateau_s"]
    if poured is not None and plateau is not None:
        parts.append(speech.say("plateau {time} after the pour", time=clock(plateau - poured)))
    if figures["frozen_pct"] is not None:
        share = f"{figures['frozen_pct']:.0f}"
        parts.append(speech.say("{share} % of the water frozen by beating", share=share))
    if figures["bath_min_c"] is not None:
        best = speech.temperature(figures["bath_min_c"])
        parts.append(speech.say("bath at best {bath}", bath=best))
    counted = {name: figures[name] for name in ("readings", "rejected")}
    parts.append(speech.say("{readings} readings, {rejected} rejected", **counted))
    return ", ".join(parts) + "."
