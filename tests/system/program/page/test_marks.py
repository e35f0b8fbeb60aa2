"""What is tapped on the page stands in the log, as it was meant, before it is answered."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.waiting import until

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start
    from tests.system.program.page.conftest import Screens

MakeKitchen = Callable[["Board"], "Kitchen"]
Address = Callable[..., str]


Said = tuple[str, dict[str, Any]]


def logged(path: Path) -> list[Said]:
    """The marks in a log with their details, in order."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as log:
        rows = log.execute("SELECT word, detail FROM mark ORDER BY seq")
        return [(word, json.loads(detail)) for word, detail in rows]


class Hands:
    """Taps as a maker does, and looks into the log after each tap."""

    def __init__(self, page: Page, log: Path) -> None:
        self.page = page
        self._log = log
        self._count = 0

    def tap(self, word: str) -> None:
        """Press a mark's button."""
        button = self.page.locator(f'#actions [data-word="{word}"]')
        button.wait_for(state="attached")
        if not button.is_visible():
            self.page.locator("#more").click()
        button.click()

    def done(self) -> None:
        """Send the form."""
        self.page.locator("#form [type=submit]").click()

    def answer(self) -> Said:
        """The mark that is new in the log, once the page has its answer."""
        self.page.locator("#answer:visible").wait_for()
        until(
            lambda: len(logged(self._log)) > self._count,
            told=lambda: (logged(self._log), self.page.locator("#answer").inner_text()),
        )
        self._count += 1
        found = logged(self._log)
        assert len(found) == self._count
        return found[-1]


@pytest.fixture
def hands(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    start: Start,
    port: int,
    address: Address,
    screens: Screens,
    tmp_path: Path,
) -> Hands:
    """A maker before the page of a rig that was just switched on."""
    rig = f'source = "serial"\nport = "{board.port}"\nbath = {{ ice_g = 2600, salt_g = 650 }}'
    log = tmp_path / "runs.sqlite"
    words = ("--config", configure(kitchen=rig), "--log", log, "--port", str(port))
    program = start("watch", "--plain", *words)
    url = address(program)
    assert board.heard(b"ping")
    make_kitchen(board)
    return Hands(screens.open(url), log)


def test_each_button_leads_to_its_mark(hands: Hands) -> None:
    """From the ice to the end of the run: as it stands on the button, with the grams shown."""
    page = hands.page
    hands.tap("ice-in")
    assert [box.input_value() for box in page.locator(".amount input").all()[:2]] == ["2600", "650"]
    hands.done()
    assert hands.answer() == ("ice-in", {"ice_g": 2600, "salt_g": 650, "water_g": 0})

    hands.tap("pour")
    page.get_by_label("mix: more").click()
    hands.done()
    assert hands.answer() == ("pour", {"mix_g": 1010})
    # Half a kelvin a second, ten readings: a page that waited for pictures would show two figures.
    assert page.evaluate(CHANGES, 1500) >= 5

    hands.tap("recharge")
    page.get_by_label("ice, g").fill("a lot")
    hands.done()
    assert "a number from 0 to" in page.locator("#form [role=alert]").inner_text()
    page.get_by_label("ice, g").fill("900")
    for _ in range(2):
        page.get_by_label("salt: more").click()
    hands.done()
    assert hands.answer() == ("recharge", {"ice_g": 900, "salt_g": 20})

    hands.tap("undo")
    assert hands.answer() == ("undo", {})

    hands.tap("scrape")
    assert hands.answer() == ("scrape", {})

    hands.tap("reading")
    page.locator(".places input[value=mix_c]").check()
    page.locator("#form input[type=text]").fill("2,45")
    hands.done()
    assert hands.answer() == ("reading", {"mix_c": -2.45})

    note = """Ada's <img src=x onerror=alert(1)> "second" bag"""
    hands.tap("note")
    page.locator("#form input").fill(note)
    hands.done()
    assert hands.answer() == ("note", {"note": note})
    assert page.locator("img").count() == 0

    for taps, wanted in (
        ("beat-stop", ("beat-stop", {})),
        ("rest-start where=rig", ("rest-start", {"where": "rig"})),
        ("rest-stop", ("rest-stop", {})),
        ("beat-start", ("beat-start", {})),
    ):
        hands.tap(taps)
        assert hands.answer() == wanted
    hands.tap("pack")
    page.get_by_label("tubs", exact=True).fill("2")
    hands.done()
    assert hands.answer() == ("pack", {"tubs": 2})
    for word in ("harden-start", "end"):
        hands.tap(word)
        assert hands.answer() == (word, {})
    page.locator("#after dl").wait_for()
    report = read_report(page)
    assert "mix poured" in report
    # What a maker typed stands in it as words.
    assert note in report
    page.locator("#after a").wait_for()


def read_report(page: Page) -> str:
    """Opens the report beside the page; its words, once they are seen to have their looks."""
    complaints: list[str] = []
    page.context.on("weberror", lambda error: complaints.append(str(error.error)))
    page.context.on("console", lambda said: complaints.append(said.text))
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Report").click()
    report = opened.value
    report.locator("figure svg").first.wait_for()
    looks = "(node) => [getComputedStyle(node).maxWidth, node.clientWidth <= innerWidth]"
    assert report.locator("body").evaluate(looks) == ["800px", True]
    stroke = "(node) => getComputedStyle(node).stroke"
    assert report.locator("svg path[style*='stroke: #']").first.evaluate(stroke).startswith("rgb(")
    assert report.locator("img, script").count() == 0
    assert complaints == []
    return report.locator("body").inner_text()


CHANGES = """async (ms) => {
  const seen = new Set();
  const digits = document.querySelector(".figure.mix .digits");
  const observer = new MutationObserver(() => seen.add(digits.textContent));
  observer.observe(digits, { subtree: true, childList: true, characterData: true });
  await new Promise((resolve) => setTimeout(resolve, ms));
  return seen.size;
}"""


def test_a_guest_sees_everything_and_has_no_button_that_marks(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    start: Start,
    port: int,
    address: Address,
    screens: Screens,
) -> None:
    """The address for looking shows figures and figures alone."""
    rig = f'source = "serial"\nport = "{board.port}"'
    words = ("--config", configure(kitchen=rig), "--no-log", "--port", str(port), "--guests")
    program = start("watch", "--plain", *words)
    full = address(program, "The page, for your network: ")
    guest = address(program, "The page, for looking only: ")
    assert board.heard(b"ping")
    make_kitchen(board)
    page = screens.open(guest)
    page.locator(".figure.bath").wait_for()
    assert page.locator("#actions").is_hidden()
    assert page.locator("#actions button").count() == 0
    owner = screens.open(full)
    owner.locator("#actions [data-word=ice-in]").wait_for()
