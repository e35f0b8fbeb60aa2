"""The live view in a terminal: the verb first, then the rig, the trend, and what happened."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from rigmon.outlets.bell import Bell
from rigmon.outlets.glance import TREND_S, Glance
from rigmon.outlets.plain import AHEAD, summary_line
from rigmon.records import Alarm, Priority, Said, State
from rigmon.run.headline import span
from rigmon.texts import marked
from rigmon.units import clock

_BARS = "▁▂▃▄▅▆▇█"
_TREND_WIDTH = 44
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


def render(glance: Glance) -> RenderableType:
    """One rig as a panel."""
    head = glance.headline()
    state = glance.state
    verb = Text(f" {head.verb.upper()} ", style=_LOUD[head.priority])
    lines: list[RenderableType] = [Text.assemble(verb, "  ", head.reason)]
    title = glance.rig_id + (f"  ·  {glance.speech.say('virtual rig')}" if glance.virtual else "")
    if state is not None:
        lines += ["", _figures(glance, state), "", _trend(glance)]
        title += f"  ·  {glance.stage()}  ·  {clock(max(state.at, 0.0))}"
    if glance.notes:
        lines.append("")
        notes = Table.grid(padding=(0, 2))
        for at, text in glance.notes:
            notes.add_row(clock(max(at, 0)).rjust(6), Text(text), style="dim")
        lines.append(notes)
    return Panel(Group(*lines), title=title, title_align="left", padding=(1, 2))


def _figures(glance: Glance, state: State) -> RenderableType:
    estimate, speech = state.estimate, glance.speech
    say = speech.say
    table = Table.grid(padding=(0, 3))

    def with_sd(value: float | None, sd: float | None, words: str) -> str:
        if value is None or sd is None:
            return "–"
        return say(words, figure=f"{value:.0f} ± {2 * sd:.0f}")

    brine, left = estimate.brine_pct, estimate.ice_left_g
    table.add_row(say("bath"), speech.temperature(estimate.bath_c), "")
    table.add_row(
        say("brine"),
        "–" if brine is None else say("{share} % salt", share=f"{brine:.0f}"),
        "" if left is None else say("ice left {ice}", ice=speech.mass(left)),
    )
    table.add_row(say("mix"), speech.temperature(estimate.mix_c, 2), "")
    table.add_row(
        say("frozen"),
        with_sd(estimate.frozen_pct, estimate.frozen_pct_sd, marked("{figure} % of its water")),
        with_sd(estimate.cooling_w, estimate.cooling_w_sd, marked("{figure} W out of the mix")),
    )
    for event, words in AHEAD:
        ahead = span(glance.forecasts.get(event), state.at, speech)
        if ahead is not None:
            table.add_row(say(words), ahead, "")
    for probe, fault in glance.bad_probes():
        table.add_row(probe, Text(fault, style="bold yellow"), "")
    return table


def _trend(glance: Glance) -> RenderableType:
    speech = glance.speech
    table = Table.grid(padding=(0, 2))
    for name, index in ((speech.say("bath"), 1), (speech.say("mix"), 2)):
        values = [point[index] for point in glance.trend]
        known = [value for value in values if value is not None]
        if known:
            reach = speech.say(
                "{warmest} to {coldest}",
                warmest=speech.temperature(max(known)),
                coldest=speech.temperature(min(known)),
            )
            table.add_row(name, sparkline(values, _TREND_WIDTH), reach)
    last = speech.say("last {n} min at most", n=f"{TREND_S / 60:.0f}")
    table.add_row("", Text(last, style="dim"), "")
    return table


class LiveView:
    """Shows every rig, drawn at most four times a second.

    Args:
        glances: what is known of each rig, by id; filled by `tell`.
        console: where to; None for standard output.
    """

    def __init__(
        self,
        glances: Mapping[str, Glance],
        console: Console | None = None,
    ) -> None:
        self._glances = glances
        self._console = console or Console()
        # Drawn from the thread that tells, so that nothing changes under the drawing.
        self._live = Live(console=self._console, auto_refresh=False)
        self._live.start()
        self._drawn = 0.0
        self._bell = Bell(self._console.file) if self._console.is_terminal else None

    def _all(self) -> RenderableType:
        return Group(*(render(glance) for glance in self._glances.values()))

    def tell(self, rig_id: str, said: Said) -> None:
        """Take in one thing said; show alarms at once, else a picture every quarter second."""
        self._glances[rig_id].tell(said)
        if self._bell is not None and isinstance(said, Alarm):
            self._bell.tell(rig_id, said)
        if isinstance(said, Alarm) or time.monotonic() - self._drawn >= REFRESH_S:
            self._drawn = time.monotonic()
            self._live.update(self._all(), refresh=True)

    def close(self) -> None:
        """Leave the last picture on the screen, and the summaries below it."""
        if self._bell is not None:
            self._bell.close()
        self._live.update(self._all(), refresh=True)
        self._live.stop()
        for glance in self._glances.values():
            if glance.summary is not None:
                rig = f"{glance.rig_id}, {glance.speech.say('virtual rig')}: "
                line = summary_line(glance.summary, glance.speech)
                self._console.print(Text(rig + line if glance.virtual else line))
