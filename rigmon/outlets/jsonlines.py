"""What a monitor says as JSON lines, one object a line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TextIO

from rigmon.outlets.base import Due
from rigmon.records import (
    Alarm,
    Estimate,
    Forecast,
    MarkHeard,
    Notice,
    Problem,
    Said,
    State,
)

_DIGITS: Mapping[str, int] = {
    "bath_c": 2,
    "mix_c": 2,
    "frozen_pct": 1,
    "frozen_pct_sd": 1,
    "cooling_w": 1,
    "cooling_w_sd": 1,
    "ice_left_g": 0,
    "ice_left_g_sd": 0,
    "brine_pct": 1,
    "brine_pct_sd": 1,
}
"""Decimals of a state's figures: no more than a kitchen can tell apart."""


def _rounded(value: float | None, digits: int) -> float | int | None:
    if value is None:
        return None
    return round(value) if digits == 0 else round(value, digits)


def _estimate(estimate: Estimate) -> dict[str, object]:
    return {name: _rounded(getattr(estimate, name), digits) for name, digits in _DIGITS.items()}


def as_dict(said: Said) -> dict[str, object]:
    """One thing said, as plain data under the names of the JSON lines."""
    if isinstance(said, State):
        return {
            "type": "state",
            "at": said.at,
            "stage": said.stage.value,
            "round": said.round,
            **_estimate(said.estimate),
            "quality": {name: quality.value for name, quality in said.quality.items()},
        }
    if isinstance(said, Forecast):
        return {
            "type": "forecast",
            "at": said.at,
            "event": said.event.value,
            "round": said.round,
            "p10": _rounded(said.p10, 1),
            "p50": _rounded(said.p50, 1),
            "p90": _rounded(said.p90, 1),
        }
    if isinstance(said, Alarm):
        return {
            "type": "alarm",
            "at": said.at,
            "code": said.code,
            "priority": said.priority.value,
            "state": said.state.value,
            "text": said.text,
            "advice": dict(said.advice),
        }
    if isinstance(said, Notice):
        return {"type": "notice", "at": said.at, "code": said.code, "text": said.text}
    if isinstance(said, MarkHeard):
        return {
            "type": "mark",
            "at": said.at,
            "mark": said.word.value,
            "by": said.by.value,
            "detail": dict(said.detail),
        }
    if isinstance(said, Problem):
        return {
            "type": "problem",
            "at": said.at,
            "what": said.what,
            "probe": said.probe,
            "text": said.text,
        }
    return {"type": "summary", "at": said.at, **said.figures}


def as_line(said: Said) -> str:
    """One thing said, as a line of JSON without its line end.

    >>> from rigmon.records import Event
    >>> as_line(Forecast(312.0, Event.PLATEAU, 1, 690.04, 742.0, None))
    '{"type":"forecast","at":312.0,"event":"plateau","round":1,"p10":690.0,"p50":742.0,"p90":null}'
    """
    return json.dumps(as_dict(said), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


class JsonLines:
    """Writes JSON lines, each flushed, so that a reader at the other end sees it at once.

    Args:
        stream: where to.
        every_s: a state in every so many seconds of the run.
        rigs: what to add to every line of a rig, by id: its name where there are several, and that
            it is virtual.
    """

    def __init__(
        self,
        stream: TextIO,
        every_s: int = 1,
        rigs: Mapping[str, Mapping[str, object]] | None = None,
    ) -> None:
        self._stream = stream
        self._due = Due(every_s)
        self._heads = {
            rig: json.dumps(dict(facts), separators=(",", ":"))[:-1] + ","
            for rig, facts in (rigs or {}).items()
            if facts
        }

    def tell(self, rig_id: str, said: Said) -> None:
        """Write one thing said."""
        if isinstance(said, State) and not self._due.falls(rig_id, said.at):
            return
        line = self._heads.get(rig_id, "{") + as_line(said)[1:]
        self._stream.write(line + "\n")
        self._stream.flush()

    def close(self) -> None:
        """Nothing is left to write."""
