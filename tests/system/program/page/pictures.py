"""Pictures of the page in each stage, light and dark, on phone and tablet, for people to look at.

    python tests/system/program/page/pictures.py FOLDER
    python tests/system/program/page/pictures.py --readme

The second writes the two that stand in the README into data/pictures.
"""

from __future__ import annotations

import argparse
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SCREENS = {"phone": (412, 915), "small": (320, 568), "tablet": (1024, 768), "wall": (1920, 1080)}
SCHEMES = ("light", "dark")
PATIENCE_S = 400.0
ROOT = Path(__file__).parents[4]


@contextmanager
def demonstration(*more: str) -> Iterator[str]:
    """A demonstration of its own; gives the address of its page."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with tempfile.TemporaryDirectory(prefix="rigmon-") as folder:
        words = ["demo", "--plain", "--port", str(port), "--log", f"{folder}/runs.sqlite", *more]
        env = os.environ | {"XDG_RUNTIME_DIR": folder, "PYTHONPATH": str(ROOT)}
        program = subprocess.Popen(
            [sys.executable, "-m", "rigmon", *words],
            env=env,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert program.stderr is not None
        try:
            yield next(
                line.split(": ", 1)[1].strip()
                for line in program.stderr
                if line.startswith("The page: ")
            )
        finally:
            program.terminate()
            program.communicate()


def opened(browser: Browser, url: str, screen: str, scheme: str) -> Page:
    """A page on a screen, its question about sound answered."""
    width, height = SCREENS[screen]
    viewport: Any = {"width": width, "height": height}
    scheme_: Any = scheme
    context = browser.new_context(viewport=viewport, color_scheme=scheme_)
    page = context.new_page()
    page.goto(url)
    page.locator("#sound-off").click()
    return page


def scene(page: Page) -> str:
    """What stands on the page, in one word for a file's name."""
    data: Any = page.evaluate("() => ({...document.body.dataset})")
    where = (page.locator("#where").text_content() or "").replace("\u00a0", " ")
    stage = data.get("stage") or "before"
    alarm = f"-{data['alarm']}" if data.get("alarm") else ""
    second = "-2" if "beat 2" in where else ""
    return f"{stage}{second}{alarm}"


def each_stage(browser: Browser, folder: Path) -> None:
    """A whole batch, a picture for every screen whenever something else stands there."""
    folder.mkdir(parents=True, exist_ok=True)
    with demonstration("--whole", "--speed", "20") as url:
        # One page in all sizes: more of them would take the virtual board its time.
        page = opened(browser, url, "phone", "light")
        seen: dict[str, int] = {}
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end and "done" not in seen:
            now = scene(page)
            seen[now] = seen.get(now, 0) + 1
            # At once, and a while later, when more of it is known.
            if seen[now] in (2, 40):
                for (name, (width, height)), scheme in product(SCREENS.items(), SCHEMES):
                    scheme_: Any = scheme
                    page.emulate_media(color_scheme=scheme_)
                    page.set_viewport_size({"width": width, "height": height})
                    page.wait_for_timeout(200)
                    page.screenshot(path=folder / f"{now}-{seen[now]}-{name}-{scheme}.png")
                print(now, seen[now], flush=True)
            page.wait_for_timeout(400)


def taken(page: Page, path: Path) -> None:
    """A picture in as many colours as it needs, so that it stays small."""
    from PIL import Image

    page.screenshot(path=path)
    with Image.open(path) as picture:
        picture.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(path, optimize=True)


def for_readme(browser: Browser, folder: Path) -> None:
    """Beating on a tablet, and the call to stop on a phone."""
    folder.mkdir(parents=True, exist_ok=True)
    with demonstration("--speed", "20") as url:
        tablet = opened(browser, url, "tablet", "light")
        phone = opened(browser, url, "phone", "dark")
        quarter_hour = "() => / 1[4-9]:/.test(document.querySelector('#where').textContent)"
        tablet.wait_for_function(quarter_hour, timeout=120_000)
        taken(tablet, folder / "page-beating.png")
        phone.locator("body[data-alarm=high]").wait_for(timeout=120_000)
        phone.wait_for_timeout(600)
        taken(phone, folder / "page-alarm.png")


def main() -> None:
    """Take them."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("folder", nargs="?", type=Path)
    asked.add_argument("--readme", action="store_true")
    said = asked.parse_args()
    chromium = shutil.which("chromium")
    if chromium is None:
        sys.exit("chromium is not installed: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        if said.readme:
            for_readme(browser, ROOT / "data" / "pictures")
        if said.folder:
            each_stage(browser, said.folder)
        browser.close()


if __name__ == "__main__":
    main()
