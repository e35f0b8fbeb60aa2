"""The page's trend in a browser: time of a redraw, and its heap over a day: `... [--quick]`.

The browser is slowed down to a quarter, as an old tablet is. A row a second for 24 hours is given
to the trend as fast as it takes it.
"""

from __future__ import annotations

import shutil
import sys
from typing import Any

from showing import ROOT, heading, is_quick, quantile, table

STATIC = ROOT / "rigmon" / "outlets" / "page" / "static"
ADDRESS = "http://bench.invalid"
SLOWER = 4
POINTS = 14_400
DAY_H = 24
SCREENS = {"phone, 390 x 260 at 3": (390, 260, 3), "desktop, 1280 x 420 at 1": (1280, 420, 1)}
SPANS = ("10min", "round", "run")

PAGE = "<!doctype html><body style='margin:0'><div id='host'></div>"
SCRIPT = """
import { Trend } from "./trend.js";
const host = document.getElementById("host");
const root = document.documentElement.style;
const paint = { bath: "#1b5fae", mix: "#9c4a12", ink: "#13202b", paper: "#fcfbf7" };
for (const name in paint) root.setProperty(`--${name}`, paint[name]);
root.setProperty("--line", "#6b7f8d");
const minus = (x, n = 0) => x.toFixed(n);
const format = { unit: "C", number: minus, temperature: (c, n = 1) => `${minus(c ?? 0, n)} C` };
// Noise that comes again in every run of the bench.
let seed = 1;
const noise = () => ((seed = (seed * 16807) % 2147483647) / 2147483647 - 0.5) * 0.2;
const row = (at) => {
  const [bath, mix] = [-17 + 4 * Math.sin(at / 3000), -3 - Math.sin(at / 2000)];
  return { at, bath: bath + noise(), bath_fit: bath, mix: mix + noise(), mix_fit: mix, frozen: 20 };
};
const rows = (from, n) => Array.from({ length: n }, (_, i) => row(from + i));
const picture = (at) => ({
  at, round: 1, news: [], bath: { limit_c: -9.5 }, mix: { freezing_c: -2.4 },
  forecasts: {
    plateau: { p10: at + 300, p50: at + 500, p90: at + 800 },
    "bath-limit": { p10: at + 900, p50: null, p90: null },
  },
});
window.start = (wide, high) => {
  host.replaceChildren();
  Object.assign(host.style, { width: `${wide}px`, height: `${high}px` });
  window.trend = new Trend(host, (text) => text, format);
};
window.redraws = (points, span, times) => {
  trend.load({ at: [] }, [{ at: 3, word: "pour", text: "Mix poured." }]);
  trend.append(rows(0, points));
  trend.update(picture(points - 1));
  trend.span(span);
  const took = [];
  for (let i = 0; i < times; i++) {
    const begun = performance.now();
    trend.draw();
    const script = performance.now() - begun;
    trend.below.getContext("2d").getImageData(0, 0, 1, 1);
    took.push([script, performance.now() - begun]);
  }
  return took;
};
window.hour = (at) => {
  for (let minute = 0; minute < 60; minute++) {
    trend.append(rows(at + minute * 60, 60));
    trend.update(picture(at + minute * 60 + 59));
    trend.draw();
  }
  return trend.count;
};
window.ready = true;
"""


def serve(route: Any) -> None:
    """Answer the page's requests from the package's own files."""
    name = route.request.url.rpartition("/")[2]
    if name == "bench.js":
        route.fulfill(body=SCRIPT, content_type="text/javascript")
    elif name.endswith(".js"):
        route.fulfill(path=STATIC / name, content_type="text/javascript")
    else:
        module = '<script type="module" src="bench.js"></script>'
        route.fulfill(body=PAGE + module, content_type="text/html")


def opened(browser: Any, wide: int, high: int, ratio: int) -> tuple[Any, Any]:
    """A page with the trend in it, slowed down, and the line to its insides."""
    size = {"width": wide, "height": high}
    page = browser.new_page(viewport=size, device_scale_factor=ratio)
    page.route(f"{ADDRESS}/**", serve)
    page.goto(f"{ADDRESS}/")
    page.wait_for_function("window.ready")
    page.evaluate(f"start({wide}, {high})")
    inside = page.context.new_cdp_session(page)
    inside.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return page, inside


def redraws(browser: Any, times: int) -> None:
    """Print how long redraws take."""
    rows = []
    for name, screen in SCREENS.items():
        page, _ = opened(browser, *screen)
        for span in SPANS:
            took = page.evaluate(f"redraws({POINTS}, '{span}', {times})")
            for what, index in (("script", 0), ("with pixels", 1)):
                values = [one[index] for one in took]
                cells = [f"{quantile(values, share):.1f}" for share in (0.5, 0.9, 0.99)]
                rows.append([f"{name}, {span}, {what}", *cells])
        page.close()
    print(f"{POINTS} points a series, {SLOWER} times slower; ms of a redraw")
    table(("", "median", "p90", "p99"), rows)


def heap(browser: Any, hours: int) -> None:
    """Print what the page's heap holds as a day goes by."""
    page, inside = opened(browser, *SCREENS["phone, 390 x 260 at 3"])
    inside.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    page.evaluate("trend.span('run')")
    rows = []
    for hour in range(hours):
        kept = page.evaluate(f"hour({hour * 3600})")
        if hour in (0, 3, 5) or (hour + 1) % 6 == 0:
            inside.send("HeapProfiler.collectGarbage")
            usage = inside.send("Runtime.getHeapUsage")
            held = usage["usedSize"] + usage.get("backingStorageSize", 0)
            rows.append([f"after {hour + 1} h", f"{kept}", f"{held / 1e6:.2f}"])
    print("\nA row a second, the whole run shown")
    table(("", "rows kept", "heap and arrays [MB]"), rows)


def main() -> int:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading(1)
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ModuleNotFoundError:
        print("skipped: playwright is not installed (extra test)")
        return 0
    if chromium is None:
        print("skipped: chromium is not installed (Debian's package chromium)")
        return 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        redraws(browser, 100 if quick else 400)
        heap(browser, DAY_H)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
