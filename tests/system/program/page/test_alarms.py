"""An alarm is seen, heard, felt and spoken, until somebody answers it, wherever that is."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start
    from tests.system.program.page.conftest import Screens

MakeBoard = Callable[[str], "Board"]
MakeKitchen = Callable[["Board"], "Kitchen"]
Address = Callable[..., str]


def hears(page: Page) -> None:
    """Wait for a sound."""
    page.wait_for_function("() => window.loudness() > 0.05")


@pytest.fixture
def kitchens(
    make_board: MakeBoard, make_kitchen: MakeKitchen
) -> tuple[tuple[Board, Kitchen], tuple[Board, Kitchen]]:
    """Two rigs at work."""
    boards = make_board("attic"), make_board("barn")
    first, second = boards
    return (first, make_kitchen(first)), (second, make_kitchen(second))


def test_it_sounds_on_every_screen_until_one_of_them_answers(
    kitchens: tuple[tuple[Board, Kitchen], tuple[Board, Kitchen]],
    configure: Configure,
    start: Start,
    port: int,
    address: Address,
    screens: Screens,
    audit: str,
) -> None:
    """Colour, sign, verb, bursts, buzz and voice; the worse rig first; one answer is enough."""
    (attic, _), (barn, broken) = kitchens
    named = {"attic": attic, "barn": barn}
    tables = {name: f'source = "serial"\nport = "{board.port}"' for name, board in named.items()}
    words = ("--no-log", "--config", configure(**tables), "--port", str(port))
    program = start("watch", "--plain", *words)
    url = address(program)
    page, other = screens.open(url), screens.open(url, (1024, 768))
    names = page.locator("#overview .rig .name")
    assert [name.partition(" ")[0] for name in names.all_inner_texts()] == ["attic", "barn"]

    other.locator("#sound-off").click()
    page.locator("#sound-on").click()
    hears(page)
    page.wait_for_function("() => window.loudness() === 0")
    page.locator("#device [data-act=test]").click()
    hears(page)
    page.wait_for_function("() => window.loudness() === 0")
    page.locator("[data-rig=attic]").click()

    broken.broken = True
    page.locator("#elsewhere .other").wait_for()
    assert page.locator("#elsewhere").inner_text().startswith("barn: Check the probe")
    hears(page)
    assert page.evaluate("window.soundsAgain()")
    page.wait_for_function("() => window.spoken.length > 0")
    assert page.evaluate("window.spoken") == ["barn: Check the probe"]
    assert [400, 300, 400, 300] in page.evaluate("window.buzzed")
    assert other.evaluate("window.loudness()") == 0
    assert other.locator("#overview .rig .name").first.inner_text().startswith("barn")

    page.locator("#elsewhere .other").click()
    page.locator("body[data-alarm=medium]").wait_for()
    assert page.locator("#verb").inner_text().replace("\n", " ") == "Check the probe"
    assert page.locator("#signal").inner_text() == "Alarm, medium"
    assert page.locator("#signal svg").is_visible()
    assert page.locator("#called").inner_text().startswith("barn: Check the probe.")
    assert page.locator(".figure.mix.bad").is_visible()
    assert "at fault" in page.locator("#probes").inner_text()
    assert page.evaluate(audit) == []

    other.locator("[data-rig=barn]").click()
    other.locator("body[data-alarm=medium]").wait_for()
    assert other.evaluate(audit) == []
    other.locator(".heard").click()
    page.locator('body[data-alarm=""]').wait_for()
    assert not page.evaluate("window.soundsAgain()")
    page.wait_for_function("() => window.loudness() === 0")
    assert page.locator(".heard").count() == 0
    assert "acknowledged" in page.locator("#alarms").inner_text()
