"""One rig on terminals of every size."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from rigmon.outlets.glance import Glance
from rigmon.outlets.picture import Picture, bars
from rigmon.outlets.sketch import WIDE, sketch
from rigmon.records import Notice, Said, Stage, State

MakeState = Callable[..., State]
MakeAlarm = Callable[..., object]
KEYS = (("a", "heard"), ("s", "Beating stopped"), ("r", "Recharged (ice 900 g, salt 180 g)"))
MESSAGE = "Bath recharged: 900 g ice, 180 g salt."


def drawn(glance: Glance, width: int, height: int | None, message: str = MESSAGE) -> list[str]:
    """The lines that a terminal gets."""
    console = Console(record=True, width=width, height=height or 200, file=io.StringIO())
    said = Text(message) if message else None
    console.print(Picture(glance, height, Text("▸rig-a  rig-b"), KEYS, said))
    return console.export_text().splitlines()


@pytest.fixture
def full(make_state: MakeState, make_alarm: MakeAlarm, ahead: tuple[Said, ...]) -> Glance:
    """A glance with all that can be shown at once."""
    glance = Glance("rig-a", limit_c=-9.0)
    for at in range(200):
        glance.tell(make_state(at=float(at)))
    glance.tell(make_state())
    alarms = [make_alarm("bath-limit-near"), make_alarm("probe-silent"), make_alarm()]
    notices = [Notice(300.0 + n, "x", f"Something happened, number {n}. " * 3) for n in range(6)]
    for one in (*ahead, *alarms, *notices):
        glance.tell(one)  # type: ignore[arg-type]
    return glance


@pytest.mark.parametrize("stage", list(Stage))
@pytest.mark.parametrize(
    ("width", "height"), [(24, 8), (40, 12), (44, 16), (80, 23), (80, 24), (120, 40), (250, 70)]
)
def test_it_fits_and_keeps_what_matters(
    full: Glance, make_state: MakeState, stage: Stage, width: int, height: int
) -> None:
    """No line is wider, no row too many, and the verb and the answer to a key are there."""
    full.tell(make_state(stage, at=400.0))
    lines = drawn(full, width, height)

    assert len(lines) <= height
    assert max(map(cell_len, lines)) <= width
    words = " ".join(" ".join(line.strip("│ ") for line in lines).split())
    assert full.headline().verb.upper() in words
    assert MESSAGE in words


def test_a_usual_terminal_has_all_five(full: Glance) -> None:
    """80 by 24: what to do, the rig, the trend, the alarms, and what the keys do."""
    text = "\n".join(drawn(full, 80, 24))

    for words in (
        "STOP: TO THE FREEZER",
        "−16.8 °C",
        "7 ± 2 % of its water",
        "2.01 kg ± 320 g",
        "stiff in 6–8 min",
        "▁",
        "Recharge: unacknowledged",
        " s  Beating stopped",
        "Recharged (ice 900 g, salt 180 g)",
    ):
        assert words in text


def test_a_higher_terminal_has_no_less(full: Glance) -> None:
    """Each row more shows what was there, or more."""
    before = 0
    for height in range(6, 60):
        filled = sum(bool(line.strip("│╭╮╰╯─ ")) for line in drawn(full, 100, height))
        assert filled >= before or height < 30
        before = filled


def test_an_alarm_put_in_the_verb_is_not_said_twice(full: Glance) -> None:
    """What stands in the first line does not stand among the others."""
    text = "\n".join(drawn(full, 100, 50))

    assert "Stop: to the freezer: unacknowledged" not in text


def test_a_flat_trend_is_drawn_flat_and_a_gap_as_a_gap() -> None:
    """A probe's last digit is no mountain range."""
    (flat,) = bars([-15.0, -15.01, -15.0, -15.01], 4)

    assert len(set(flat)) == 1
    assert bars([None, None], 3) == ["   "]
    assert bars([-20.0, None, -10.0], 3)[0][1] == " "


def test_higher_bars_say_the_same() -> None:
    """In two rows the upper one has only what the lower has no room for."""
    above, below = bars([0.0, 1.0, 2.0, 3.0], 4, rows=2)

    assert above == "  ▃█"
    assert below == "▁▆██"


@pytest.mark.parametrize("stage", list(Stage))
def test_the_sketch_is_as_wide_as_it_says(make_state: MakeState, stage: Stage) -> None:
    """So that the figures beside it stand in one column."""
    for empty in (False, True):
        assert {line.cell_len for line in sketch(make_state(stage, empty=empty))} == {WIDE}


def ice(state: State, left_g: float | None) -> str:
    """The sketch with so much of 2600 g of ice left."""
    estimate = replace(state.estimate, ice_put_g=2600.0, ice_left_g=left_g)
    return "\n".join(line.plain for line in sketch(replace(state, estimate=estimate)))


def test_ice_sinks_and_brine_rises(make_state: MakeState) -> None:
    """Less ice shows less of it, and the brine that it became."""
    shown = [ice(make_state(), left_g) for left_g in (2600.0, 1800.0, 900.0, 0.0)]

    rows = [text.count("▒") for text in shown]
    assert rows == sorted(rows, reverse=True)
    assert rows[-1] == 0
    assert "≈" not in shown[0]
    assert [text.count("≈") for text in shown] == sorted(text.count("≈") for text in shown)


def test_ice_that_was_not_weighed_is_not_drawn_as_known(make_state: MakeState) -> None:
    """Dots stand for what nobody knows."""
    shown = ice(make_state(), None)

    assert "▒" not in shown
    assert "≈" not in shown
