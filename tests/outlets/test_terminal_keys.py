"""Marks by a key in the live view."""

from __future__ import annotations

import io
import os
import pty
import termios
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console

from rigmon.outlets import terminal as terminal_view
from rigmon.outlets.glance import Glance
from rigmon.outlets.terminal import LiveView, worst_first
from rigmon.records import (
    Alarm,
    AlarmState,
    Choice,
    ChoiceField,
    MarkWord,
    Quality,
    State,
    Undoable,
)
from tests.waiting import until

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]
PATIENCE_S = 10.0

ICE = ChoiceField("ice_g", "ice", "g", None, 0.0, 50_000.0, 50.0)
SALT = ChoiceField("salt_g", "salt", "g", None, 0.0, 20_000.0, 10.0)
CHOICES = (
    Choice("beat-stop", "Beating stopped", "s"),
    Choice("recharge", "Recharged", "r", (ICE, SALT)),
    Choice("scrape", "Wall scraped", "w"),
)


class CountingView(LiveView):
    """Counts what it took in from the keys."""

    taken = 0

    def _press(self, came: str) -> None:
        super()._press(came)
        self.taken += 1


class Maker:
    """Types at a terminal, and has what the view asked of the program."""

    def __init__(self, rigs: tuple[str, ...]) -> None:
        self.here, self.there = pty.openpty()
        self.glances = {rig: Glance(rig) for rig in rigs}
        self.console = Console(
            record=True, width=100, height=40, force_terminal=True, file=io.StringIO()
        )
        self.view = CountingView(self.glances, self.console, self.there)
        self.asked: list[tuple[str | None, str]] = []
        self.answer: Mapping[str, Any] = {"ok": True, "text": "Done as you said."}
        self._changed = threading.Condition()
        self.view.open(self._ask)
        until(lambda: not termios.tcgetattr(self.there)[3] & termios.ICANON)

    def _ask(self, rig: str | None, mark: str) -> Mapping[str, Any]:
        with self._changed:
            self.asked.append((rig, mark))
            self._changed.notify_all()
        return self.answer

    def type(self, text: str) -> None:
        """Press some keys at once, and wait until they have been taken in."""
        wanted = self.view.taken + 1
        os.write(self.here, text.encode())
        until(lambda: self.view.taken >= wanted)

    def until_asked(self, times: int = 1) -> list[tuple[str | None, str]]:
        """What was asked so far, once it is so much."""
        with self._changed:
            assert self._changed.wait_for(lambda: len(self.asked) >= times, PATIENCE_S)
            return self.asked

    def until_shown(self, words: str) -> str:
        """The pictures so far, once they have these words."""

        def shown() -> str:
            return self.console.export_text(clear=False)

        until(lambda: words in shown(), PATIENCE_S, lambda: shown()[-4000:])
        return shown()

    def close(self) -> None:
        """Go away."""
        self.view.close()
        for end in (self.here, self.there):
            os.close(end)


@pytest.fixture
def maker(monkeypatch: pytest.MonkeyPatch) -> Iterator[Maker]:
    """A maker at a terminal that shows one rig; keys count at once."""
    monkeypatch.setattr(terminal_view, "_AGAIN_S", 0.0)
    one = Maker(("rig-a",))
    yield one
    one.close()


@pytest.fixture
def busy(monkeypatch: pytest.MonkeyPatch) -> Iterator[Maker]:
    """A maker at a terminal that shows two rigs."""
    monkeypatch.setattr(terminal_view, "_AGAIN_S", 0.0)
    one = Maker(("rig-a", "rig-b"))
    yield one
    one.close()


@pytest.fixture
def beating(make_state: MakeState) -> State:
    """A state with marks to choose from."""
    return replace(make_state(), choices=CHOICES)


def test_a_key_is_the_mark_that_stands_beside_it(maker: Maker, beating: State) -> None:
    """For the rig that is shown; what was made of it is told."""
    maker.view.tell("rig-a", beating)
    maker.until_shown("Beating stopped")
    maker.type("s")

    assert maker.until_asked() == [("rig-a", "beat-stop")]
    maker.until_shown("Done as you said.")


def test_an_advised_recharge_is_one_key(
    maker: Maker, beating: State, make_alarm: MakeAlarm
) -> None:
    """Its grams are those of the alarm's advice, and stand beside the key before it is pressed."""
    advice: dict[str, float | str] = {"do": "recharge", "ice_g": 900.0, "salt_g": 180.0}
    maker.view.tell("rig-a", beating)
    maker.view.tell("rig-a", replace(make_alarm("bath-limit-near"), advice=advice))
    maker.until_shown("Recharged (ice 900 g, salt 180 g)")
    maker.type("r")

    assert maker.until_asked() == [("rig-a", "recharge ice_g=900 salt_g=180")]


def test_other_amounts_are_typed_behind_a_capital(maker: Maker, beating: State) -> None:
    """They are asked for where nothing is advised, too; Esc leaves all as it was."""
    maker.view.tell("rig-a", beating)
    maker.type("R")
    maker.until_shown("Recharged: ice (g), salt (g)")
    maker.type("8")
    maker.type("50 xx\r")
    maker.until_shown("salt: a number from 0 to 20000 is needed.")
    maker.type("\x7f\x7f140\r")

    assert maker.until_asked() == [("rig-a", "recharge ice_g=850 salt_g=140")]
    maker.type("r")
    maker.type("1")
    maker.until_shown("▸ 1▏")
    maker.type("\x1b")
    maker.type("w")
    assert maker.until_asked(2)[1:] == [("rig-a", "scrape")]


def test_alarms_are_answered_and_put_aside(
    maker: Maker, beating: State, make_alarm: MakeAlarm
) -> None:
    """One key for all that sound, one for the most urgent."""
    maker.view.tell("rig-a", beating)
    maker.view.tell("rig-a", make_alarm("probe-silent"))
    maker.view.tell("rig-a", make_alarm())
    maker.type("a")
    maker.until_asked()
    maker.type("l")

    assert maker.until_asked(2) == [("rig-a", "ack"), ("rig-a", "shelve plateau-reached")]


def test_the_last_mark_is_taken_back_while_it_is_offered(maker: Maker, beating: State) -> None:
    """It is named; where there is nothing to take back the key says so."""
    maker.view.tell("rig-a", beating)
    maker.type("u")
    maker.until_shown("No key takes that back any more")
    undo = Undoable(MarkWord.SCRAPE, 300.0)
    maker.view.tell("rig-a", replace(beating, at=313.0, undo=undo))
    maker.until_shown("take back: Wall scraped")
    maker.type("u")

    assert maker.until_asked() == [("rig-a", "undo")]


def test_a_note_is_typed(maker: Maker, beating: State) -> None:
    """Letters that are keys otherwise are letters of the note."""
    maker.view.tell("rig-a", beating)
    maker.type("n")
    maker.until_shown("Note")
    maker.type("stiff walls")
    maker.type("\r")

    assert maker.until_asked() == [("rig-a", "note note='stiff walls'")]


def test_a_paste_an_arrow_and_a_letter_that_means_nothing_mark_nothing(
    maker: Maker, beating: State
) -> None:
    """Only a key that stands on the screen does anything."""
    maker.view.tell("rig-a", beating)
    for typed in ("swr", "\x1b[A", "z", "\x00", "\r"):
        maker.type(typed)
    maker.until_shown("z means nothing here.")
    maker.type("w")

    assert maker.until_asked() == [("rig-a", "scrape")]


def test_a_key_that_is_held_down_is_one(maker: Maker, beating: State) -> None:
    """Two recharges are not what a heavy hand meant."""
    maker.view.tell("rig-a", beating)
    terminal_view._AGAIN_S = 60.0
    for _ in range(5):
        maker.type("w")
    maker.type("s")

    assert maker.until_asked(2) == [("rig-a", "scrape"), ("rig-a", "beat-stop")]


def test_a_mark_that_is_not_taken_says_why(maker: Maker, beating: State) -> None:
    """The program's own sentence."""
    maker.answer = {"ok": False, "text": "The mark was not taken: no."}
    maker.view.tell("rig-a", beating)
    maker.type("s")

    maker.until_shown("The mark was not taken: no.")


def test_the_worst_rig_comes_first_and_tab_goes_round(
    busy: Maker, beating: State, make_alarm: MakeAlarm
) -> None:
    """Both are named all the while; a mark is for the one that is shown."""
    busy.view.tell("rig-a", beating)
    busy.view.tell("rig-b", beating)
    busy.view.tell("rig-b", make_alarm())
    busy.until_shown("▸rig-b")
    busy.type("w")
    busy.until_asked()
    busy.type("\t")
    busy.until_shown("▸rig-a")
    busy.type("w")
    busy.until_asked(2)
    busy.type("\x1b[Z")
    busy.type("s")

    assert busy.until_asked(3) == [("rig-b", "scrape"), ("rig-a", "scrape"), ("rig-b", "beat-stop")]


def test_a_rig_that_has_just_come_up_does_not_take_another_ones_key(
    busy: Maker, beating: State, make_alarm: MakeAlarm
) -> None:
    """The finger was on its way before the picture changed."""
    busy.view.tell("rig-a", beating)
    busy.view.tell("rig-b", beating)
    terminal_view._AGAIN_S = 60.0
    busy.view.tell("rig-b", make_alarm())
    busy.type("s")

    busy.until_shown("Another rig has come up: press it again.")
    assert busy.asked == []


def test_a_note_stays_with_its_rig(busy: Maker, beating: State, make_alarm: MakeAlarm) -> None:
    """An alarm of another rig does not carry off what is being typed."""
    busy.view.tell("rig-a", beating)
    busy.view.tell("rig-b", beating)
    busy.type("n")
    busy.until_shown("Note")
    busy.view.tell("rig-b", make_alarm())
    busy.type("mine\r")

    assert busy.until_asked() == [("rig-a", "note note=mine")]


def test_trouble_is_ordered(make_state: MakeState, make_alarm: MakeAlarm) -> None:
    """What sounds before what is acknowledged, that before a bad probe, and that before none."""
    glances = {name: Glance(name) for name in ("calm", "bad", "heard", "low", "high")}
    for name, glance in glances.items():
        glance.tell(make_state(quality=Quality.NOISY if name == "bad" else Quality.GOOD))
    glances["heard"].tell(make_alarm(state=AlarmState.ACKNOWLEDGED))
    glances["low"].tell(make_alarm("ice-gone"))
    glances["high"].tell(make_alarm())

    assert [one.rig_id for one in worst_first(glances)] == ["high", "low", "heard", "bad", "calm"]


def test_without_a_terminal_to_type_at_no_keys_are_offered(beating: State) -> None:
    """As in `rigmon watch < /dev/null`."""
    console = Console(record=True, width=100, height=40, force_terminal=True, file=io.StringIO())
    view = LiveView({"rig-a": Glance("rig-a")}, console)
    view.open(lambda _rig, _mark: {"ok": True})
    view.tell("rig-a", beating)
    view.close()

    assert "Wall scraped" not in console.export_text()
