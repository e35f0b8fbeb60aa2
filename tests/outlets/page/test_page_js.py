"""What the page's script works out and says, held to what the program itself does."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rigmon.outlets.page.words import WORDS
from rigmon.records import parse_mark
from rigmon.units import clock, mass, temperature

STATIC = Path(__file__).parents[3] / "rigmon" / "outlets" / "page" / "static"
NODE = shutil.which("node")
needs_node = pytest.mark.skipif(NODE is None, reason="no node: apt-get install nodejs")

Ask = Callable[[str], Any]


@pytest.fixture(scope="module")
def ask(tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Gives what an expression over the scripts' functions comes to."""
    folder = tmp_path_factory.mktemp("script")
    for file in STATIC.glob("*.js"):
        shutil.copy(file, folder)
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    modules = ("units", "forms", "now", "overview", "rigstate")
    imports = "".join(f'import * as {name} from "./{name}.js";\n' for name in modules)

    def asked(expression: str) -> Any:
        script = f"{imports}console.log(JSON.stringify({expression}));\n"
        (folder / "ask.js").write_text(script, encoding="utf-8")
        done = subprocess.run(
            [str(NODE), "ask.js"], cwd=folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return asked


@needs_node
def test_figures_are_written_as_everywhere_else(ask: Ask) -> None:
    """Temperatures, masses and times stand on the page as the terminal has them."""
    degrees = [-21.13, -2.56, -0.04, 0.0, 3.96, 57.02, 100.4, None]
    grams = [0.0, 35.2, 912.4, 1284.0, 3000.0, None]
    seconds = [0, 7.4, 75, 3599.4, 3725, 86_399]
    made = ask(
        f"""((degrees, grams, seconds) => {{
          const metric = units.makeFormat({{ temperature: "C", mass: "g" }}, "en");
          const other = units.makeFormat({{ temperature: "F", mass: "oz" }}, "en");
          const both = (f) => [degrees.map((c) => f.temperature(c)), grams.map(f.mass)];
          return [both(metric), both(other), seconds.map(units.clock)];
        }})({json.dumps(degrees)}, {json.dumps(grams)}, {json.dumps(seconds)})"""
    )
    assert made[0] == [[temperature(c) for c in degrees], [mass(g) for g in grams]]
    assert made[1] == [[temperature(c, "F") for c in degrees], [mass(g, "oz") for g in grams]]
    assert made[2] == [clock(s) for s in seconds]
    german = 'units.makeFormat({ temperature: "C", mass: "g" }, "de")'
    assert ask(f"[{german}.temperature(-2.53), {german}.mass(1284)]") == ["−2,5 °C", "1,28 kg"]


@needs_node
def test_what_is_typed_is_read_with_point_comma_and_any_minus(ask: Ask) -> None:
    """Nothing else passes for a number."""
    texts = ["14.5", "14,5", " −3 ", "–3", "-.5", "+2", "", "-", "1e3", "a lot", "1.2.3"]
    wanted = [14.5, 14.5, -3, -3, -0.5, 2, None, None, None, None, None]
    assert ask(f"{json.dumps(texts)}.map(units.typed)") == wanted


@needs_node
def test_any_words_reach_a_mark_as_they_were_typed(ask: Ask) -> None:
    """Quotation marks, equals signs and backslashes are words like others."""
    for words in ("second bag", "Ada's", """a "b" 'c' $HOME `x` \\n""", "ice_g=3", "<b>"):
        written = ask(f"forms.quoted({json.dumps(words)})")
        assert shlex.split(written) == [words]
        assert parse_mark(f"note note={written}", 0.0).detail == {"note": words}


@needs_node
def test_a_range_of_time_is_found_in_its_sentence(ask: Ask) -> None:
    """Whatever the language says around it."""
    texts = ["stop in 3–5 min", "fest in 6–12 min", "hard in 2–6 h", "over 60 min", "about 7 min"]
    parted = ask(f"{json.dumps(texts)}.map((text) => now.parted(text))")
    assert [one["digits"] for one in parted] == ["3–5", "6–12", "2–6", "60", "7"]
    assert [one["before"] for one in parted] == ["stop in", "fest in", "hard in", "over", "about"]
    assert ask("now.parted('stop in less than a minute').digits") == ""


@needs_node
def test_a_reading_is_shown_until_a_newer_one_comes(ask: Ask) -> None:
    """Not an older picture's; of a probe that is not well, the program's own figure is shown."""
    shown = ask(
        """(() => {
          const rig = new rigstate.Rig("a", false);
          const see = (at, value_c, quality = "good", c = -2.6, run = "a-1") => rig.see({
            run, at, mix: { c },
            probes: [{ name: "m", place: "mix", quality, value_c, age_s: 0.4 }],
          });
          const read = (at, c, probe = "m") => rig.read({ probe, place: "mix", c, at });
          const steps = [
            () => see(312, -2.5), () => read(312.5, -2.7), () => read(312.5, -2.7),
            () => read(312.5, -9, "unknown"), () => see(312, -2.5), () => see(313.2, -2.9),
            () => see(314, -2.9, "silent"), () => see(315, -2.9, "good", null),
            () => see(2, -2.4, "good", -2.6, "a-2"),
          ];
          return steps.map((step) => [step() ?? null, rigstate.shownC(rig.picture, "mix")]);
        })()"""
    )
    assert [one for one, _ in shown[1:4]] == [True, False, False]
    assert [c for _, c in shown] == [-2.5, -2.7, -2.7, -2.7, -2.7, -2.9, -2.6, None, -2.4]


@needs_node
def test_the_rig_that_needs_a_hand_goes_first(ask: Ask) -> None:
    """What sounds before what stands, that before a bad probe, that before what is due sooner."""
    order = ask(
        """(() => {
          const alarm = (priority, state = "unacknowledged") => ({ code: "x", priority, state });
          const none = { at: 0, probes: [], alarms: [] };
          const rig = (id, picture) => ({ id, picture: { ...none, ...picture } });
          return overview.worstFirst([
            rig("calm", { next: null }),
            rig("later", { next: { p50: 900 } }),
            rig("sooner", { next: { p50: 300 } }),
            rig("bad-probe", { probes: [{ quality: "silent" }] }),
            rig("acknowledged", { alarms: [alarm("high", "acknowledged")] }),
            rig("low", { alarms: [alarm("low")] }),
            rig("high", { alarms: [alarm("low"), alarm("high")] }),
          ]).map(({ id }) => id);
        })()"""
    )
    wanted = ["high", "low", "acknowledged", "bad-probe", "sooner", "later", "calm"]
    assert order == wanted


@needs_node
def test_what_is_due_while_cut_off_is_called_once_it_is_due_and_until_it_is_heard(ask: Ask) -> None:
    """By the likeliest time of the last forecast; a virtual rig's time goes on at its own speed."""
    told = ask(
        """(() => {
          let time = 1e12;
          Date.now = () => time;
          const rig = new rigstate.Rig("barn", true);
          const next = { text: "stop in 1–3 min", p10: 160, p50: 220, p90: 280 };
          for (let second = 0; second <= 5; second++) {
            rig.see({ run: "a", at: 20 * second, virtual: true, next });
            time += 1000;
          }
          const lostAt = time;
          const calls = [];
          for (const s of [0, 4, 6]) {
            time = lostAt + 1000 * s;
            calls.push([Math.round(rig.runTime()), rig.overdue(lostAt)?.priority ?? null]);
          }
          rig.heard = true;
          calls.push(rig.overdue(lostAt));
          return calls;
        })()"""
    )
    assert told == [[120, None], [200, None], [240, "high"], None]


def test_every_text_of_the_script_has_its_translation() -> None:
    """What the script looks up is in the list that it is given."""
    script = "\n".join(file.read_text("utf-8") for file in STATIC.glob("*.js"))
    said = set(re.findall(r'\bt\(\s*"((?:[^"\\]|\\.)*)"', script))
    assert len(said) > 50
    assert said - set(WORDS) == set()


def test_nothing_that_came_over_the_wire_can_become_markup() -> None:
    """No script writes markup, runs text as script, or fetches from elsewhere."""
    for file in STATIC.glob("*.js"):
        script = file.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        for word in (
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "document.write",
            "eval(",
            "new Function",
            "http:",
            "https:",
        ):
            assert word not in script, (file.name, word)
