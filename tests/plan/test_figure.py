"""The page that is printed: whole, without overlap, and the same bytes for the same plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from rigmon.plan.figure import draw, page_of
from rigmon.plan.page import Words
from rigmon.plan.values import Plan

BEGINS = {".pdf": b"%PDF-", ".png": b"\x89PNG\r\n\x1a\n", ".svg": b"<?xml"}


@pytest.mark.parametrize("suffix", sorted(BEGINS))
def test_the_same_plan_gives_the_same_bytes(made: Plan, tmp_path: Path, suffix: str) -> None:
    """In each form, and the file begins as its form does."""
    pages = [tmp_path / f"{name}{suffix}" for name in ("one", "two")]
    for page in pages:
        draw(made, Words(), page)
    first, second = (page.read_bytes() for page in pages)
    assert first.startswith(BEGINS[suffix])
    assert first == second
    assert b"Date" not in first
    assert b"dc:date" not in first


def test_a_name_may_hold_any_sign(made: Plan, tmp_path: Path) -> None:
    """Neither dollars nor letters that the font lacks, nor length, break the page."""
    name = "桃 $x_{" + " and then more of it" * 20
    odd = replace(made, batch=replace(made.batch, name=name))
    draw(odd, Words(), tmp_path / "odd.png")
    assert (tmp_path / "odd.png").stat().st_size > 10_000


@pytest.mark.parametrize("units", [Words(), Words("F", "oz")])
def test_nothing_on_the_page_overlaps(
    plain: Plan, made: Plan, hopeless: Plan, units: Words
) -> None:
    """Text keeps off the axes beside and below it, and everything keeps on the page."""
    for one in (made, hopeless, plain):
        figure = page_of(one, units)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]  # as matplotlib has it
        boxes = [axes.get_tightbbox() for axes in figure.axes]
        for number, box in enumerate(boxes):
            assert box is not None
            assert box.x0 >= 0.0
            assert box.y0 >= 0.0
            assert box.x1 <= figure.bbox.x1
            for other in boxes[number + 1 :]:
                assert other is not None
                wide = min(box.x1, other.x1) - max(box.x0, other.x0)
                high = min(box.y1, other.y1) - max(box.y0, other.y0)
                assert wide <= 1.0 or high <= 1.0
