"""What the page's script works out without a page: ticks, thinning, columns, levels and shapes."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

STATIC = Path(__file__).parents[3] / "rigmon" / "outlets" / "page" / "static"
NODE = shutil.which("node")
pytestmark = pytest.mark.skipif(NODE is None, reason="no node: apt-get install nodejs")

Ask = Callable[[str], Any]


@pytest.fixture(scope="module")
def ask(tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Gives what an expression over the scripts' functions comes to."""
    folder = tmp_path_factory.mktemp("script")
    for name in ("trend.js", "rigshapes.js"):
        shutil.copy(STATIC / name, folder)
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")

    def asked(expression: str) -> Any:
        (folder / "ask.js").write_text(
            'import * as trend from "./trend.js";\nimport * as rig from "./rigshapes.js";\n'
            f"console.log(JSON.stringify({expression}));\n",
            encoding="utf-8",
        )
        done = subprocess.run(
            [str(NODE), "ask.js"], cwd=folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return asked


def test_ticks_are_round_lie_within_and_are_few(ask: Ask) -> None:
    """Whatever the range, its ticks are 1, 2 or 5 times a power of ten apart, inside, and few."""
    ranges = [(-20.3, 4.1, 6), (-2.61, -2.58, 4), (0.0, 1e-3, 5), (-40.0, 140.0, 3), (-17, -5, 1)]
    for (low, high, most), found in zip(
        ranges, ask(f"{json.dumps(ranges)}.map((r) => trend.ticks(...r))"), strict=True
    ):
        assert len(found) <= most + 1
        assert all(low - 1e-9 <= one <= high + 1e-9 for one in found)
        steps = [b - a for a, b in pairwise(found)]
        for step in steps:
            assert step == pytest.approx(steps[0], rel=1e-6)
            lead = step / 10 ** math.floor(math.log10(step * 1.0001))
            assert min(abs(lead - n) for n in (1, 2, 5)) < 1e-3


def test_times_are_in_minutes_up_to_three_hours_and_then_in_hours(ask: Ask) -> None:
    """A maker reads 20 min and 6 h, never 360 min or 1.67 h."""
    ten, long, day = ask(
        "[trend.timeTicks(0, 900, 8), trend.timeTicks(0, 10800, 8), trend.timeTicks(0, 86400, 8)]"
    )

    assert (ten["unit"], long["unit"], day["unit"]) == ("min", "min", "h")
    assert [one["value"] for one in ten["ticks"]] == [0, 2, 4, 6, 8, 10, 12, 14]
    assert [one["value"] for one in long["ticks"]] == [0, 30, 60, 90, 120, 150, 180]
    assert [one["value"] for one in day["ticks"]] == [0, 3, 6, 9, 12, 15, 18, 21, 24]


def test_four_hours_stay_whole_and_older_rows_one_in_ten_seconds(ask: Ask) -> None:
    """A day is thinned as the server thins it: the first row of every ten seconds is kept."""
    kept = ask("trend.thin(Array.from({ length: 86400 }, (_, i) => i), 86400)")

    newest = [at for at in kept if at >= 86399 - 4 * 3600]
    assert newest == list(range(86399 - 4 * 3600, 86400))
    assert kept[: -len(newest)] == list(range(0, 86399 - 4 * 3600, 10))


def test_thinning_again_takes_nothing_more(ask: Ask) -> None:
    """What was thinned once is not thinned on and on until it is gone."""
    twice = ask(
        "(() => { const at = Array.from({ length: 30000 }, (_, i) => i);"
        " const once = trend.thin(at, at.length).map((i) => at[i]);"
        " return [once.length, trend.thin(once, once.length).length]; })()"
    )
    assert twice[0] == twice[1]


def test_every_column_has_its_least_and_greatest(ask: Ask) -> None:
    """A spike of one second is seen in the picture of a day, and a gap stays a gap."""
    low, high = ask(
        "(() => { const at = Array.from({ length: 86400 }, (_, i) => i);"
        " const v = at.map((i) => (i === 50000 ? 30 : i >= 20000 && i < 22000 ? NaN : -17));"
        " const c = trend.columns(at, v, v.length, 0, 86400, 864);"
        " return [[...c.low], [...c.high]]; })()"
    )

    assert high[500] == 30
    assert low[500] == -17
    assert [i for i in range(864) if high[i] is None] == list(range(200, 220))
    assert {value for i, value in enumerate(high) if i != 500 and value is not None} == {-17}


def test_rows_outside_the_window_are_not_drawn(ask: Ask) -> None:
    """Only what lies between the two times counts, both of them included."""
    low = ask(
        "[...trend.columns([0, 10, 20, 30, 40], [1, 2, 3, 4, 5], 5, 10, 30, 2).low]",
    )
    assert low == [2, 3]


def test_the_first_row_at_a_time_is_found(ask: Ask) -> None:
    """Before all, between two, on one, and after all."""
    found = ask("[-1, 0, 5, 10, 21].map((t) => trend.firstAt([0, 10, 20], 3, t))")
    assert found == [0, 0, 1, 1, 3]


def test_ice_sinks_and_brine_rises_until_the_ice_floats(ask: Ask) -> None:
    """Less ice never stands higher; brine never stands above the ice; nothing leaves the bowl."""
    levels = ask("Array.from({ length: 101 }, (_, i) => rig.bathLevels(1 - i / 100))")

    tops = [one["top"] for one in levels]
    assert tops == sorted(tops, reverse=True)
    assert tops[0] == 1
    for one in levels:
        assert 0 <= one["bottom"] <= one["top"] <= 1
        assert 0 <= one["brine"] <= one["top"] + 1e-9
    # All of it melted: the water of 1 kg of ice fills what its density says (0.57 kg/l packed).
    assert levels[-1]["top"] == pytest.approx(0.62 * 0.92 / 1.15)
    assert levels[0]["brine"] == 0


def test_more_frozen_looks_stiffer(ask: Ask) -> None:
    """The surface is nearly flat while the mix pours and stands in peaks when it is stiff."""
    heights = ask(
        "[0, 5, 10, 20, 30].map((frozen) => rig.surface(rig.stiffness(frozen), 0).map((p) => p[1]))"
        ".map((y) => Math.max(...y) - Math.min(...y))"
    )
    assert heights[0] < 8
    assert heights[-1] > 20
    assert heights[-1] == max(heights)


def test_a_wall_layer_grows_with_its_ice_and_is_gone_once_scraped(ask: Ask) -> None:
    """Nothing is drawn for nothing, and more for more up to what there is room for."""
    thick = ask("[0, 5, 35, 70, 110, 1000].map(rig.rindThickness)")

    assert thick[0] == 0
    assert thick == sorted(thick)
    assert thick[-1] <= 17


def test_the_two_pictures_stay_light() -> None:
    """The rig and the trend together are a third of what the page may weigh."""
    import gzip

    names = ("rig.js", "rigshapes.js", "trend.js")
    weight = sum(len(gzip.compress((STATIC / name).read_bytes())) for name in names)
    assert weight <= 20_480
