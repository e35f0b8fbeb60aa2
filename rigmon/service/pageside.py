"""The page's side of the daemon: where it is served, what it is told, and what it may ask."""

from __future__ import annotations

import ipaddress
import json
import socket
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from rigmon.config import PageConfig
from rigmon.errors import DeviceError, UsageError
from rigmon.outlets.glance import Glance
from rigmon.outlets.page.hub import Hub
from rigmon.outlets.page.keys import Keys
from rigmon.outlets.page.server import DEFAULT_PORT, PageServer, door
from rigmon.records import ProbeSeen, Said, SourceNews
from rigmon.run.choices import at_first
from rigmon.service.inbox import Answer
from rigmon.service.pagekeys import kept_keys
from rigmon.service.prepare import Rig
from rigmon.store.entries import RunState
from rigmon.store.log import RunLog
from rigmon.texts import marked

if TYPE_CHECKING:
    from starlette.types import ASGIApp

_NO_RECIPE = marked("Without a recipe there is no plan: name one in the rig's configuration.")
PAGE_FAILED = "page-failed"
EVERYWHERE = "0.0.0.0"  # noqa: S104 - only where the maker asks for it, and then behind a key


@dataclass(frozen=True, slots=True)
class PageFlags:
    """What the maker says of the page on the command line.

    Args:
        off: it is not to be served.
        lan: other devices are to reach it.
        guests: there is to be an address for looking only, for other devices as well.
        port: its port.
    """

    off: bool = False
    lan: bool = False
    guests: bool = False
    port: int | None = None

    def over(self, config: PageConfig) -> PageConfig:
        """The configuration with what was said instead.

        >>> PageFlags(guests=True).over(PageConfig()).host
        '0.0.0.0'
        """
        far = self.lan or self.guests
        return replace(
            config,
            enabled=config.enabled and not self.off,
            port=config.port if self.port is None else self.port,
            host=EVERYWHERE if far and _is_loopback(config.host) else config.host,
            guests=config.guests or self.guests,
        )


class Watching(Protocol):
    """What the page asks of the daemon."""

    @property
    def log_path(self) -> Path | None:
        """Where the run log lies; None if nothing is kept."""

    def ask(self, rig: str | None, text: str) -> Answer:
        """Take in a mark."""

    def put(self, rig_id: str, item: SourceNews, /) -> None:
        """Take in news."""

    def rig(self, rig_id: str, /) -> Rig:
        """A rig as it is watched now."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where the page is.

    Args:
        url: the address.
        words: what it is good for.
        far: whether other devices reach it.
    """

    url: str
    words: str
    far: bool


class PageSide:
    """The page of one daemon. Without rigs it does nothing.

    Args:
        rigs: the rigs.
        config: how it is to be served.

    Raises:
        DeviceError: the port that is meant cannot be had.
    """

    def __init__(self, rigs: Sequence[Rig] = (), config: PageConfig | None = None) -> None:
        config = config or PageConfig()
        self.addresses: tuple[Address, ...] = ()
        self.note = ""
        """What is to be known of it at the start, in a sentence; "" if nothing is."""
        self._rigs = {rig.setup.id: rig for rig in rigs}
        self._hub: Hub | None = None
        self._socket: socket.socket | None = None
        self._server: PageServer | None = None
        self._broken = False
        self._daemon: Watching | None = None
        self._plans: dict[str, tuple[Rig, Mapping[str, Any]]] = {}
        if not rigs or not config.enabled:
            return
        try:
            listening = door(config.host, config.port)
        except DeviceError as why:
            if config.port is not None:
                raise
            self.note = f"The page is not served: {why}"
            return
        self._socket = listening
        port = int(listening.getsockname()[1])
        if config.port is None and port != DEFAULT_PORT:
            self.note = f"Port {DEFAULT_PORT} is taken: the page is at {port}."
        far = not _is_loopback(config.host)
        self._keys, self._names = Keys(), config.names
        if far:
            keys, path = kept_keys()
            self._keys = keys if config.guests else replace(keys, guest=None)
            self._names = (*config.names, *_own_names())
            if path is None:
                self.note = f"{self.note} The page's key is good for this once.".strip()
        self.addresses = tuple(_addresses(config.host, port, self._keys))
        self._hub = Hub(
            {
                rig.setup.id: Glance(
                    rig.setup.id,
                    rig.virtual,
                    speech=rig.speech,
                    first=at_first(rig.setup, rig.recipe, rig.speech),
                )
                for rig in rigs
            }
        )

    @property
    def watched(self) -> bool:
        """Whether somebody has the page open."""
        return self._hub is not None and not self._broken and self._hub.streams > 0

    def open(self, daemon: Watching) -> None:
        """Serve it; marks go to the daemon, and what is wrong with the page as well."""
        hub, listening = self._hub, self._socket
        if hub is None or listening is None:
            return
        self._daemon = daemon

        def failed(sentence: str) -> None:
            self._fail(daemon, sentence)

        self._server = PageServer(listening, lambda: self._app(hub, daemon), hub.attach, failed)

    def _app(self, hub: Hub, daemon: Watching) -> ASGIApp:
        # The browser's part of the program is read by the server's thread, after the watching
        # has begun.
        from rigmon.outlets.page.app import Asked, Page  # noqa: PLC0415 - heavy

        asked = Asked(
            daemon.ask,
            lambda rig: self._plan(daemon.rig(rig)),
            lambda run: self._has_ended(daemon.log_path, run),
            lambda run: self._report(daemon.log_path, run),
        )
        virtual = {rig_id: rig.virtual for rig_id, rig in self._rigs.items()}
        speech = next(iter(self._rigs.values())).speech
        return Page(hub, asked, virtual, speech).app(self._keys, self._names)

    def tell(self, rig_id: str, run: str | None, said: Said, *, old: bool = False) -> None:
        """Take in one thing said of a rig; what goes wrong with the page stays with it."""
        self._hand_over(lambda hub: hub.tell(rig_id, run, said, old=old))

    def read(self, rig_id: str, probe: str, seen: ProbeSeen | None) -> None:
        """Show a reading before its second is over; None for one that was not accepted."""
        if seen is not None:
            self._hand_over(lambda hub: hub.read(rig_id, probe, seen))

    def _hand_over(self, give: Callable[[Hub], None]) -> None:
        if self._hub is None or self._broken:
            return
        try:
            give(self._hub)
        except Exception as why:  # noqa: BLE001 - whatever it is, the watching goes on
            self._hub.close()
            if self._daemon is not None:
                self._fail(self._daemon, f"The page has failed: {type(why).__name__}: {why}.")

    def _fail(self, daemon: Watching, sentence: str) -> None:
        """Say to every rig that there is no page any more."""
        self._broken = True
        for rig_id in self._rigs:
            daemon.put(rig_id, SourceNews(time.time(), rig_id, PAGE_FAILED, sentence))

    def close(self) -> None:
        """Say goodbye to every page, and end within about a second."""
        if self._hub is not None:
            self._hub.close()
        if self._server is not None:
            self._server.close()
        elif self._socket is not None:
            self._socket.close()

    def _plan(self, rig: Rig) -> Mapping[str, Any]:
        """The plan of a rig's next batch as data, reckoned once for each recipe.

        Raises:
            UsageError: it cannot be planned; says why.
        """
        from rigmon.plan.asjson import as_json  # noqa: PLC0415 - heavy, and seldom asked for
        from rigmon.plan.planning import plan  # noqa: PLC0415 - as above
        from rigmon.plan.values import Wish  # noqa: PLC0415 - as above

        known = self._plans.get(rig.setup.id)
        if known is not None and known[0] == rig:
            return known[1]
        if rig.recipe is None:
            raise UsageError(rig.speech.say(_NO_RECIPE))
        made = plan(rig.recipe, Wish(), rig.setup, prior=rig.prior, cup_ml=rig.units.cup_ml)
        told: Mapping[str, Any] = json.loads(as_json(made))
        self._plans[rig.setup.id] = rig, told
        return told

    @staticmethod
    def _has_ended(path: Path | None, run: str) -> bool:
        """Whether there can be a report of a run, which takes seconds to make.

        Raises:
            LogError: the log cannot be read, or holds no such run.
        """
        if path is None:
            return False
        with RunLog(path, create=False) as log:
            return log.run(run).state is RunState.ENDED

    @staticmethod
    def _report(path: Path | None, run: str) -> str | None:
        """The report of a run that has ended, out of the log at `path`; None if there is none.

        Raises:
            LogError: the log cannot be read, or holds no such run.
        """
        from rigmon.review.report import html_of  # noqa: PLC0415 - heavy, and seldom asked for

        if path is None:
            return None
        with RunLog(path, create=False) as log:
            return html_of(log, run) if log.run(run).state is RunState.ENDED else None


def _is_loopback(host: str) -> bool:
    return ipaddress.ip_address(host).is_loopback


def _own_names() -> tuple[str, ...]:
    """Names by which this machine may be called at home."""
    name = socket.gethostname().lower()
    short = name.partition(".")[0]
    return tuple(
        dict.fromkeys((name, short, f"{short}.local", f"{short}.lan", f"{short}.home.arpa"))
    )


def own_address() -> str | None:
    """This machine's address in its network, in figures; None where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: the address is one of those set aside for documentation (RFC 5737).
            probe.connect(("192.0.2.1", 9))
            address = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if ipaddress.ip_address(address).is_loopback else address


def _addresses(host: str, port: int, keys: Keys) -> Iterator[Address]:
    """Where the page is, and for whom."""
    if _is_loopback(host):
        yield Address(_url(host, port, None), "The page", far=False)
        return
    shown = host
    if ipaddress.ip_address(host).is_unspecified:
        shown = own_address() or socket.gethostname()
    yield Address(_url(shown, port, keys.full), "The page, for your network", far=True)
    if keys.guest is not None:
        yield Address(_url(shown, port, keys.guest), "The page, for looking only", far=True)


def _url(host: str, port: int, key: str | None) -> str:
    at = f"[{host}]" if ":" in host else host
    return f"http://{at}:{port}/" + ("" if key is None else f"{key}/")


def announced(page: PageSide, stream: TextIO) -> None:
    """Say where the page is; in a terminal with a picture that a camera reads.

    Args:
        page: the page.
        stream: where to.
    """
    for address in page.addresses:
        print(f"{address.words}: {address.url}", file=stream)
        if address.far and stream.isatty():
            import segno  # noqa: PLC0415 - only for a page that others reach

            segno.make(address.url, error="l", micro=False).terminal(stream, compact=True)
    if page.note:
        print(page.note, file=stream)
