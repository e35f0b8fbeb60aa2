"""The page in a browser, as the program serves it."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

    from tests.system.program.conftest import Rigmon

CHROMIUM = shutil.which("chromium")
PHONE = (412, 915)
"""A 6-inch phone [CSS px]."""
QUICK_MS = 15_000.0

EAR = """
(() => {
  const ears = [];
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...more) {
    if (to instanceof AudioDestinationNode) {
      const ear = new AnalyserNode(this.context, { fftSize: 2048 });
      ears.push(ear);
      connect.call(this, ear);
    }
    return connect.call(this, to, ...more);
  };
  const waiting = new Map();
  const [set, clear] = [window.setTimeout, window.clearTimeout];
  window.setTimeout = (call, ms, ...more) => {
    const id = set(() => { waiting.delete(id); call(...more); }, ms);
    waiting.set(id, ms);
    return id;
  };
  window.clearTimeout = (id) => { waiting.delete(id); clear(id); };
  window.loudness = () => {
    let sum = 0;
    for (const ear of ears) {
      const wave = new Float32Array(ear.fftSize);
      ear.getFloatTimeDomainData(wave);
      sum += wave.reduce((all, x) => all + x * x, 0) / wave.length;
    }
    return Math.sqrt(sum);
  };
  window.soundsAgain = () => [...waiting.values()].some((ms) => ms > 9000);
  window.spoken = [];
  window.buzzed = [];
  if (window.speechSynthesis) speechSynthesis.speak = (words) => window.spoken.push(words.text);
  navigator.vibrate = (pattern) => { window.buzzed.push(pattern); return true; };
})();
"""
"""Listens at the loudspeaker, and counts what is still to come."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's chromium; stopped with the module, since its event loop would be in others' way."""
    if CHROMIUM is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield chromium
        chromium.close()


class Screens:
    """Opens pages, and remembers what their consoles complain of."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self.contexts: list[BrowserContext] = []
        self.complaints: list[str] = []
        self.broken_on_purpose = False
        """Whether the connection is to fail, so that the browser's word of it is no complaint."""

    def open(self, url: str, size: tuple[int, int] = PHONE, **more: Any) -> Page:
        """A page on a device of its own, once it shows what to do."""
        page = self.prepare(size, **more)
        page.goto(url)
        page.locator("#verb:not(:empty), #overview li").first.wait_for()
        return page

    def prepare(self, size: tuple[int, int] = PHONE, **more: Any) -> Page:
        """A device with an empty page."""
        viewport: Any = {"width": size[0], "height": size[1]}
        context = self._browser.new_context(viewport=viewport, **more)
        context.set_default_timeout(QUICK_MS)
        self.contexts.append(context)
        context.add_init_script(EAR)
        page = context.new_page()
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        page.on("console", lambda said: self._hear(said.type, said.text))
        return page

    def _hear(self, kind: str, text: str) -> None:
        if kind not in ("error", "warning"):
            return
        if self.broken_on_purpose and "net::" in text:
            return
        self.complaints.append(f"{kind}: {text}")


@pytest.fixture
def screens(browser: Browser) -> Iterator[Screens]:
    """Opens pages; none of them may have complained."""
    made = Screens(browser)
    yield made
    for context in made.contexts:
        context.close()
    assert made.complaints == []


@pytest.fixture(scope="module")
def port() -> int:
    """A port that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        free: int = server.getsockname()[1]
        return free


@pytest.fixture(scope="module")
def address() -> Callable[[Rigmon], str]:
    """Where a program that was started serves its page."""

    def find(program: Rigmon, words: str = "The page: ") -> str:
        return program.err.until(lambda line: line.startswith(words)).removeprefix(words)

    return find


@pytest.fixture(scope="session")
def audit() -> str:
    """A script that gives what is wrong with a page for those who see or move otherwise."""
    return (Path(__file__).parent / "audit.js").read_text("utf-8")
