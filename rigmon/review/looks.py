"""How figures look: dark on white, told apart with any kind of colour vision."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl

BATH, MIX, GREY, WARN, SALT = "#1f5a8a", "#b3541e", "#6b6b6b", "#a11d33", "#8a8a8a"
"""Told apart with any kind of colour vision, and in grey by their lightness and their lines."""
INK = "#222222"
LOOKS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.titlesize": 10.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "#888888",
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#e3e3e3",
    "grid.linewidth": 0.6,
    "text.color": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.frameon": False,
    "svg.hashsalt": "rigmon",
    "svg.fonttype": "path",
    "text.parse_math": False,
}


@contextmanager
def looks() -> Iterator[None]:
    """The figures' looks, for as long as something is drawn."""
    with mpl.rc_context(LOOKS), warnings.catch_warnings():
        # A name may be written in letters that the font does not have.
        warnings.filterwarnings("ignore", "Glyph .* missing")
        yield
