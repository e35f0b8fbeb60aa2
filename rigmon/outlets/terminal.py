"""The live view in a terminal: the verb first, then the rig, the trend, and what happened."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from rigmon.outlets.glance import TREND_S, Glance
from rigmon.outlets.plain import AHEAD, summary_line
from rigmon.records import Alarm, Priority, Quality, Said, State
from rigmon.run.headline import span
from rigmon.units import MassUnit, TemperatureUnit, clock, mass, temperature

_BARS = "▁▂▃▄▅▆▇█"
_TREND_WIDTH = 48
REFRESH_S = 0.25
"""A picture stands for at least this long [s]."""
_LOUD: Mapping[Priority | None, str] = {
    None: "bold",
    Priority.LOW: "bold black on white",
    Priority.MEDIUM: "bold black on yellow",
    Priority.HIGH: "bold white on red",
}


def sparkline(values: Sequence[float | None], width: int) -> str:
    """Values as a row of block characters, oldest left; a gap where there was none.

    >>> sparkline([-20.0, -15.0, None, -10.0], 4)
    '▁▅ █'
    """
    known = [value for value in values if value is not None]
    if not known:
        return " " * width
    low, reach = min(known), max(max(known) - min(known), 0.5)
    cells = []
    for i in range(width):
        part = values[i * len(values) // width : max((i + 1) * len(values) // width, 1)]
        there = [value for value in part if value is not None]
        if not there:
            cells.append(" ")
            continue
        mean = sum(there) / len(there)
        cells.append(_BARS[min(int((mean - low) / reach * len(_BARS)), len(_BARS) - 1)])
    return "".join(cells)


def render(
    glance: Glance, temperature_unit: TemperatureUnit = "C", mass_unit: MassUnit = "g"
) -> RenderableType:
    """One rig as a panel."""
    head = glance.headline(temperature_unit)
    state = glance.state
    verb = Text(f" {head.verb.upper()} ", style=_LOUD[head.priority])
    lines: list[RenderableType] = [Text.assemble(verb, "  ", head.reason)]
    title = glance.rig_id + ("  ·  virtual rig" if glance.virtual else "")
    if state is not None:
        figures = _figures(glance, state, temperature_unit, mass_unit)
        lines += ["", figures, "", _trend(glance, temperature_unit)]
        stage = f"{state.stage.value} {state.round}" if state.round else state.stage.value
        title += f"  ·  {stage}  ·  {clock(max(state.at, 0.0))}"
    if glance.notes:
        lines.append("")
        lines += [
            Text(f"{clock(max(at, 0)).rjust(6)}  {text}", style="dim", overflow="ellipsis")
            for at, text in glance.notes
        ]
    return Panel(Group(*lines), title=title, title_align="left", padding=(1, 2))


def _figures(
    glance: Glance, state: State, temperature_unit: TemperatureUnit, mass_unit: MassUnit
) -> RenderableType:
    estimate = state.estimate
    table = Table.grid(padding=(0, 3))

    def with_sd(value: float | None, sd: float | None, unit: str) -> str:
        if value is None or sd is None:
            return "–"
        return f"{value:.0f} ± {2 * sd:.0f} {unit}"

    brine = estimate.brine_pct
    table.add_row("bath", temperature(estimate.bath_c, temperature_unit), "")
    table.add_row(
        "brine",
        "–" if brine is None else f"{brine:.0f} % salt",
        "" if estimate.ice_left_g is None else f"ice left {mass(estimate.ice_left_g, mass_unit)}",
    )
    table.add_row("mix", temperature(estimate.mix_c, temperature_unit, 2), "")
    table.add_row(
        "frozen",
        with_sd(estimate.frozen_pct, estimate.frozen_pct_sd, "% of its water"),
        with_sd(estimate.cooling_w, estimate.cooling_w_sd, "W out of the mix"),
    )
    for event, words in AHEAD:
        ahead = span(glance.forecasts.get(event), state.at)
        if ahead is not None:
            table.add_row(words, ahead, "")
    for name, quality in state.quality.items():
        if quality is not Quality.GOOD:
            table.add_row(f"{name} probe", Text(quality.value, style="bold yellow"), "")
    return table


def _trend(glance: Glance, unit: TemperatureUnit) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for name, index in (("bath", 1), ("mix", 2)):
        values = [point[index] for point in glance.trend]
        known = [value for value in values if value is not None]
        if known:
            reach = f"{temperature(max(known), unit)} to {temperature(min(known), unit)}"
            table.add_row(name, sparkline(values, _TREND_WIDTH), reach)
    table.add_row("", Text(f"last {TREND_S / 60:.0f} min at most", style="dim"), "")
    return table


class LiveView:
    """Shows every rig, drawn at most four times a second.

    Args:
        glances: what is known of each rig, by id; filled by `tell`.
        temperature_unit: for temperatures.
        mass_unit: for masses.
        console: where to; None for standard output.
    """

    def __init__(
        self,
        glances: Mapping[str, Glance],
        temperature_unit: TemperatureUnit = "C",
        mass_unit: MassUnit = "g",
        console: Console | None = None,
    ) -> None:
        self._glances = glances
        self._units = (temperature_unit, mass_unit)
        self._console = console or Console()
        # Drawn from the thread that tells, so that nothing changes under the drawing.
        self._live = Live(console=self._console, auto_refresh=False)
        self._live.start()
        self._drawn = 0.0

    def _all(self) -> RenderableType:
        return Group(*(render(glance, *self._units) for glance in self._glances.values()))

    def tell(self, rig_id: str, said: Said) -> None:
        """Take in one thing said; show alarms at once, else a picture every quarter second."""
        self._glances[rig_id].tell(said)
        if isinstance(said, Alarm) or time.monotonic() - self._drawn >= REFRESH_S:
            self._drawn = time.monotonic()
            self._live.update(self._all(), refresh=True)

    def close(self) -> None:
        """Leave the last picture on the screen, and the summaries below it."""
        self._live.update(self._all(), refresh=True)
        self._live.stop()
        for glance in self._glances.values():
            if glance.summary is not None:
                virtual = f"{glance.rig_id}, virtual rig: " if glance.virtual else ""
                self._console.print(Text(virtual + summary_line(glance.summary, self._units[0])))
