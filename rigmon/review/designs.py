"""What could go into the outer bowl next: within solubility, the bowls' room, a step's reach."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product

from rigmon.physics import bowls as rims
from rigmon.physics.course import Start
from rigmon.physics.salts import salt
from rigmon.records import BowlSetup, IceKind, SaltKind, SaltName
from rigmon.review.tried import Tried

RATIO_STEP = 1.0
"""One step beyond what was tried, of ice to salt by mass (common practice, no source)."""
ICE_STEP = 0.2
"""One step of the ice, as a share of the least or the most that was tried (own choice)."""
WEAKEST = 12.0
"""More ice to a gram of salt is for hardening, not for freezing (common practice, no source)."""
LEAST_ICE_PER_MIX = 1.5
"""With less ice than so many times the mix it does not stand all round the bowl, and the model,
which takes the wall for covered, would be wrong (own estimate)."""
MOST_ICE_PER_MIX = 5.0
ROUND_RATIO, ROUND_ICE_G, ROUND_SALT_G = 0.5, 100.0, 10.0
"""How finely amounts are suggested."""
GRAINS = (SaltKind.FINE, SaltKind.KOSHER, SaltKind.ROCK)
PIECES = (IceKind.CRUSHED, IceKind.CUBES)


def strongest_ratio() -> float:
    """Ice to sodium chloride by mass below which salt is left over at the eutectic.

    >>> round(strongest_ratio(), 2)
    3.29
    """
    return 100.0 / salt(SaltName.SODIUM_CHLORIDE).eutectic_pct - 1.0


@dataclass(frozen=True, slots=True)
class Design:
    """Ice and salt for one batch.

    Args:
        ice_g: ice [g].
        salt_g: salt [g].
        ice_kind: form of the ice.
        salt_kind: grain of the salt.
    """

    ice_g: float
    salt_g: float
    ice_kind: IceKind = IceKind.CRUSHED
    salt_kind: SaltKind = SaltKind.FINE

    @property
    def ratio(self) -> float:
        """Ice to salt by mass."""
        return self.ice_g / self.salt_g

    def on(self, start: Start) -> Start:
        """A batch with this ice and salt, and all else as `start` has it."""
        return replace(
            start,
            ice_g=self.ice_g,
            salt_g=self.salt_g,
            ice_kind=self.ice_kind,
            salt_kind=self.salt_kind,
        )


def design_of(start: Start) -> Design:
    """Ice and salt of a batch."""
    return Design(start.ice_g, start.salt_g, start.ice_kind, start.salt_kind)


@dataclass(frozen=True, slots=True)
class Reach:
    """The amounts that may be suggested.

    Args:
        ratio: least and greatest ice to salt by mass.
        ice_g: least and greatest ice [g].
        kinds: forms of ice with grains of salt.
        beyond: whether more than one step from what was tried is allowed.
    """

    ratio: tuple[float, float]
    ice_g: tuple[float, float]
    kinds: tuple[tuple[IceKind, SaltKind], ...]
    beyond: bool = False


def reach(
    runs: Sequence[Tried],
    usual: Start,
    rig_bowls: BowlSetup,
    *,
    beyond: bool = False,
    same_grain: bool = False,
) -> Reach:
    """How far a suggestion may go.

    Never below the ratio at which salt is left over, nor beyond the room between the bowls; one
    step from what was tried, unless `beyond`. What was tried outside these bounds widens none.

    Args:
        runs: what was tried.
        usual: what the next batch is like.
        rig_bowls: the bowls.
        beyond: several steps at once.
        same_grain: no other ice or salt than was tried.
    """
    ratios = [run.ratio for run in runs]
    ices = [run.start.ice_g for run in runs]
    strongest = math.ceil(10.0 * strongest_ratio()) / 10.0
    low, high = strongest, WEAKEST
    # Ice is asked of the mass of the mix, whatever was tried.
    least_g = LEAST_ICE_PER_MIX * usual.mix_g
    most_g = min(most_ice_g(rig_bowls, usual), MOST_ICE_PER_MIX * usual.mix_g)
    tried = {(run.start.ice_kind, run.start.salt_kind) for run in runs}
    steps = 0 if same_grain else len(PIECES) + len(GRAINS) if beyond else 1
    kinds = [
        kind
        for kind in product(PIECES, GRAINS)
        if any(_apart(kind, other) <= steps for other in tried)
    ]
    if not beyond:
        low = min(max(low, min(ratios) - RATIO_STEP), high)
        high = max(min(high, max(ratios) + RATIO_STEP), low)
        least_g = max(least_g, min(ices) * (1.0 - ICE_STEP))
        most_g = min(most_g, max(ices) * (1.0 + ICE_STEP))
    most_g = max(ROUND_ICE_G * math.floor(most_g / ROUND_ICE_G + 1e-9), ROUND_ICE_G)
    return Reach((low, high), (min(least_g, most_g), most_g), tuple(kinds), beyond)


def _apart(one: tuple[IceKind, SaltKind], other: tuple[IceKind, SaltKind]) -> int:
    pieces = abs(PIECES.index(one[0]) - PIECES.index(other[0]))
    return pieces + abs(GRAINS.index(one[1]) - GRAINS.index(other[1]))


def most_ice_g(rig_bowls: BowlSetup, usual: Start) -> float:
    """Ice that usually fits between the bowls [g], and does not spill once it has melted.

    >>> most_ice_g(BowlSetup(), Start(1000.0, 3000.0, 750.0))
    3400.0
    """
    most_g = rims.ice_that_fits_g(rig_bowls, usual.ice_kind)[1]
    return max(ROUND_ICE_G * math.floor(most_g / ROUND_ICE_G), ROUND_ICE_G)


def fits(design: Design, usual: Start, rig_bowls: BowlSetup) -> bool:
    """Whether ice, salt and water stay within the outer bowl, heaped and melted."""
    water_g = usual.water_g
    room_ml = rims.room_for_ice_ml(rig_bowls)
    heap_ml = rims.heap_ml(design.ice_g, design.salt_g, water_g, design.ice_kind)
    return max(heap_ml, rims.bath_ml(design.ice_g, design.salt_g, water_g)) <= room_ml


def candidates(within: Reach, usual: Start, rig_bowls: BowlSetup) -> tuple[Design, ...]:
    """All amounts that may be suggested, in round figures."""
    found = []
    for piece, grain in within.kinds:
        for ice_g in _between(*within.ice_g, ROUND_ICE_G):
            for ratio in (within.ratio[0], *_between(*within.ratio, ROUND_RATIO)):
                # Rounded down, so that all of it dissolves.
                salt_g = ROUND_SALT_G * math.floor(ice_g / ratio / ROUND_SALT_G + 1e-9)
                design = Design(ice_g, max(salt_g, ROUND_SALT_G), piece, grain)
                allowed = within.ratio[0] - 1e-9 <= design.ratio <= within.ratio[1] + 1e-9
                if allowed and fits(design, usual, rig_bowls):
                    found.append(design)
    return tuple(dict.fromkeys(found))


def _between(low: float, high: float, step: float) -> Iterable[float]:
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [step * k for k in range(first, last + 1)]
