"""Server or network gone: the page says so, counts on, calls by itself, and catches up."""

from __future__ import annotations

import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start
    from tests.system.program.page.conftest import Screens

MakeKitchen = Callable[["Board"], "Kitchen"]
Address = Callable[..., str]
KNOWN_WITHIN_S = 3.0


class Cable:
    """A network between browser and program that swallows everything while it is cut.

    Nobody is told then: connections stay open and bring nothing, which is what a phone meets that
    has left its access point behind.
    """

    def __init__(self, to_port: int) -> None:
        self._to = ("127.0.0.1", to_port)
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        self._whole = threading.Event()
        self._whole.set()
        self._ends: list[socket.socket] = []
        self._threads = [threading.Thread(target=self._let_in)]
        self._threads[0].start()

    def cut(self) -> None:
        """Swallow from now on."""
        self._whole.clear()

    def mend(self) -> None:
        """What was cut is dead; what is new goes through."""
        self._hang_up()
        self._whole.set()

    def close(self) -> None:
        """Leave no thread and no socket."""
        self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        self._hang_up()
        for thread in self._threads:
            thread.join()
        for end in self._ends:
            end.close()

    def _hang_up(self) -> None:
        for end in self._ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def _let_in(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._door.accept()
                self._ends.append(near)
                try:
                    far = socket.create_connection(self._to)
                except OSError:
                    near.close()
                    continue
                self._ends.append(far)
                for one, other in ((near, far), (far, near)):
                    self._threads.append(threading.Thread(target=self._carry, args=(one, other)))
                    self._threads[-1].start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                if self._whole.is_set():
                    other.sendall(data)
        with suppress(OSError):
            other.shutdown(socket.SHUT_RDWR)


@pytest.fixture
def cable(port: int) -> Iterator[Cable]:
    """A cable to the program's page."""
    laid = Cable(port)
    yield laid
    laid.close()


def test_it_catches_up_after_the_program_and_the_network_were_gone(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    start: Start,
    port: int,
    cable: Cable,
    address: Address,
    screens: Screens,
    tmp_path: Path,
) -> None:
    """Said within 3 s, numbers grey and their age counted; back by itself with the whole trend."""
    rig = f'source = "serial"\nport = "{board.port}"'
    words: tuple[Any, ...] = ("watch", "--plain", "--config", configure(kitchen=rig))
    words += ("--log", tmp_path / "runs.sqlite", "--port", str(port))
    program = start(*words)
    address(program)
    url = f"http://127.0.0.1:{cable.port}/"
    assert board.heard(b"ping")
    make_kitchen(board)
    screens.broken_on_purpose = True
    page = screens.open(url)
    page.locator("#actions [data-word=ice-in]").wait_for()
    page.locator("#actions [data-word=ice-in]").click()
    page.locator("#form [type=submit]").click()
    page.locator("#answer:visible").wait_for()
    page.wait_for_function("() => document.getElementById('where').textContent.includes('0:02')")
    page.evaluate("window.sameDocument = true")

    killed = time.monotonic()
    program.end(signal.SIGKILL)
    page.locator("#lost:visible").wait_for()
    assert time.monotonic() - killed < KNOWN_WITHIN_S + 0.5
    assert page.locator("body.lost").count() == 1
    grey = page.locator(".figure.bath .digits").evaluate("(node) => getComputedStyle(node).color")
    page.locator("#more").click()
    page.locator("[data-word=note]").click()
    page.locator("#form input").fill("lost")
    page.locator("#form [type=submit]").click()
    page.locator("#answer.refused:visible").wait_for()
    assert "Not sent" in page.locator("#answer").inner_text()
    assert page.locator("#form input").input_value() == "lost"
    page.keyboard.press("Escape")
    page.wait_for_function("() => document.querySelector('#lost b').textContent >= '0:04'")

    trends: list[Any] = []
    page.on("response", lambda answer: trends.append(answer) if "/trend" in answer.url else None)
    program = start(*words)
    address(program)
    page.locator("body:not(.lost)").wait_for()
    assert page.locator("#lost").is_hidden()
    assert page.evaluate("window.sameDocument")
    fresh = page.locator(".figure.bath .digits").evaluate("(node) => getComputedStyle(node).color")
    assert fresh != grey
    kept = trends[-1].json()["columns"]["at"]
    assert min(kept) < 2.0
    drawn = page.locator("#trend-host canvas[role=slider]")
    drawn.press("End")
    page.wait_for_function(
        "last => +document.querySelector('#trend-host canvas[role=slider]').ariaValueMax > last",
        arg=max(kept),
    )
    assert int(drawn.get_attribute("aria-valuemin") or "-1") < 2

    cable.cut()
    gone = time.monotonic()
    page.locator("#lost:visible").wait_for()
    assert time.monotonic() - gone < KNOWN_WITHIN_S + 0.5
    with page.expect_response("**/trend") as answered:
        cable.mend()
        page.locator("body:not(.lost)").wait_for()
    again = answered.value.json()["columns"]["at"]
    assert max(again) > max(kept)
    steps = [b - a for a, b in pairwise(again) if a > max(kept)]
    assert max(steps) < 2.5


def test_what_falls_due_meanwhile_is_called_by_the_page_itself(
    start: Start, port: int, address: Address, screens: Screens
) -> None:
    """A forecast that runs out unheard sounds, and sends the maker to look; so does a nap end."""
    program = start("demo", "--plain", "--speed", "120", "--port", str(port))
    screens.broken_on_purpose = True
    page = screens.prepare()
    page.clock.install()
    page.goto(address(program))
    page.locator("#sound-on").click()
    page.wait_for_function("() => window.loudness() === 0 && window.buzzed.length > 0")
    page.locator("#next b").wait_for()
    program.process.kill()
    page.locator("#lost:visible").wait_for()
    assert page.locator("#verb").inner_text().replace("\n", " ") == "Keep beating"
    page.clock.fast_forward(1800_000)
    page.locator("body[data-alarm=high]").wait_for()
    assert "Look into" in page.locator("#verb").inner_text().replace("\n", " ")
    page.wait_for_function("() => window.loudness() > 0.05")
    assert "slept for 30:0" in page.locator("#slept").inner_text()
    page.locator(".heard").click()
    page.locator('body[data-alarm=""]').wait_for()
    page.wait_for_function("() => window.loudness() === 0")
