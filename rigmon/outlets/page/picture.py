"""One rig as the page shows it: the newest of all that was said, as plain data."""

from __future__ import annotations

import time
from collections import deque
from typing import Any

from rigmon.outlets.glance import ALARM_STATES, QUALITIES, STAGES, Glance
from rigmon.outlets.page.history import Counter, History, row_of
from rigmon.records import (
    Alarm,
    Choice,
    MarkHeard,
    Notice,
    Problem,
    Said,
    State,
    Summary,
)
from rigmon.run.choices import named
from rigmon.run.headline import parted, stiffening, upcoming

NEWS = 12
"""So many things that happened are shown."""
MARKS = 500
"""So many marks of a run are kept for the trend."""
UNDO_S = 30.0
"""The page offers to take a mark back for this long [s of the clock on the wall]."""


class RigPage:
    """What the page knows of one rig.

    Args:
        glance: what every face knows of it.
        counter: numbers the rows of the trend.
    """

    def __init__(self, glance: Glance, counter: Counter) -> None:
        self.glance = glance
        self.history = History(counter)
        self.run: str | None = None
        self.marks: deque[dict[str, Any]] = deque(maxlen=MARKS)
        self.ended: tuple[str, Summary] | None = None
        self._news: deque[dict[str, Any]] = deque(maxlen=NEWS)
        self._undo: tuple[object, float] = (None, 0.0)
        self._at = float("-inf")

    def tell(self, run: str | None, said: Said) -> None:
        """Take in one thing said of the rig, and the run that goes on; None between runs."""
        if run != self.run:
            self._begin(run)
        self.glance.tell(said)
        if isinstance(said, State):
            if said.at < self._at:
                self.history.clear()
            self._at = said.at
            self.history.add(row_of(said))
            if said.undo != self._undo[0]:
                self._undo = said.undo, time.monotonic()
        elif isinstance(said, Summary):
            # Without a run it is that of a program which leaves in the middle of one.
            if run is not None:
                self.ended = run, said
                self.glance.end()
        elif isinstance(said, MarkHeard):
            self.marks.append(_flag(said))
            self._news.append({"kind": "mark", **_flag(said)})
        elif isinstance(said, Notice | Problem):
            kind = "notice" if isinstance(said, Notice) else "problem"
            self._news.append({"kind": kind, "at": said.at, "text": said.text})

    def _begin(self, run: str | None) -> None:
        """Another run: what was of the one before is history, its story alone stays to be read."""
        self.run = run
        if run is None:
            return
        self.history.clear()
        self.marks.clear()
        self._news.clear()
        self.ended = None
        self._at = float("-inf")

    def picture(self) -> dict[str, Any]:
        """All that is shown now, but for the trend; None where nothing is known."""
        glance = self.glance
        head, state = glance.headline(), glance.state
        ahead = upcoming(state, glance.forecasts, glance.speech)
        return {
            "rig": glance.rig_id,
            "virtual": glance.virtual,
            "run": self.run,
            "at": None if state is None else state.at,
            "unix": round(time.time(), 3),
            "stage": None if state is None else state.stage.value,
            "stage_text": "" if state is None else glance.speech.say(STAGES[state.stage]),
            "round": None if state is None else state.round,
            "verb": head.verb,
            "reason": head.reason,
            "why": stiffening(state, glance.speech),
            "priority": None if head.priority is None else head.priority.value,
            "next": None
            if ahead is None
            else {
                "event": ahead.forecast.event.value,
                "text": ahead.text,
                "p10": _rounded(ahead.forecast.p10, 1),
                "p50": _rounded(ahead.forecast.p50, 1),
                "p90": _rounded(ahead.forecast.p90, 1),
            },
            **_figures(state),
            "probes": self._probes(state),
            "forecasts": {
                event.value: {
                    "at": one.at,
                    "p10": _rounded(one.p10, 1),
                    "p50": _rounded(one.p50, 1),
                    "p90": _rounded(one.p90, 1),
                }
                for event, one in glance.forecasts.items()
            },
            "alarms": [self._alarm(alarm) for alarm in glance.standing()],
            "news": list(self._news),
            "undo": self._undoable(state),
            "choices": [_choice(one) for one in glance.choices()],
            "summary": None
            if self.ended is None
            else {"run": self.ended[0], "figures": dict(self.ended[1].figures)},
        }

    def _alarm(self, alarm: Alarm) -> dict[str, Any]:
        call, why = parted(alarm)
        return {
            "code": alarm.code,
            "priority": alarm.priority.value,
            "state": alarm.state.value,
            "state_text": self.glance.speech.say(ALARM_STATES[alarm.state]),
            "call": call,
            "why": why,
            "at": alarm.at,
            "advice": dict(alarm.advice),
        }

    def _probes(self, state: State | None) -> list[dict[str, Any]]:
        if state is None:
            return []
        return [
            {
                "name": name,
                "place": probe.place.value,
                "quality": state.quality[name].value,
                "quality_text": self.glance.speech.say(QUALITIES[state.quality[name]]),
                "value_c": _rounded(probe.value_c, 2),
                "age_s": None if probe.at is None else round(max(state.at - probe.at, 0.0), 1),
                "why": probe.why,
            }
            for name, probe in state.probes.items()
        ]

    def _undoable(self, state: State | None) -> dict[str, Any] | None:
        if state is None or state.undo is None:
            return None
        left_s = UNDO_S - (time.monotonic() - self._undo[1])
        if left_s <= 0.0:
            return None
        return {"text": named(state.undo.word, self.glance.speech), "left_s": round(left_s, 1)}


def _figures(state: State | None) -> dict[str, Any]:
    """Bath, mix and wall as they are estimated."""
    estimate = None if state is None else state.estimate
    bath_names = {
        "c": ("bath_c", 2),
        "sd": ("bath_c_sd", 2),
        "brine_pct": ("brine_pct", 1),
        "brine_sd": ("brine_pct_sd", 1),
        "ice_left_g": ("ice_left_g", 0),
        "ice_sd": ("ice_left_g_sd", 0),
        "ice_put_g": ("ice_put_g", 0),
    }
    mix_names = {
        "c": ("mix_c", 2),
        "sd": ("mix_c_sd", 2),
        "frozen_pct": ("frozen_pct", 1),
        "frozen_sd": ("frozen_pct_sd", 1),
        "cooling_w": ("cooling_w", 0),
        "cooling_sd": ("cooling_w_sd", 0),
    }

    def of(names: dict[str, tuple[str, int]]) -> dict[str, float | None]:
        return {
            key: _rounded(getattr(estimate, name, None), digits)
            for key, (name, digits) in names.items()
        }

    wall_g = None if estimate is None else estimate.wall_g
    return {
        "bath": of(bath_names)
        | {"limit_c": None if state is None else _rounded(state.bath_limit_c, 2)},
        "mix": of(mix_names)
        | {
            "freezing_c": None if state is None else _rounded(state.freezing_c, 2),
            "stiffening_pct_min": None if state is None else _rounded(state.stiffening_pct_min, 2),
        },
        "wall": None
        if estimate is None or wall_g is None
        else {"ice_g": _rounded(wall_g, 0), "sd": _rounded(estimate.wall_g_sd, 0)},
    }


def _choice(choice: Choice) -> dict[str, Any]:
    return {
        "word": choice.word,
        "text": choice.text,
        "fields": [
            {
                "name": one.name,
                "text": one.text,
                "unit": one.unit,
                "value": one.value,
                "min": one.least,
                "max": one.most,
                "step": one.step,
            }
            for one in choice.fields
        ],
    }


def _flag(mark: MarkHeard) -> dict[str, Any]:
    return {"at": mark.at, "word": mark.word.value, "text": mark.text, "by": mark.by.value}


def _rounded(value: float | None, digits: int) -> float | int | None:
    if value is None:
        return None
    return round(value) if digits == 0 else round(value, digits)
