"""When the virtual mix truly stops stiffening, with nothing to be estimated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rigmon.records import PlateauSetting
from rigmon.virtual.rig import VirtualRig


@dataclass(frozen=True, slots=True)
class Stiffening:
    """How the mix stiffened, second by second.

    Args:
        start_s: run time of the first value [s].
        frozen_pct: frozen share off the wall, one value a second [% of the water].
    """

    start_s: float
    frozen_pct: tuple[float, ...]


def beaten_on(rig: VirtualRig, for_s: float) -> Stiffening:
    """What the frozen share would do if a rig were beaten on at full speed for `for_s` [s]."""
    ahead = rig.copy()
    ahead.bowl.speed = 1.0
    start_s = ahead.t
    frozen = [ahead.bowl.frozen_pct()]
    for second in range(1, int(for_s) + 1):
        ahead.run(start_s + second)
        frozen.append(ahead.bowl.frozen_pct())
    return Stiffening(start_s, tuple(frozen))


def plateau_s(stiffening: Stiffening, setting: PlateauSetting | None = None) -> float | None:
    """The first run time [s] from which no `within_s` of beating freezes `gain_pct` or more.

    None where freezing does not begin, or where the mix still gains that much at the end.

    >>> grows = tuple(min(0.05 * s, 30.0) for s in range(1000))
    >>> plateau_s(Stiffening(100.0, grows))
    661.0
    """
    rule = setting or PlateauSetting()
    frozen, within = stiffening.frozen_pct, round(rule.within_s)
    begun = _first_above(frozen, 0.0)
    if begun is None or len(frozen) <= begun + within:
        return None
    last = len(frozen) - 1 - within
    gains = (frozen[i + within] - frozen[i] >= rule.gain_pct for i in range(last, begun - 1, -1))
    still = next((last - k for k, gain in enumerate(gains) if gain), begun - 1)
    return None if still == last else stiffening.start_s + still + 1


def _first_above(values: Sequence[float], level: float) -> int | None:
    return next((i for i, value in enumerate(values) if value > level), None)
