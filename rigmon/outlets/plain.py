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
    Problem,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.headline import span
from rigmon.units import MassUnit, TemperatureUnit, clock, mass, temperature

AHEAD = (
    (Event.PLATEAU, "stiff in"),
    (Event.REST_OVER, "rested in"),
    (Event.MELT_ONSET, "softens in"),
    (Event.HARDENED, "hard in"),
    (Event.BATH_LIMIT, "bath good for"),
)
"""Forecasts that a maker reads, and the words before their range."""
_IN_TUBS = frozenset({Stage.PACK, Stage.HARDEN, Stage.DONE})


def state_line(
    glance: Glance, temperature_unit: TemperatureUnit = "C", mass_unit: MassUnit = "g"
) -> str:
    """The newest state as one line, read from left to right as it matters."""
    state = glance.state
    if state is None:
        return "no reading yet"
    estimate = state.estimate
    parts = [
        clock(max(state.at, 0.0)).rjust(5),
        f"{state.stage.value} {state.round}" if state.round else state.stage.value,
    ]
    if state.stage not in _IN_TUBS:
        parts.append(f"bath {temperature(estimate.bath_c, temperature_unit)}")
        parts.append(f"mix {temperature(estimate.mix_c, temperature_unit)}")
    if estimate.frozen_pct is not None and estimate.frozen_pct_sd is not None:
        parts.append(f"frozen {estimate.frozen_pct:.0f} ± {2 * estimate.frozen_pct_sd:.0f} %")
    if estimate.ice_left_g is not None:
        parts.append(f"ice {mass(estimate.ice_left_g, mass_unit)}")
    for event, words in AHEAD:
        ahead = span(glance.forecasts.get(event), state.at)
        if ahead is not None:
            parts.append(f"{words} {ahead}")
    parts += [f"{name} probe {q.value}" for name, q in state.quality.items() if q.value != "good"]
    return "  ".join(parts)


class PlainView:
    """Writes plain lines.

    Args:
        stream: where to.
        glances: what is known of each rig, by id; filled by `tell`.
        every_s: at most one state line in so many seconds of the clock on the wall; 0 for all.
        run_every_s: a state line only in every so many seconds of the run.
        temperature_unit: for temperatures.
        mass_unit: for masses.
    """

    def __init__(
        self,
        stream: TextIO,
        glances: Mapping[str, Glance],
        every_s: float = 1.0,
        run_every_s: int = 1,
        temperature_unit: TemperatureUnit = "C",
        mass_unit: MassUnit = "g",
    ) -> None:
        self._stream = stream
        self._glances = glances
        self._every_s = every_s
        self._due = Due(run_every_s)
        self._units = (temperature_unit, mass_unit)
        self._last: dict[str, float] = {}

    def tell(self, rig_id: str, said: Said) -> None:
        """Write a state if its second has come, and marks, alarms and problems at once."""
        glance = self._glances[rig_id]
        glance.tell(said)
        at = clock(max(said.at, 0.0)).rjust(5)
        if isinstance(said, State):
            if self._is_time(rig_id, said.at):
                self._write(glance, state_line(glance, *self._units))
        elif isinstance(said, Alarm):
            self._write(glance, f"{at}  {alarm_line(said)}")
        elif isinstance(said, MarkHeard | Problem):
            self._write(glance, f"{at}  {said.text}")
        elif isinstance(said, Summary):
            self._write(glance, summary_line(said, self._units[0]))

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
        heads += ["virtual rig"] if glance.virtual else []
        head = f"{', '.join(heads)}: " if heads else ""
        self._stream.write(f"{head}{line}\n")
        self._stream.flush()

    def close(self) -> None:
        """Nothing is left to write."""


def summary_line(summary: Summary, unit: TemperatureUnit = "C") -> str:
    """The end of a run in a sentence."""
    figures = summary.figures
    parts = [f"Run of {clock(summary.at)}"]
    poured, plateau = figures["poured_s"], figures["plateau_s"]
    if poured is not None and plateau is not None:
        parts.append(f"plateau {clock(plateau - poured)} after the pour")
    if figures["frozen_pct"] is not None:
        parts.append(f"{figures['frozen_pct']:.0f} % of the water frozen by beating")
    if figures["bath_min_c"] is not None:
        parts.append(f"bath at best {temperature(figures['bath_min_c'], unit)}")
    parts.append(f"{figures['readings']} readings, {figures['rejected']} rejected")
    return ", ".join(parts) + "."
