"""One alarm on its way out of the house, and what every outlet that sends it can do."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Protocol

from rigmon.outlets.jsonlines import as_dict
from rigmon.records import Alarm, AlarmState, Priority

VIRTUAL = "virtual rig"

ANSWERED = frozenset(
    {
        AlarmState.ACKNOWLEDGED,
        AlarmState.RETURNED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
        AlarmState.SUPPRESSED,
    }
)
"""Changes that a machine at the other end wants to know, and a person does not."""


@dataclass(frozen=True, slots=True)
class Message:
    """An alarm that changed its state.

    Args:
        rig: the rig.
        run: the run's id; None while none goes on.
        virtual: whether it is the virtual rig.
        alarm: the alarm.
        test: it is no alarm, the maker tries the outlet.
    """

    rig: str
    run: str | None
    virtual: bool
    alarm: Alarm
    test: bool = False

    @property
    def place(self) -> str:
        """The rig as a person reads it."""
        return f"{self.rig}, {VIRTUAL}" if self.virtual else self.rig

    def as_json(self) -> str:
        """The alarm's JSON line with its rig and run.

        >>> alarm = Alarm(700.0, "ice-gone", Priority.LOW, AlarmState.UNACKNOWLEDGED, "Add ice.")
        >>> Message("demo", None, True, alarm).as_json()
        '{"type":"alarm","at":700.0,"code":"ice-gone",...,"rig":"demo","run":null,"virtual":true}'
        """
        line = as_dict(self.alarm) | {"rig": self.rig, "run": self.run}
        line |= {"virtual": True} if self.virtual else {}
        line |= {"test": True} if self.test else {}
        return json.dumps(line, ensure_ascii=False, separators=(",", ":"))


def trial(rig: str, *, virtual: bool) -> Message:
    """A message that says it is a test."""
    text = "Test: rigmon can be heard here. There is nothing to do."
    alarm = Alarm(0.0, "test", Priority.LOW, AlarmState.UNACKNOWLEDGED, text)
    return Message(rig, None, virtual, alarm, test=True)


class Sender(Protocol):
    """Sends alarms somewhere, one at a time."""

    name: str
    """Its kind and the maker's name for it."""

    def wants(self, message: Message) -> bool:
        """Whether it is to send this."""

    def send(self, message: Message) -> str:
        """Send it and wait until that is done; returns what happened, as the end of a sentence.

        Raises:
            DeviceError: nobody is there just now; another try may help.
            RigmonError: it was not taken, and another try will not help.
        """
