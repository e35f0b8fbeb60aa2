"""The outlets that reach out of the house, each with a thread of its own and its last result."""

from __future__ import annotations

import json
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from rigmon.config import Outlets
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.command import CommandSender
from rigmon.outlets.glance import Glance
from rigmon.outlets.homie_device import HomieDevice
from rigmon.outlets.mail import MailSender
from rigmon.outlets.message import Message, Sender
from rigmon.outlets.webhook import WebhookSender
from rigmon.records import Alarm, MqttLink, Said
from rigmon.service.prepare import Rig

OUTLET_FAILED = "outlet-failed"
"""The alarm that an outlet which fails raises."""

KEPT = 1000
"""So many alarms wait for an outlet at most: more than a year of kitchens that go wrong."""
FIRST_RETRY_S = 1.0
LAST_RETRY_S = 60.0
FAILED_AFTER = 3
"""After so many tries in vain an outlet counts as failed; the message is tried on."""
CLOSE_WITHIN_S = 1.0


@dataclass(frozen=True, slots=True)
class Result:
    """How it last went with an outlet.

    Args:
        outlet: its name.
        ok: whether it went well.
        text: what happened, in a sentence.
        at_unix: when [s].
    """

    outlet: str
    ok: bool
    text: str
    at_unix: float

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return {
            "outlet": self.outlet,
            "ok": self.ok,
            "text": self.text,
            "at_unix": round(self.at_unix, 1),
        }

    def as_line(self, at: float) -> str:
        """The same as a line for the run log, said at run time `at` [s]."""
        line = {"type": "outlet", "at": at, **self.as_dict()}
        return json.dumps(line, ensure_ascii=False, separators=(",", ":"))


Report = Callable[[str, bool, str], None]
"""Takes an outlet's name, whether all is well, and a sentence."""


def senders(outlets: Outlets) -> list[Sender]:
    """The outlets of a configuration that send one alarm at a time."""
    return [
        *map(WebhookSender, outlets.webhooks),
        *map(CommandSender, outlets.commands),
        *map(MailSender, outlets.mails),
    ]


class Post:
    """The alarms that wait for one outlet, and the thread that sends them in their order.

    An alarm is tried until it has gone, at ever longer intervals, unless another try would not
    help.

    Args:
        sender: sends one.
        report: told how it went.
        first_retry_s: how long the second try waits [s].
    """

    def __init__(
        self, sender: Sender, report: Report, first_retry_s: float = FIRST_RETRY_S
    ) -> None:
        self.name = sender.name
        self._sender = sender
        self._report = partial(report, sender.name)
        self._first_retry_s = first_retry_s
        self._waiting: deque[Message] = deque()
        self._lost = 0
        self._news = threading.Condition()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name=f"post {self.name}", daemon=True)
        self._thread.start()

    def put(self, message: Message) -> None:
        """Take an alarm, if the outlet wants it; never waits."""
        if not self._sender.wants(message):
            return
        with self._news:
            if len(self._waiting) >= KEPT:
                self._waiting.popleft()
                self._lost += 1
            self._waiting.append(message)
            self._news.notify()

    def close(self) -> None:
        """Send what can be sent at once, and end."""
        with self._news:
            self._closing = True
            self._news.notify()
        self._thread.join(CLOSE_WITHIN_S)

    def _run(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._waiting or self._closing)
                if not self._waiting:
                    return
                message = self._waiting.popleft()
            if not self._sent(message):
                return

    def _sent(self, message: Message) -> bool:
        """Send one; False once there is no time left to try again."""
        retry_s = self._first_retry_s
        tries = 0
        while True:
            tries += 1
            try:
                self._report(True, f"{self._sender.send(message)}.{self._how_many_lost()}")
            except DeviceError as why:
                if tries >= FAILED_AFTER:
                    self._report(False, f"{why} Trying on.{self._how_many_lost()}")
            except RigmonError as why:
                self._report(False, str(why))
                return True
            except Exception as why:  # noqa: BLE001 - a fault of ours costs this message only
                self._report(False, f"a fault of its own: {type(why).__name__}: {why}.")
                return True
            else:
                return True
            with self._news:
                if self._news.wait_for(lambda: self._closing, retry_s):
                    return False
            retry_s = min(2.0 * retry_s, LAST_RETRY_S)

    def _how_many_lost(self) -> str:
        return f" {self._lost} older alarms gave way." if self._lost else ""


class Posts:
    """All outlets that reach out of the house.

    Args:
        outlets: as they are configured.
        rigs: the rigs that are watched.
        clock: the clock on the wall [s, Unix].
    """

    def __init__(
        self, outlets: Outlets, rigs: Sequence[Rig], clock: Callable[[], float] = time.time
    ) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._results: dict[str, Result] = {}
        self._fresh: list[Result] = []
        self._virtual = {rig.setup.id: rig.virtual for rig in rigs}
        self._posts = [Post(sender, self._report) for sender in senders(outlets)]
        self.devices: list[HomieDevice] = []
        """Rigs at a broker, which are sources of marks too."""
        if outlets.homie is not None:
            self.devices += [self._device(outlets.homie, rig) for rig in rigs]

    def _device(self, link: MqttLink, rig: Rig) -> HomieDevice:
        glance = Glance(rig.setup.id, rig.virtual, speech=rig.speech)
        return HomieDevice(link, glance, partial(self._report, f"homie {rig.setup.id}"))

    def _report(self, name: str, ok: bool, text: str) -> None:
        result = Result(name, ok, text, self._clock())
        with self._lock:
            before = self._results.get(name)
            self._results[name] = result
            # The same trouble once more is no news.
            if ok or before is None or (before.ok, before.text) != (ok, text):
                self._fresh.append(result)

    def tell(self, rig_id: str, run_id: str | None, said: Said) -> None:
        """Take in one thing said of a rig; never waits."""
        for device in self.devices:
            device.tell(rig_id, said)
        if isinstance(said, Alarm):
            message = Message(rig_id, run_id, self._virtual[rig_id], said)
            for post in self._posts:
                post.put(message)

    @property
    def fault(self) -> str:
        """A sentence for each outlet that fails; "" while none does."""
        with self._lock:
            failed = [result for result in self._results.values() if not result.ok]
        return " ".join(f"{result.outlet}: {result.text}" for result in failed)

    def fresh(self) -> list[Result]:
        """Results since the last call."""
        with self._lock:
            fresh, self._fresh = self._fresh, []
        return fresh

    def results(self) -> list[dict[str, Any]]:
        """The last result of each outlet that has one."""
        with self._lock:
            return [result.as_dict() for result in self._results.values()]

    def close(self) -> None:
        """The program ends."""
        for post in self._posts:
            post.close()
