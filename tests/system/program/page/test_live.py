"""What the page shows of the virtual rig, on every kind of screen."""

from __future__ import annotations

import io
import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.session import VirtualSession

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.system.program.conftest import Start
    from tests.system.program.page.conftest import Screens

Address = Callable[..., str]
SIZES = ((320, 568), (412, 915), (915, 412), (1024, 768), (1920, 1080), (3840, 2160))
LEAST_DIGITS_PX = 126
WEIGHT = 60_000


@dataclass(frozen=True, slots=True)
class Demo:
    """A demonstration, half a minute of the batch a second: where its page and its log are."""

    url: str
    log: Path


@pytest.fixture(scope="module")
def demo(
    start_for_all: Start, port: int, address: Address, tmp_path_factory: pytest.TempPathFactory
) -> Demo:
    """One for all tests here; what they look at does not need the batch at its beginning."""
    log = tmp_path_factory.mktemp("log") / "runs.sqlite"
    words = ("demo", "--plain", "--speed", "30", "--port", str(port), "--log", log)
    return Demo(address(start_for_all(*words)), log)


def degrees(text: str) -> float:
    """A temperature as the page writes it."""
    found = re.match(r"(−?)(\d+\.\d) ?°C", text)
    assert found, text
    return float(found[2]) * (-1.0 if found[1] else 1.0)


def beating(page: Page) -> None:
    """Wait until the batch has been beaten for minutes, and there is a forecast."""
    page.locator("#next b").wait_for()


def test_figures_are_those_of_the_log_and_of_the_rig(demo: Demo, screens: Screens) -> None:
    """Bath and mix as they were read and as they truly are; and nothing is fetched elsewhere."""
    asked: list[str] = []
    sizes: dict[str, int] = {}
    page = screens.prepare()
    wire = page.context.new_cdp_session(page)
    wire.send("Network.enable")
    names: dict[str, str] = {}
    wire.on(
        "Network.responseReceived", lambda e: names.update({e["requestId"]: e["response"]["url"]})
    )
    wire.on(
        "Network.loadingFinished",
        lambda e: sizes.update({names.get(e["requestId"], ""): int(e["encodedDataLength"])}),
    )
    page.on("request", lambda request: asked.append(request.url))
    url = demo.url
    page.goto(url)
    beating(page)
    shown: Any = page.evaluate(
        """() => ({
          where: document.getElementById("where").textContent,
          bath: document.querySelector(".figure.bath .digits").textContent,
          mix: document.querySelector(".figure.mix .digits").textContent,
        })"""
    )
    assert "virtual rig" in shown["where"].replace("\u00a0", " ")
    minutes, seconds = re.search(r"(\d+):(\d\d)$", shown["where"]).groups()  # type: ignore[union-attr]
    at = 60.0 * int(minutes) + int(seconds)
    session = VirtualSession(demo_scenario(), 7)
    session.advance(at)
    truth = session.truth(at)
    assert degrees(shown["bath"]) == pytest.approx(truth.bath_c, abs=1.0)
    assert degrees(shown["mix"]) == pytest.approx(truth.mix_c, abs=1.0)
    # What was read is shown at once, and its second only once that is over.
    query = "SELECT min(value), max(value) FROM reading WHERE probe = 'bath' AND t BETWEEN ? AND ?"
    with closing(sqlite3.connect(f"file:{demo.log}?mode=ro", uri=True)) as log:
        newest = "SELECT max(t) FROM reading"
        for _ in range(40):
            if log.execute(newest).fetchone()[0] > at + 90.0:
                break
            page.wait_for_timeout(250)
        ((coldest, warmest),) = log.execute(query, (at - 30.0, at + 90.0))
    assert coldest - 0.5 <= degrees(shown["bath"]) <= warmest + 0.5

    assert {one for one in asked if not one.startswith((url, "data:"))} == set()
    own = {name: size for name, size in sizes.items() if name == url or "/static/" in name}
    assert len(own) > 10
    assert sum(own.values()) <= WEIGHT


def test_a_tap_shows_one_figure_that_is_read_across_the_kitchen(
    demo: Demo, screens: Screens
) -> None:
    """Its digits stand at least 20 mm high on a 6-inch phone; another tap shows the next figure."""
    page = screens.open(demo.url)
    beating(page)
    page.locator(".figure.bath").click()
    labels = []
    for _ in range(4):
        page.wait_for_timeout(200)
        labels.append(page.locator("#big-label").inner_text())
        box: Any = page.evaluate(
            """() => {
              const range = document.createRange();
              range.selectNode(document.querySelector("#big-digits > span").firstChild);
              const { x, y, width, height } = range.getBoundingClientRect();
              return { x, y, width, height };
            }"""
        )
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 412
        picture = Image.open(io.BytesIO(page.screenshot(clip=box))).convert("L")
        picture_rows = np.asarray(picture)
        rows = np.flatnonzero(picture_rows.min(axis=1) < 100)
        assert rows[-1] - rows[0] + 1 >= LEAST_DIGITS_PX - 1
        page.locator("#big-figure").click()
    assert labels[:3] == ["bath", "mix", "frozen"]
    assert labels[3].startswith("stop in")
    page.keyboard.press("Escape")
    page.locator("#pair").wait_for()


def test_the_keyboard_reaches_everything_and_units_are_a_tap_away(
    demo: Demo, screens: Screens
) -> None:
    """Each button has its turn and is seen to have it; °F and oz hold on the whole page."""
    page = screens.open(demo.url, (1024, 768))
    beating(page)
    wanted = page.locator("button:visible, summary:visible").count()
    reached = set()
    for _ in range(wanted + 12):
        page.keyboard.press("Tab")
        focused: Any = page.evaluate(
            """() => {
              const node = document.activeElement;
              const { outlineStyle, outlineWidth } = getComputedStyle(node);
              const name = node.id || node.dataset.word || node.textContent;
              return [node.tagName, name, outlineStyle, outlineWidth];
            }"""
        )
        if focused[0] in ("BUTTON", "SUMMARY"):
            assert focused[2:] == ["solid", "3px"]
            reached.add(focused[1])
    assert len(reached) >= wanted - 1
    page.locator("#device [data-act=F]").click()
    page.locator("#device [data-act=oz]").click()
    assert page.locator(".figure.bath .digits").inner_text().endswith("°F")
    page.locator("[data-word=recharge]").click()
    assert page.locator(".amount label").first.inner_text() == "ice, oz"
    page.reload()
    beating(page)
    assert page.locator(".figure.mix .digits").inner_text().endswith("°F")


def test_every_screen_can_be_read_by_everyone(demo: Demo, screens: Screens, audit: str) -> None:
    """From 320 px to 4K, light and dark: nothing sticks out, all has contrast, a name, a size."""
    url = demo.url
    found: dict[str, list[str]] = {}
    for scheme in ("light", "dark"):
        page = screens.open(url, color_scheme=scheme)
        assert page.evaluate("document.documentElement.dataset.theme") == scheme
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_timeout(150)
            found[f"{scheme} {width}"] = page.evaluate(audit)
        page.set_viewport_size({"width": 320, "height": 568})
        page.locator("#more").click()
        page.locator("[data-word=reading]").click()
        found[f"{scheme} reading"] = page.evaluate(audit)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}
