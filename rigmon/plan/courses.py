"""Courses as far as a plan looks ahead, and what is read off them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rigmon.physics import several
from rigmon.physics.course import Course, Start
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs

HORIZON_S = 7200.0
"""Nothing is said of what happens later after the pour [s]."""
STEP_S = 2.5
"""Time step of the model [s]."""


def courses(curve: FreezingCurve, asked: Sequence[tuple[Start, Rigs]]) -> list[Course]:
    """How rounds go, to the horizon of a plan; arguments as of `rigmon.physics.several.courses`."""
    return several.courses(curve, asked, HORIZON_S, STEP_S)


def at(ran: Course, what: Array, t_s: Array) -> Array:
    """A quantity of each rig at its own time `t_s` [s] from the pour."""
    row = np.clip(np.searchsorted(ran.t_s, t_s), 0, len(ran.t_s) - 1)
    return np.asarray(what[row, np.arange(what.shape[1])])


def reached_s(ran: Course, frozen_pct: float) -> float:
    """Time from the pour until the first rig has so much of its water frozen [s]; inf if never.

    Between the times of the course on a straight line, so that small differences can be told.
    """
    after = ran.t_s >= 0.0
    t, frozen = ran.t_s[after], ran.frozen_pct[after, 0]
    row = int(np.argmax(frozen >= frozen_pct))
    if frozen[row] < frozen_pct:
        return float("inf")
    if row == 0:
        return 0.0
    share = (frozen_pct - frozen[row - 1]) / (frozen[row] - frozen[row - 1])
    return float(t[row - 1] + share * (t[row] - t[row - 1]))
