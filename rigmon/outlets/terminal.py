"""The live view in a terminal: one rig at a time, the others in a line, and marks by a key."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from typing import Any

from rich.console import Console, RenderableType
from rich.live import Live
from rich.text import Text

from rigmon.outlets import keymarks
from rigmon.outlets.bell import Bell
from rigmon.outlets.glance import Glance
from rigmon.outlets.keymarks import ALWAYS, Entry
from rigmon.outlets.keys import Keys
from rigmon.outlets.picture import LOUD, Picture
from rigmon.outlets.plain import summary_line
from rigmon.records import Alarm, AlarmState, Priority, Quality, Said
from rigmon.run.choices import named

REFRESH_S = 0.25
"""A picture stands for at least this long [s]."""
UNDO_S = 60.0
"""A key takes a mark back for this long after it was heard [s]; `rigmon mark undo` does later."""
_MESSAGE_S = 30.0
_AGAIN_S = 1.0
"""A key that is held down counts once [s]; so long too after another rig has come to the front."""
_URGENCY = (Priority.LOW, Priority.MEDIUM, Priority.HIGH)

Ask = Callable[[str | None, str], Mapping[str, Any]]
"""Takes a rig's id and a mark as text; gives the answer, with whether it was taken and a text."""


def render(glance: Glance) -> RenderableType:
    """One rig as a panel, as high as it takes."""
    return Picture(glance)


def worst_first(glances: Mapping[str, Glance]) -> list[Glance]:
    """Rigs in the order in which they want looking at."""

    def trouble(glance: Glance) -> tuple[int, int, int]:
        calls = [a.priority for a in glance.standing() if a.state is AlarmState.UNACKNOWLEDGED]
        standing = [alarm.priority for alarm in glance.standing()]
        bad = sum(quality is not Quality.GOOD for quality in _qualities(glance))
        return -_worst(calls), -_worst(standing), -bad

    return sorted(glances.values(), key=trouble)


def _worst(priorities: list[Priority]) -> int:
    return max((1 + _URGENCY.index(one) for one in priorities), default=0)


def _qualities(glance: Glance) -> tuple[Quality, ...]:
    return () if glance.state is None else tuple(glance.state.quality.values())


class LiveView:
    """Shows the rig that most wants looking at, or the one that was chosen by Tab.

    Drawn at most four times a second, and anew on a cleared screen when the terminal has changed
    its size. What was told before lies above it; the last picture of each rig stays in the end.

    Args:
        glances: what is known of each rig, by id; filled by `tell`.
        console: where to; None for standard output.
        terminal: file descriptor that keys are read from; None reads none.
    """

    def __init__(
        self,
        glances: Mapping[str, Glance],
        console: Console | None = None,
        terminal: int | None = None,
    ) -> None:
        self._glances = glances
        self._console = console or Console()
        self._terminal = terminal
        self._live: Live | None = None
        self._bell: Bell | None = None
        self._keys: Keys | None = None
        self._ask: Ask | None = None
        # The loop tells and draws, the keys' thread chooses and draws.
        self._lock = threading.RLock()
        self._drawn = 0.0
        self._size = self._console.size
        self._chosen: str | None = None
        self._front: tuple[str, float] = ("", 0.0)
        self._entry: Entry | None = None
        self._message: tuple[Text, float] = (Text(), 0.0)
        self._pressed: tuple[str, float] = ("", 0.0)
        self._undo: dict[str, tuple[object, float]] = {}

    def open(self, ask: Ask | None = None) -> None:
        """Begin to show; with `ask` keys set marks, where there is a terminal to read them from."""
        with self._lock:
            if self._live is not None:
                return
            self._ask = ask
            self._live = self._begun()
            if self._console.is_terminal:
                self._bell = Bell(self._console.file)
            if ask is not None and self._terminal is not None:
                self._keys = Keys(self._terminal, self._press, self._idle)
            self._draw()

    def tell(self, rig_id: str, said: Said) -> None:
        """Take in one thing said; show alarms at once, else a picture every quarter second."""
        with self._lock:
            self.open()
            glance = self._glances[rig_id]
            glance.tell(said)
            if self._bell is not None and isinstance(said, Alarm):
                self._bell.tell(rig_id, said)
            self._see_undo(glance)
            if isinstance(said, Alarm) or time.monotonic() - self._drawn >= REFRESH_S:
                self._draw()

    def close(self) -> None:
        """Leave the last pictures on the terminal, and the summaries below them."""
        if self._keys is not None:
            self._keys.close()
        if self._bell is not None:
            self._bell.close()
        with self._lock:
            if self._live is None:
                return
            self._live.update(Text(), refresh=True)
            self._live.stop()
            for glance in self._glances.values():
                self._console.print(render(glance))
            for glance in self._glances.values():
                if glance.summary is not None:
                    rig = f"{glance.rig_id}, {glance.speech.say('virtual rig')}: "
                    line = summary_line(glance.summary, glance.speech)
                    self._console.print(Text(rig + line if glance.virtual else line))

    def _begun(self) -> Live:
        live = Live(console=self._console, auto_refresh=False, vertical_overflow="crop")
        live.start()
        return live

    def _draw(self) -> None:
        if self._live is None:
            return
        if self._console.size != self._size:
            # The lines of the old picture have been broken anew, nobody knows where.
            self._live.stop()
            self._console.clear()
            self._live, self._size = self._begun(), self._console.size
        self._drawn = time.monotonic()
        glance = self._shown()
        if glance.rig_id != self._front[0]:
            self._front = (glance.rig_id, self._drawn)
        high = self._size.height - 1 if self._console.is_terminal else None
        picture = Picture(glance, high, self._others(glance), self._offered(glance), self._said())
        self._live.update(picture, refresh=True)

    def _shown(self) -> Glance:
        if self._chosen is not None:
            return self._glances[self._chosen]
        return worst_first(self._glances)[0]

    def _others(self, shown: Glance) -> Text | None:
        if len(self._glances) < 2:
            return None
        line = Text()
        for glance in worst_first(self._glances):
            head = glance.headline()
            before = "▸" if glance is shown else " "
            verb = f" {head.verb} "
            line.append(f"{before}{glance.rig_id}", "bold" if glance is shown else "")
            line.append(verb, LOUD[head.priority] if head.priority else "dim").append("  ")
        return line

    def _said(self) -> Text | None:
        if self._entry is not None:
            speech = self._shown().speech
            if self._entry.fault:
                return Text(f"{self._entry.fault}\n▸ {self._entry.typed}▏", "bold yellow")
            return Text(f"{self._entry.prompt(speech)}\n▸ {self._entry.typed}▏", "bold")
        text, since = self._message
        return text if text.plain and time.monotonic() - since < _MESSAGE_S else None

    def _offered(self, glance: Glance) -> tuple[tuple[str, str], ...]:
        """Keys that mean something just now."""
        if self._keys is None:
            return ()
        say = glance.speech.say
        if self._entry is not None:
            return (("Enter", say("take it")), ("Esc", say("leave it")))
        keys = []
        standing = [alarm.state for alarm in glance.standing()]
        if AlarmState.UNACKNOWLEDGED in standing:
            keys.append((keymarks.HEARD, say(ALWAYS[keymarks.HEARD])))
        if keymarks.put_aside(glance.standing()):
            keys.append((keymarks.LATER, say(ALWAYS[keymarks.LATER])))
        taken = self._undoable(glance)
        if taken:
            keys.append((keymarks.UNDO, f"{say(ALWAYS[keymarks.UNDO])}: {taken}"))
        keys += [(one.key, keymarks.label(one, glance.speech)) for one in glance.choices()]
        keys.append((keymarks.NOTE, say(ALWAYS[keymarks.NOTE])))
        if len(self._glances) > 1:
            keys.append(("Tab", say("another rig")))
        return tuple(keys)

    def _see_undo(self, glance: Glance) -> None:
        undo = None if glance.state is None else glance.state.undo
        if undo != self._undo.get(glance.rig_id, (None, 0.0))[0]:
            self._undo[glance.rig_id] = undo, time.monotonic()

    def _undoable(self, glance: Glance) -> str:
        undo = None if glance.state is None else glance.state.undo
        since = self._undo.get(glance.rig_id, (None, 0.0))[1]
        if undo is None or time.monotonic() - since > UNDO_S:
            return ""
        return named(undo.word, glance.speech)

    # What follows runs on the keys' thread.

    def _idle(self) -> None:
        with self._lock:
            if self._console.size != self._size or time.monotonic() - self._drawn >= 1.0:
                self._draw()

    def _press(self, came: str) -> None:
        with self._lock:
            glance = self._shown()
            mark = self._meant(glance, came)
            self._draw()
        if mark is None or self._ask is None:
            return
        answer = self._ask(glance.rig_id, mark)
        taken = bool(answer.get("ok"))
        with self._lock:
            self._tell_maker(str(answer.get("text", "")), "bold green" if taken else "bold yellow")
            self._draw()

    def _meant(self, glance: Glance, came: str) -> str | None:
        """The mark that keys come to; None if they only change what is shown."""
        if self._entry is not None:
            return self._typed(glance, self._entry, came)
        key, now = came[0], time.monotonic()
        if came in (keymarks.TAB, keymarks.BACK_TAB):
            self._turn(1 if came == keymarks.TAB else -1)
            return None
        if came == keymarks.ESCAPE:
            self._chosen, self._message = None, (Text(), 0.0)
            return None
        before, then = self._pressed
        if came.strip(key) or not key.isprintable() or (key == before and now - then < _AGAIN_S):
            return None  # Keys in a bunch are a cat or a paste, and a key held down is one.
        self._pressed = key, now
        if now - self._front[1] < _AGAIN_S and len(self._glances) > 1 and self._chosen is None:
            self._tell_maker(glance.speech.say("Another rig has come up: press it again."))
            return None
        return self._command(glance, key)

    def _command(self, glance: Glance, key: str) -> str | None:
        say = glance.speech.say
        if key == keymarks.HEARD:
            return "ack"
        if key == keymarks.LATER:
            mark = keymarks.put_aside(glance.standing())
            if mark is None:
                self._tell_maker(say("No alarm stands."))
            return mark
        if key == keymarks.UNDO:
            if self._undoable(glance):
                return "undo"
            self._tell_maker(say("No key takes that back any more; `rigmon mark undo` does."))
            return None
        if key == keymarks.NOTE:
            # What is typed is for the rig that was looked at, whatever happens to another.
            self._chosen, self._entry = glance.rig_id, Entry()
            return None
        choice = next((one for one in glance.choices() if one.key == key.lower()), None)
        if choice is None:
            self._tell_maker(say("{key} means nothing here.", key=key))
            return None
        if choice.fields and (key.isupper() or keymarks.must_be_told(choice)):
            self._chosen, self._entry = glance.rig_id, Entry(choice)
            return None
        return keymarks.mark_of(choice)

    def _typed(self, glance: Glance, entry: Entry, came: str) -> str | None:
        if came == keymarks.ESCAPE:
            self._entry = None
            return None
        if came[0] == keymarks.ESCAPE:
            return None  # An arrow, or another key of several characters.
        if came[-1] not in keymarks.ENTER:
            self._entry = entry.press(came)
            return None
        made = entry.press(came[:-1]).mark(glance.speech)
        self._entry = made if isinstance(made, Entry) else None
        return made if isinstance(made, str) else None

    def _turn(self, by: int) -> None:
        names = [glance.rig_id for glance in worst_first(self._glances)]
        here = names.index(self._shown().rig_id)
        self._chosen = names[(here + by) % len(names)]

    def _tell_maker(self, text: str, style: str = "bold yellow") -> None:
        self._message = Text(text, style), time.monotonic()
