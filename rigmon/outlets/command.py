"""A program of this computer run for each alarm: never through a shell."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import tempfile
from contextlib import suppress

from rigmon.config import Command
from rigmon.errors import RigmonError
from rigmon.outlets.message import Message
from rigmon.records import AlarmState

TIMEOUT_S = 30.0
_SHOWN_BYTES = 200
_PLACE = re.compile(r"\{(code|priority|text|rig|run)\}")


def arguments(run: tuple[str, ...], message: Message) -> list[str]:
    """The program and its arguments, with the alarm's words in their places.

    What is put in is put in once and as it is: braces in it are no places, spaces part nothing.

    >>> from rigmon.outlets.message import trial
    >>> arguments(("say", "--", "{rig}: {code}", "{x}"), trial("demo", virtual=False))
    ['say', '--', 'demo: test', '{x}']
    """
    alarm = message.alarm
    words = {
        "code": alarm.code,
        "priority": alarm.priority.value,
        "text": alarm.text,
        "rig": message.place,
        "run": message.run or "",
    }
    # A NUL byte cannot be part of an argument.
    return [_PLACE.sub(lambda found: words[found[1]].replace("\0", ""), word) for word in run]


class CommandSender:
    """Runs the program for each alarm that sounds; its input is the alarm as a line of JSON.

    Args:
        command: the program.
        timeout_s: how long it may run [s].
    """

    def __init__(self, command: Command, timeout_s: float = TIMEOUT_S) -> None:
        self.name = f"command {command.name}"
        self._command = command
        self._timeout_s = timeout_s

    def wants(self, message: Message) -> bool:
        """Alarms that sound."""
        alarm = message.alarm
        sounds = alarm.state is AlarmState.UNACKNOWLEDGED
        return sounds and self._command.wanted.wants(alarm.code, alarm.priority)

    def send(self, message: Message) -> str:
        """Run it once.

        Raises:
            RigmonError: it is not there, fails, or does not end in time.
        """
        program = self._command.run[0]
        with tempfile.TemporaryFile() as given, tempfile.TemporaryFile() as complaint:
            given.write(message.as_json().encode() + b"\n")
            given.seek(0)
            try:
                running = subprocess.Popen(  # noqa: S603 - the maker's own program, no shell
                    arguments(self._command.run, message),
                    stdin=given,
                    stdout=subprocess.DEVNULL,
                    stderr=complaint,
                    start_new_session=True,
                )
            except OSError as why:
                raise RigmonError(f"{program} cannot be run: {why.strerror}.") from None
            code = self._ended(running)
            complaint.seek(max(complaint.seek(0, os.SEEK_END) - _SHOWN_BYTES, 0))
            last = complaint.read().decode(errors="replace").strip().rpartition("\n")[2]
        if code is None:
            raise RigmonError(f"{program} did not end within {self._timeout_s:g} s and was ended.")
        if code:
            said = f": {''.join(c for c in last if c.isprintable())}" if last else ""
            raise RigmonError(f"{program} failed with exit code {code}{said}.")
        return f"{program} ran"

    def _ended(self, running: subprocess.Popen[bytes]) -> int | None:
        """Its exit code; None if it had to be ended, with all that it had started."""
        with running:
            try:
                return running.wait(self._timeout_s)
            except subprocess.TimeoutExpired:
                with suppress(ProcessLookupError):
                    os.killpg(running.pid, signal.SIGKILL)
        return None
