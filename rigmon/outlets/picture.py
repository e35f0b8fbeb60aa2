"""One rig as a terminal shows it: what to do first, then the rig, the trend, and what happened.

It fits the terminal that there is: in a low one the trend and the news make room for the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, Group, RenderResult
from rich.panel import Panel
from rich.text import Text

from rigmon.outlets.glance import ALARM_STATES, PRIORITIES, TREND_S, Glance
from rigmon.outlets.plain import AHEAD
from rigmon.outlets.sketch import WIDE, sketch
from rigmon.records import Priority, State
from rigmon.run.headline import parted, span, stiffening, upcoming
from rigmon.texts import marked
from rigmon.units import clock

_BARS = "▁▂▃▄▅▆▇█"
LOUD: Mapping[Priority | None, str] = {
    None: "bold",
    Priority.LOW: "bold black on white",
    Priority.MEDIUM: "bold black on yellow",
    Priority.HIGH: "bold white on red",
}
_LAYOUTS = (
    # rows of each trend, alarms, news, rows of keys, empty rows between, all figures
    (4, 6, 6, 5, True, True),
    (3, 4, 6, 4, True, True),
    (2, 4, 6, 4, True, True),
    (2, 4, 4, 4, True, True),
    (2, 3, 3, 3, True, True),
    (2, 3, 2, 3, True, True),
    (2, 2, 3, 3, False, True),
    (1, 2, 2, 3, False, True),
    (1, 2, 1, 3, False, True),
    (1, 1, 0, 3, False, False),
    (0, 1, 0, 3, False, False),
    (0, 1, 0, 2, False, False),
    (0, 0, 0, 1, False, False),
)
_Layout = tuple[int, int, int, int, bool, bool]
_UNBOUNDED = 2
"""The layout where there is no height to be kept to."""
_WITH_SKETCH = 70
_LABEL = 9
_GAP = 3


def bars(values: Sequence[float | None], width: int, rows: int = 1) -> list[str]:
    """Values as rows of block characters, oldest left; a gap where there was none.

    >>> bars([-20.0, -15.0, None, -10.0], 4)
    ['▁▅ █']
    >>> bars([-20.0, -15.0, None, -10.0], 4, rows=2)
    [' ▁ █', '▁█ █']
    """
    known = [value for value in values if value is not None]
    if not known:
        return [" " * width] * rows
    low, reach = min(known), max(max(known) - min(known), 0.5)
    heights: list[int | None] = []
    for i in range(width):
        part = values[i * len(values) // width : max((i + 1) * len(values) // width, 1)]
        there = [value for value in part if value is not None]
        mean = sum(there) / len(there) if there else None
        steps = rows * len(_BARS)
        heights.append(None if mean is None else min(int((mean - low) / reach * steps), steps - 1))
    return ["".join(_cell(height, rows - 1 - row) for height in heights) for row in range(rows)]


def _cell(height: int | None, floor: int) -> str:
    above = -1 if height is None else height - floor * len(_BARS)
    return " " if above < 0 else _BARS[min(above, len(_BARS) - 1)]


@dataclass(frozen=True, slots=True)
class Picture:
    """One rig, for rich to draw.

    Args:
        glance: what is known of it.
        height: rows that there are; None for as many as it takes.
        others: a line on each rig that is watched, where there are several.
        keys: what each key does.
        message: what was made of the last key; "" for nothing.
    """

    glance: Glance
    height: int | None = None
    others: Text | None = None
    keys: tuple[tuple[str, str], ...] = field(default=())
    message: Text | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """The panel, as wide as the terminal."""
        inner = max(options.max_width - 4, 8)
        rows = None if self.height is None else max(self.height - 2, 1)
        glance, state = self.glance, self.glance.state
        title = glance.rig_id
        title += f"  ·  {glance.speech.say('virtual rig')}" if glance.virtual else ""
        if state is not None:
            title += f"  ·  {glance.stage()}  ·  {clock(max(state.at, 0.0))}"
        lines = self._fitted(_Wrap(console, inner), rows)
        shown = Group(*(_ended(line, inner) for line in lines))
        yield Panel(shown, title=Text(title), title_align="left", padding=(0, 1))

    def _fitted(self, wrap: _Wrap, rows: int | None) -> list[Text]:
        if rows is None:
            return list(self._lines(wrap, _LAYOUTS[_UNBOUNDED]))
        lines: list[Text] = []
        for layout in _LAYOUTS:
            lines = list(self._lines(wrap, layout))
            if len(lines) <= rows:
                return lines
        # So low a terminal has the verb, and what is being typed or was just pressed.
        foot = lines[-1:] if self.message is None else wrap(self.message)[-2:]
        return [*lines[: rows - len(foot)], *foot] if rows > len(foot) else lines[:rows]

    def _lines(self, wrap: _Wrap, layout: _Layout) -> Iterator[Text]:
        trend_rows, alarms, news, key_rows, airy, full = layout
        glance, state = self.glance, self.glance.state
        sections: list[list[Text]] = [
            [] if self.others is None else [self.others],
            self._head(wrap),
        ]
        if state is not None:
            sections.append(_rig(glance, state, wrap.width, full))
            if trend_rows:
                sections.append(_trend(glance, wrap.width, trend_rows))
        sections.append(self._alarms()[:alarms])
        sections.append(self._news(wrap, news))
        below = [] if self.message is None else wrap(self.message)
        sections.append([*below, *wrap.packed(self.keys)[:key_rows]])
        begun = False
        for section in filter(None, sections):
            if begun and airy:
                yield Text()
            begun = True
            yield from section

    def _head(self, wrap: _Wrap) -> list[Text]:
        head, speech, state = self.glance.headline(), self.glance.speech, self.glance.state
        verb = Text(f" {head.verb.upper()} ", style=LOUD[head.priority])
        lines = wrap(Text.assemble(verb, "  ", head.reason))
        ahead = upcoming(state, self.glance.forecasts, speech)
        # What comes next is worth a line of its own where the verb says something else.
        said = [stiffening(state, speech), ahead.text if ahead and head.priority else None]
        more = ", ".join(one for one in said if one)
        return [*lines, *(wrap(Text(f"   {more}", style="dim")) if more else [])]

    def _alarms(self) -> list[Text]:
        """Alarms that stand, but for the one that is the verb."""
        speech = self.glance.speech
        verb = self.glance.headline().verb
        lines = []
        for alarm in self.glance.standing():
            call, _ = parted(alarm)
            if call == verb:
                continue
            priority = f" {speech.say(PRIORITIES[alarm.priority])} "
            state = speech.say(ALARM_STATES[alarm.state])
            lines.append(Text.assemble((priority, LOUD[alarm.priority]), f" {call}: {state}"))
        return lines

    def _news(self, wrap: _Wrap, most: int) -> list[Text]:
        lines: list[Text] = []
        for at, text in reversed(self.glance.notes):
            when = clock(max(at, 0.0)).rjust(6)
            wrapped = wrap.hanging(f"{when}  ", text, "dim")
            if len(lines) + len(wrapped) > most:
                break
            lines = [*wrapped, *lines]
        return lines


@dataclass(frozen=True, slots=True)
class _Wrap:
    """Breaks lines at a width."""

    console: Console
    width: int

    def __call__(self, text: Text) -> list[Text]:
        return list(text.wrap(self.console, self.width))

    def hanging(self, head: str, text: str, style: str) -> list[Text]:
        """A text behind a head, its further lines below its own first."""
        room = max(self.width - cell_len(head), 8)
        parts = Text(text).wrap(self.console, room)
        blank = " " * cell_len(head)
        return [Text((blank if i else head) + part.plain, style) for i, part in enumerate(parts)]

    def packed(self, keys: Sequence[tuple[str, str]]) -> list[Text]:
        """Keys and what they do, as many to a line as fit."""
        lines: list[Text] = []
        for key, words in keys:
            one = Text.assemble((f" {key} ", "reverse"), f" {words}")
            if lines and lines[-1].cell_len + _GAP + one.cell_len <= self.width:
                lines[-1].append(" " * _GAP).append_text(one)
            else:
                lines.append(one)
        return lines


def _ended(line: Text, width: int) -> Text:
    """A line that is cut rather than broken."""
    shown = line.copy()
    shown.no_wrap, shown.overflow = True, "ellipsis"
    shown.truncate(width, overflow="ellipsis")
    return shown


def _rig(glance: Glance, state: State, width: int, full: bool) -> list[Text]:
    """The rig in cross-section with its figures beside it; only the figures where it is narrow."""
    figures = [*_figures(glance, state, full)]
    if width < _WITH_SKETCH:
        return figures
    drawn = sketch(state)
    blank = Text(" " * WIDE)
    rows = max(len(drawn), len(figures))
    beside = " " * _GAP
    return [
        Text.assemble(
            drawn[i] if i < len(drawn) else blank, beside, figures[i] if i < len(figures) else ""
        )
        for i in range(rows)
    ]


def _figures(glance: Glance, state: State, full: bool) -> Iterator[Text]:
    estimate, speech = state.estimate, glance.speech
    say = speech.say

    def line(label: str, value: str, style: str = "") -> Text:
        return Text.assemble((f"{label.ljust(_LABEL)}  ", "dim"), (value, style))

    def with_sd(value: float | None, sd: float | None, words: str) -> str:
        if value is None or sd is None:
            return "–"
        return say(words, figure=f"{value:.0f} ± {2 * sd:.0f}")

    def of_mass(value: float | None, sd: float | None) -> str:
        return speech.mass(value) + ("" if sd is None else f" ± {speech.mass(2 * sd)}")

    limit = glance.limit_c
    bath = speech.temperature(estimate.bath_c)
    bath += f"   {say('limit {c}', c=speech.temperature(limit))}" if limit is not None else ""
    over = None not in (limit, estimate.bath_c) and _over(estimate.bath_c, limit, state)
    yield line(say("bath"), bath, "bold yellow" if over else "bold")
    brine = "–"
    if estimate.brine_pct is not None:
        brine = say("{share} % salt", share=f"{estimate.brine_pct:.0f}")
    if full:
        yield line(say("brine"), brine)
    left = estimate.ice_left_g
    yield line(say("ice"), "–" if left is None else of_mass(left, estimate.ice_left_g_sd))
    yield line(say("mix"), speech.temperature(estimate.mix_c, 2), "bold")
    share = marked("{figure} % of its water")
    yield line(say("frozen"), with_sd(estimate.frozen_pct, estimate.frozen_pct_sd, share), "bold")
    out = marked("{figure} W out of the mix")
    if full:
        yield line(say("heat"), with_sd(estimate.cooling_w, estimate.cooling_w_sd, out))
    if full and estimate.wall_g is not None and estimate.wall_g >= _WALL_G:
        yield line(say("wall"), of_mass(estimate.wall_g, estimate.wall_g_sd))
    for event, words in AHEAD:
        ahead = span(glance.forecasts.get(event), state.at, speech)
        if ahead is not None:
            yield Text.assemble((f"{say(words)} ", "dim"), (ahead, "bold"))
    for probe, fault in glance.bad_probes():
        yield Text.assemble((f"✕ {probe}: {fault}", "bold yellow"))


_WALL_G = 5.0


def _over(bath_c: float | None, limit_c: float | None, state: State) -> bool:
    beaten = state.round > 0
    return beaten and bath_c is not None and limit_c is not None and bath_c > limit_c


def _trend(glance: Glance, width: int, rows: int) -> list[Text]:
    speech = glance.speech
    names = (speech.say("bath"), speech.say("mix"))
    label = max(map(len, names)) + 2
    reach: Callable[[float], str] = speech.temperature
    lines: list[Text] = []
    for name, index in zip(names, (1, 2), strict=True):
        values = [point[index] for point in glance.trend]
        known = [value for value in values if value is not None]
        if not known:
            continue
        ends = [reach(max(known)), *[""] * (rows - 2), reach(min(known))]
        if rows == 1:
            ends = [speech.say("{warmest} to {coldest}", warmest=ends[0], coldest=ends[-1])]
        room = max(width - label - 2 - max(map(cell_len, ends)), 4)
        for i, row in enumerate(bars(values, room, rows)):
            lines.append(Text(f"{(name if not i else '').ljust(label)}{row}  {ends[i]}"))
    if lines:
        last = speech.say("last {n} min at most", n=f"{TREND_S / 60:.0f}")
        lines.append(Text(" " * label + last, "dim"))
    return lines
