"""How fast the mix stiffens is said from a minute of beating, and from no other."""

from __future__ import annotations

import math
import random

from rigmon.run.stiffening import WINDOW_S, Stiffening


def test_the_slope_of_a_noisy_course() -> None:
    """Within a tenth of 2 %/min where each second scatters by 0.2 %."""
    chance, stiffening = random.Random(3), Stiffening()
    for t in range(200):
        stiffening.see(float(t), t / 30.0 + chance.gauss(0.0, 0.2), beating=True)

    found = stiffening.pct_min()
    assert found is not None
    assert math.isclose(found, 2.0, abs_tol=0.2)


def test_nothing_before_a_minute_and_nothing_after_a_pause() -> None:
    """A rate from a few seconds is none; a pause begins anew, and so does what is not known."""
    stiffening = Stiffening()
    for t in range(60):
        stiffening.see(float(t), 0.1 * t, beating=True)
    assert stiffening.pct_min() is None
    stiffening.see(60.0, 6.0, beating=True)
    assert stiffening.pct_min() is not None
    stiffening.see(61.0, 6.0, beating=False)
    assert stiffening.pct_min() is None
    stiffening.see(62.0, None, beating=True)
    assert stiffening.pct_min() is None


def test_only_the_last_minutes_count() -> None:
    """What stiffened well at first and no more is said to stiffen no more."""
    stiffening = Stiffening()
    for t in range(600):
        stiffening.see(float(t), min(t, 300) / 30.0, beating=True)

    assert stiffening.pct_min() == 0.0
    assert len(stiffening._seen) <= WINDOW_S + 1
