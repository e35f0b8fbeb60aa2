"""The rig in cross-section, in characters: what stands there, how full, how stiff the mix."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from rigmon.records import Stage, State

WIDE = 27
_BOWLS = (
    "┃ggg┃mmmmmmmmmmmmmmmmm┃ggg┃",
    "┃ggg┃mmmmmmmmmmmmmmmmm┃ggg┃",
    "┃ggg┃mmmmmmmmmmmmmmmmm┃ggg┃",
    "┃gggg╲mmmmmmmmmmmmmmm╱gggg┃",
    "╲ggggg╲▁▁▁▁▁▁▁▁▁▁▁▁▁╱ggggg╱",
    " ╲ggggggggggggggggggggggg╱ ",
    "  ╲▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁╱  ",
)
_TUBS = (
    "  ┏━━━━━━━━━┓ ┏━━━━━━━━━┓  ",
    "  ┗┯━━━━━━━┯┛ ┗┯━━━━━━━┯┛  ",
    "   │mmmmmmm│   │mmmmmmm│   ",
    "   │mmmmmmm│   │mmmmmmm│   ",
    "   ╰───────╯   ╰───────╯   ",
)
_POT = (
    "     ┃               ┃     ",
    "  ┏━━┫               ┣━━┓  ",
    "  ┗━━┫mmmmmmmmmmmmmmm┣━━┛  ",
    "     ┃mmmmmmmmmmmmmmm┃     ",
    "     ┗━━━━━━━━━━━━━━━┛     ",
)
_PEAKS = "▁▂▄▂▁▃▅▃▁▂▄▂▁▃▄▂▁"
_GAP_ROWS = 6
_STIFF_PCT = 12.0
_BEATERS = (10, 16)
_STYLES = {"▒": "bright_cyan", "≈": "blue", "m": "yellow", "?": "dim"}


def sketch(state: State) -> list[Text]:
    """The rig as it stands, `WIDE` columns; what is not known is dotted.

    Ice sinks in the outer bowl as it is spent, brine rises, and the mix grows denser with its
    frozen share.
    """
    if state.stage is Stage.BASE:
        return _drawn(_POT, lambda *_: " ", _mix(state))
    if state.stage in (Stage.PACK, Stage.HARDEN, Stage.DONE):
        return _drawn(_TUBS, lambda *_: " ", _mix(state))
    mix = _mix(state) if state.stage in (Stage.BEAT, Stage.REST) else (lambda *_: " ")
    return _drawn(_BOWLS, _bath(state), mix)


_Fill = Callable[[int, int], str]


def _bath(state: State) -> _Fill:
    left_g, put_g = state.estimate.ice_left_g, state.estimate.ice_put_g
    if left_g is None or not put_g:
        return lambda row, column: "?" if (row + column) % 2 else " "
    share = min(max(left_g / put_g, 0.0), 1.0)
    brine = 0.6 * (1.0 - share)

    def fill(row: int, _: int) -> str:
        height = (_GAP_ROWS - 0.5 - row) / _GAP_ROWS
        return "≈" if height < brine else "▒" if height < share else " "

    return fill


def _mix(state: State) -> _Fill:
    frozen = state.estimate.frozen_pct
    steps = ((2.0, "·"), (10.0, "░"), (20.0, "▒"), (101.0, "▓"))
    body = "·" if frozen is None else next(char for top, char in steps if frozen <= top)
    in_bowl = state.stage in (Stage.BEAT, Stage.REST)

    def fill(row: int, column: int) -> str:
        if in_bowl and row <= 2 and column in _BEATERS and state.stage is Stage.BEAT:
            return "║"
        if not in_bowl or row:
            return body
        stiff = frozen is not None and frozen >= _STIFF_PCT
        return _PEAKS[column % len(_PEAKS)] if stiff else " "

    return fill


def _drawn(shape: tuple[str, ...], gap: _Fill, mix: _Fill) -> list[Text]:
    lines = []
    for row, line in enumerate(shape):
        text = Text(no_wrap=True)
        for column, place in enumerate(line):
            char = {"g": gap, "m": mix}[place](row, column) if place in "gm" else place
            if char == "?":
                text.append("·", _STYLES["?"])
            else:
                text.append(char, _STYLES.get(place if place == "m" else char, ""))
        lines.append(text)
    return lines
