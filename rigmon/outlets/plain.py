"""Plain lines for pipes and screen readers: one a second, and whatever happens at once."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TextIO

from rigmon.outlets.glance import Glance
from rigmon.records import (
    Alarm,
    AlarmState,
    Event,
    Forecast,
    MarkHeard,
    Problem,
    Said,
    State,
    Summary,
)
from rigmon.run.headline import span
from rigmon.units import MassUnit, TemperatureUnit, clock, mass, temperature


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
        f"bath {temperature(estimate.bath_c, temperature_unit)}",
        f"mix {temperature(estimate.mix_c, temperature_unit)}",
    ]
    if estimate.frozen_pct is not None and estimate.frozen_pct_sd is not None:
        parts.append(f"frozen {estimate.frozen_pct:.0f} ± {2 * estimate.frozen_pct_sd:.0f} %")
    if estimate.ice_left_g is not None:
        parts.append(f"ice {mass(estimate.ice_left_g, mass_unit)}")
    for event, words in ((Event.PLATEAU, "stiff in"), (Event.BATH_LIMIT, "bath good for")):
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
        run_every_s: a state line only every so many seconds of the run.
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
        self._run_every_s = run_every_s
        self._units = (temperature_unit, mass_unit)
        self._last: dict[str, float] = {}

    def tell(self, rig_id: str, said: Said) -> None:
        """Write a state if its second has come, and marks, alarms and problems at once."""
        glance = self._glances[rig_id]
        glance.tell(said)
        head = f"{rig_id}: " if len(self._glances) > 1 else ""
        if isinstance(said, State):
            now = time.monotonic()
            soon = now - self._last.get(rig_id, float("-inf")) < self._every_s
            if soon or said.at % self._run_every_s:
                return
            self._last[rig_id] = now
            self._write(head + state_line(glance, *self._units))
        elif isinstance(said, Alarm):
            self._write(f"{head}{clock(max(said.at, 0)).rjust(5)}  {alarm_line(said)}")
        elif isinstance(said, MarkHeard | Problem):
            self._write(f"{head}{clock(max(said.at, 0)).rjust(5)}  {said.text}")
        elif isinstance(said, Summary):
            self._write(f"{head}{summary_line(said)}")
        elif isinstance(said, Forecast):
            return

    def _write(self, line: str) -> None:
        self._stream.write(line + "\n")
        self._stream.flush()

    def close(self) -> None:
        """Nothing is left to write."""


def alarm_line(alarm: Alarm) -> str:
    """An alarm in full when it sounds, by its code when it only changes its state.

    >>> from rigmon.records import Priority
    >>> alarm = Alarm(0.0, "probe-silent", Priority.MEDIUM, AlarmState.RETURNED, "Check it.")
    >>> alarm_line(alarm)
    'probe-silent: returned to normal'
    """
    if alarm.state is AlarmState.UNACKNOWLEDGED:
        return f"ALARM, {alarm.priority.value}: {alarm.text}"
    return f"{alarm.code}: {alarm.state.value}"


def summary_line(summary: Summary) -> str:
    """The end of a run in a sentence or two."""
    figures = summary.figures
    parts = [f"Run of {clock(summary.at)}"]
    poured, plateau = figures.get("poured_s"), figures.get("plateau_s")
    if poured is not None and plateau is not None:
        parts.append(f"plateau {clock(plateau - poured)} after the pour")
    if figures.get("frozen_pct") is not None:
        parts.append(f"{figures['frozen_pct']:.0f} % of the water frozen by beating")
    if figures.get("bath_min_c") is not None:
        parts.append(f"bath at best {temperature(figures['bath_min_c'])}")
    parts.append(f"{figures['readings']} readings, {figures['rejected']} rejected")
    return ", ".join(parts) + "."
