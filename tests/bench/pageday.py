"""The whole page in a browser: event to pixel, and its heap over a day: `... [--quick]`.

The server is played: what it would send is made here, second by second. For the heap every second
of a day is drawn, as fast as it goes, with marks and alarms that come and go; for the time from an
event until it is painted the browser is slowed down to a quarter, as an old tablet is.
"""

from __future__ import annotations

import shutil
import sys
from typing import Any

from rigmon.outlets.page.words import spoken
from showing import ROOT, heading, is_quick, quantile, table

STATIC = ROOT / "rigmon" / "outlets" / "page" / "static"
ADDRESS = "http://bench.invalid"
KINDS = {"js": "text/javascript", "css": "text/css", "html": "text/html"}
SLOWER = 4
SCREENS = {"phone": (412, 915), "tablet": (1024, 768)}

SERVER = """
window.EventSource = class extends EventTarget {
  constructor() { super(); this.readyState = 1; window.wire = this; }
  close() { this.readyState = 2; }
};
EventSource.CLOSED = 2;
const send = (name, data) =>
  wire.dispatchEvent(new MessageEvent(name, { data: JSON.stringify(data) }));
const choice = (word) => ({ word, text: word, fields: [] });
const picture = (at) => {
  const state = at % 1800 < 60 ? "unacknowledged" : "acknowledged";
  const alarm = { code: "bath-limit-near", priority: "medium", call: "Recharge: 900 g ice",
    state, state_text: state, why: "It warms.", at: 0 };
  const alarms = at % 1800 < 120 ? [alarm] : [];
  const heard = alarms.length && at % 1800 >= 60;
  return {
    rig: "barn", virtual: true, run: "barn-1", at, stage: "beat", stage_text: "beat", round: 1,
    verb: alarms.length && !heard ? alarm.call : "Keep beating", reason: "stiff in 6 min",
    why: `stiffening ${(1 + (at % 20) / 10).toFixed(1)} %/min`,
    priority: alarms.length && !heard ? "medium" : null,
    next: { event: "plateau", text: `stop in ${5 + (at % 7)}–${14 + (at % 5)} min`,
      p10: at + 300, p50: at + 500, p90: at + 800 },
    bath: { c: -17 + Math.sin(at / 300), limit_c: -9.5, brine_pct: 21,
      ice_left_g: 2000, ice_sd: 90, ice_put_g: 2600 },
    mix: { c: -2.5 + Math.sin(at / 500) / 5, frozen_pct: 20 + (at % 30), frozen_sd: 3,
      freezing_c: -2.1, cooling_w: 100 },
    wall: { ice_g: at % 200, sd: 20 },
    probes: [{ name: "mix", place: "mix", quality: at % 900 < 30 ? "noisy" : "good",
      quality_text: "noisy", age_s: 0.5, why: "" }],
    forecasts: { plateau: { p10: at + 300, p50: at + 500, p90: at + 800 } }, alarms,
    news: Array.from({ length: 12 }, (_, i) =>
      ({ at: at - (at % 600) - 60 * i, kind: "mark", text: `Noted: ${i}.` })),
    undo: at % 600 < 30 ? { text: "scrape", left_s: 30 - (at % 600) } : null,
    choices: [choice("beat-stop"), choice("scrape"), choice("pack")], summary: null,
  };
};
const row = (at) => ({ at, bath: -17, bath_fit: -17, mix: -2.5, mix_fit: -2.5, frozen: 20,
  core: null, room: null, freezer: null });
window.second = (at) => {
  send("row", { rig: "barn", rows: [row(at)] });
  send("picture", picture(at));
};
window.hour = async (from) => {
  const frames = window.requestAnimationFrame;
  // Every second is drawn, without waiting for the screen.
  const waiting = [];
  window.requestAnimationFrame = (call) => waiting.push(call);
  for (let at = from; at < from + 3600; at++) {
    second(at);
    for (const call of waiting.splice(0)) call(performance.now());
    if (at % 20 === 0) await new Promise((go) => setTimeout(go, 0));
  }
  window.requestAnimationFrame = frames;
  return document.getElementsByTagName("*").length;
};
window.painted = async (from, times) => {
  const took = [];
  for (let at = from; at < from + times; at++) {
    await new Promise((go) => setTimeout(go, 40));
    const begun = performance.now();
    second(at);
    await new Promise((go) => requestAnimationFrame(() => setTimeout(go, 0)));
    took.push(performance.now() - begun);
  }
  return took;
};
"""


def serve(route: Any) -> None:
    """Answer as the program would."""
    path = route.request.url.removeprefix(ADDRESS).partition("?")[0]
    if path == "/":
        path = "/static/index.html"
    if path.startswith("/static/"):
        name = path.rpartition("/")[2]
        route.fulfill(path=STATIC / name, content_type=KINDS[name.rpartition(".")[2]])
        return
    empty: dict[str, list[float]] = {"at": [], "bath": [], "bath_fit": [], "mix": [], "mix_fit": []}
    told = {
        "/api/v1/hello": {
            "language": "en",
            "rights": "full",
            "units": {"temperature": "C", "mass": "g"},
            "rigs": [{"id": "barn", "virtual": True}],
            "words": spoken("en"),
            "sounds": {},
        },
        "/api/v1/rigs/barn/trend": {"columns": empty, "marks": []},
    }.get(path)
    route.fulfill(status=404 if told is None else 200, json=told)


def opened(browser: Any, size: tuple[int, int]) -> tuple[Any, Any]:
    """The page with its first figures, and the line to its insides."""
    # Beaters that turn would draw beside what is measured.
    screen = {"width": size[0], "height": size[1]}
    page = browser.new_page(viewport=screen, reduced_motion="reduce")
    page.route(f"{ADDRESS}/**", serve)
    page.add_init_script(SERVER)
    page.goto(f"{ADDRESS}/")
    page.wait_for_function("window.wire")
    page.evaluate("second(1)")
    page.locator("#pair .figure").first.wait_for()
    return page, page.context.new_cdp_session(page)


def pixels(browser: Any, times: int) -> None:
    """Print how long it takes from an event until it is painted."""
    rows = []
    for name, size in SCREENS.items():
        page, inside = opened(browser, size)
        page.evaluate("hour(2)")
        inside.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        took = page.evaluate(f"painted(3602, {times})")
        rows.append([name, *(f"{quantile(took, share):.0f}" for share in (0.5, 0.9, 0.99))])
        page.close()
    print(f"Event to pixel with an hour of trend, {times} events, {SLOWER} times slower [ms]")
    table(("", "median", "p90", "p99"), rows)


def heap(browser: Any, hours: int) -> None:
    """Print what the page holds as a day goes by."""
    page, inside = opened(browser, SCREENS["phone"])
    rows = []
    for hour in range(hours):
        elements = page.evaluate(f"hour({2 + hour * 3600})")
        if hour in (0, 3) or (hour + 1) % 6 == 0:
            inside.send("HeapProfiler.collectGarbage")
            usage = inside.send("Runtime.getHeapUsage")
            counted = inside.send("Memory.getDOMCounters")
            held = usage["usedSize"] + usage.get("backingStorageSize", 0)
            dom = [f"{elements}", f"{counted['nodes']}", f"{counted['jsEventListeners']}"]
            rows.append([f"after {hour + 1} h", f"{held / 1e6:.2f}", *dom])
    print("\nA picture and a row a second, every one drawn")
    table(("", "heap and arrays [MB]", "elements", "nodes alive", "listeners"), rows)


def main() -> int:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading()
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
        pixels(browser, 100 if quick else 600)
        heap(browser, 5 if quick else 24)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
