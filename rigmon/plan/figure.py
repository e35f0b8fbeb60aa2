"""A plan on one page, for the kitchen wall: amounts, freezing curve, and how the round may go."""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from rigmon.plan import page
from rigmon.plan.page import Words
from rigmon.plan.values import Band, Plan, Span

_A4_INCH = (8.27, 11.69)
_DPI = 150
_BATH, _MIX, _GREY, _WARN = "#1f5a8a", "#b3541e", "#6b6b6b", "#a11d33"
_LOOKS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8.5,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.6,
    "legend.frameon": False,
    "svg.hashsalt": "rigmon",
    "svg.fonttype": "path",
    "text.parse_math": False,
}
_METADATA: dict[str, dict[str, Any]] = {
    ".pdf": {"CreationDate": None},
    ".svg": {"Date": None},
    ".png": {},
}
"""Nothing of the day is written, so that the same plan gives the same bytes."""
_NAME_WIDTH, _TEXT_WIDTH = 60, 58
_LEAST_MIN, _MOST_MIN = 20.0, 120.0


def draw(plan: Plan, words: Words, out: Path) -> None:
    """Draw a plan on a page.

    Args:
        plan: what is drawn.
        words: the maker's units.
        out: the file; its suffix, .pdf, .png or .svg, says the form.

    Raises:
        OSError: it cannot be written.
    """
    form = out.suffix.lower()
    with mpl.rc_context(_LOOKS), warnings.catch_warnings():
        # A name may be written in letters that the font does not have.
        warnings.filterwarnings("ignore", "Glyph .* missing")
        page_of(plan, words).savefig(out, format=form[1:], dpi=_DPI, metadata=_METADATA[form])


def page_of(plan: Plan, words: Words) -> Figure:
    """The page as a figure.

    Args:
        plan: what is drawn.
        words: the maker's units.
    """
    figure = Figure(figsize=_A4_INCH)
    rows = 4 if plan.alternatives else 3
    grid = figure.add_gridspec(
        rows, 1, height_ratios=(1.45, 1.2, 1.0, 0.95)[:rows],
        left=0.09, right=0.97, top=0.93, bottom=0.05, hspace=0.36,
    )  # fmt: skip
    name = textwrap.shorten(plan.batch.name, _NAME_WIDTH, placeholder=" …")
    figure.text(0.09, 0.965, name, fontsize=14, fontweight="bold", va="center")
    top = grid[0].subgridspec(1, 2, width_ratios=(1.1, 1.0), wspace=0.12)
    _write(figure.add_subplot(top[0]), plan, words)
    _freezing(figure.add_subplot(top[1]), plan, words)
    above = figure.add_subplot(grid[1])
    _temperatures(above, plan, words)
    _frozen(figure.add_subplot(grid[2], sharex=above), plan)
    if plan.alternatives:
        last = grid[3].subgridspec(1, 2, wspace=0.3)
        _courses(figure.add_subplot(last[0]), plan, words)
        _spans(figure.add_subplot(last[1]), plan, words)
    return figure


def _write(axes: Axes, plan: Plan, words: Words) -> None:
    axes.axis("off")
    text = "\n".join(_notes(plan, words))
    axes.text(0.0, 1.03, text, va="top", ha="left", fontsize=8.5, linespacing=1.45)


def _notes(plan: Plan, words: Words) -> Iterator[str]:
    for label, text in page.amounts(plan, words):
        yield from textwrap.wrap(f"{label}: {text}", _TEXT_WIDTH)
    yield f"In cups of {plan.cup_ml:.0f} ml, the range by how densely it lies:"
    for one in plan.measures:
        what = "ice" if one.material in page.ICES else "salt"
        yield f"    {what}, {page.cup_words(one)}{', planned' if one.planned else ''}"
    for text in (
        f"Round 1 {page.round_words(plan.outlook)}",
        f"Recharge {page.recharge_words(plan.outlook, words)}",
        "Gloves at the bath, mixer on a residual-current device, no brine in the mix.",
    ):
        yield from textwrap.wrap(text, _TEXT_WIDTH)


def _freezing(axes: Axes, plan: Plan, words: Words) -> None:
    curve = plan.batch.curve
    t_c = np.linspace(curve.initial_c, min(-20.0, curve.initial_c - 10.0), 200)
    shown, begins = words.degrees(t_c), float(words.degrees(t_c)[0])
    axes.plot(shown, curve.frozen_pct(t_c), color=_MIX, linewidth=1.6)
    axes.plot(
        words.degrees(np.array([0.0, curve.initial_c])), [0.0, 0.0], color=_MIX, linewidth=1.6
    )
    axes.invert_xaxis()
    axes.set_ylim(0.0, 100.0)
    axes.locator_params(axis="x", nbins=6, integer=True)
    axes.set_xlabel(f"mix, {words.scale}")
    axes.set_title("Water frozen, %")
    axes.annotate(
        f"begins at {words.c(curve.initial_c)}", (begins, 0.0), (0.28, 0.1),
        textcoords="axes fraction", arrowprops={"arrowstyle": "-", "color": _GREY}, color=_GREY,
    )  # fmt: skip


def _temperatures(axes: Axes, plan: Plan, words: Words) -> None:
    looks = plan.outlook
    t_min, limit = looks.t_s / 60.0, words.degrees(np.array(plan.batch.limit_c))
    _band(axes, t_min, _scaled(looks.bath_c, words), _BATH, "bath")
    _band(axes, t_min, _scaled(looks.mix_c, words), _MIX, "mix")
    axes.axhline(float(limit), color=_WARN, linestyle="--", linewidth=1.0, label="bath limit")
    axes.axvline(0.0, color=_GREY, linewidth=0.8)
    axes.set_xlim(t_min[0], _until_min(looks.plateau_s))
    axes.set_title(f"Bath and mix, {words.scale}: the middle rig, and four in five")
    axes.tick_params(labelbottom=False)
    axes.margins(y=0.12)
    axes.legend(loc="upper right", ncols=3)


def _scaled(band: Band, words: Words) -> Band:
    return Band(*(words.degrees(q) for q in (band.p10, band.p50, band.p90)))


def _frozen(axes: Axes, plan: Plan) -> None:
    looks = plan.outlook
    after = looks.t_s >= 0.0
    shown = Band(*(q[after] for q in (looks.frozen_share_pct.p10, looks.frozen_share_pct.p50,
                                      looks.frozen_share_pct.p90)))  # fmt: skip
    _band(axes, looks.t_s[after] / 60.0, shown, _MIX, "")
    _plateau(axes, looks.plateau_s)
    axes.axvline(0.0, color=_GREY, linewidth=0.8)
    axes.set_ylim(0.0, max(axes.get_ylim()[1], 10.0))
    axes.set_title("Water of the mix that is ice, %")
    axes.set_xlabel("minutes from the pour")


def _plateau(axes: Axes, plateau: Span) -> None:
    if plateau.p10 is None:
        return
    end_s = plateau.p90 if plateau.p90 is not None else 60.0 * _MOST_MIN
    axes.axvspan(plateau.p10 / 60.0, end_s / 60.0, color=_GREY, alpha=0.15, linewidth=0.0)
    axes.text(
        plateau.p10 / 60.0, 0.97, f" stops stiffening {page.short(plateau)}",
        transform=axes.get_xaxis_transform(), va="top", color="#333333",
    )  # fmt: skip


def _band(axes: Axes, t_min: Any, band: Band, colour: str, label: str) -> None:
    axes.fill_between(t_min, band.p10, band.p90, color=colour, alpha=0.2, linewidth=0.0)
    axes.plot(t_min, band.p50, color=colour, linewidth=1.5, label=label or None)


def _until_min(plateau: Span) -> float:
    latest_s = plateau.p90 if plateau.p90 is not None else 60.0 * _MOST_MIN
    return min(max(1.4 * latest_s / 60.0, _LEAST_MIN), _MOST_MIN)


def _courses(axes: Axes, plan: Plan, words: Words) -> None:
    latest = 0.0
    for one, colour in zip(plan.alternatives, _colours(len(plan.alternatives)), strict=True):
        looks = one.outlook
        after = looks.t_s >= 0.0
        latest = max(latest, _until_min(looks.plateau_s))
        axes.plot(
            looks.t_s[after] / 60.0, looks.frozen_share_pct.p50[after],
            color=colour, label=page.one_of(plan, one, words),
        )  # fmt: skip
    axes.set_xlim(0.0, latest)
    axes.set_ylim(bottom=0.0)
    axes.set_title(f"By {page.heading(plan)}: water frozen, %")
    axes.set_xlabel("minutes from the pour")
    axes.legend(loc="lower right", fontsize=7.5)


def _spans(axes: Axes, plan: Plan, words: Words) -> None:
    end_min = max(_until_min(one.outlook.plateau_s) for one in plan.alternatives)
    for row, (one, colour) in enumerate(
        zip(plan.alternatives, _colours(len(plan.alternatives)), strict=True)
    ):
        found = one.outlook.plateau_s
        if found.p10 is None:
            axes.text(0.02, row, "over 2 h", transform=axes.get_yaxis_transform(), va="center")
            continue
        end = end_min if found.p90 is None else found.p90 / 60.0
        axes.plot([found.p10 / 60.0, end], [row, row], color=colour, linewidth=5.0, alpha=0.5)
        if found.p50 is not None:
            axes.plot(found.p50 / 60.0, row, "o", color=colour, markersize=6.0)
    axes.set_yticks(
        range(len(plan.alternatives)), [page.one_of(plan, one, words) for one in plan.alternatives]
    )
    axes.invert_yaxis()
    axes.margins(y=0.15)
    axes.set_xlim(0.0, end_min)
    axes.set_title("Round 1 stops stiffening")
    axes.set_xlabel("minutes from the pour")


def _colours(count: int) -> list[tuple[float, float, float, float]]:
    shades = mpl.colormaps["viridis"](np.linspace(0.0, 0.85, count))
    return [(float(r), float(g), float(b), 1.0) for r, g, b, _ in shades]
