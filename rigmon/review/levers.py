"""What else than the ratio saves time, and how much of it for the work that it makes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics.course import Beating, Start
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.rigparameters import Rigs
from rigmon.records import BowlSetup, IceKind
from rigmon.review.designs import (
    GRAINS,
    ICE_STEP,
    RATIO_STEP,
    ROUND_ICE_G,
    ROUND_SALT_G,
    design_of,
    fits,
    most_ice_g,
    strongest_ratio,
)
from rigmon.review.evidence import Worlds
from rigmon.review.worlds import of_starts

WORTH_MIN = 0.2
"""What saves less than this is not worth a word [min]."""
_RIGS = 24
_COLDER_K, _COLDEST_MIX_C = 3.0, 1.0
_COLD_BOWLS_C = -15.0
_SCRAPE_S = 120.0
_SLOWER = 0.75


@dataclass(frozen=True, slots=True)
class Lever:
    """Something that could be done otherwise.

    Args:
        code: short name, `a-z -`.
        text: what, in words.
        saves_min: what it saves on the way to the frozen share: 10, 50 and 90 % quantile [min].
        work_min: work that it makes [min] (own estimate).
        salt_g: salt that it costs [g].
        ice_g: ice that it costs [g].
    """

    code: str
    text: str
    saves_min: tuple[float, float, float]
    work_min: float
    salt_g: float = 0.0
    ice_g: float = 0.0

    @property
    def worth(self) -> float:
        """Minutes saved for a minute of work."""
        return self.saves_min[1] / self.work_min


@dataclass(frozen=True, slots=True)
class _Change:
    code: str
    text: str
    start: Start
    work_min: float
    beating: Beating | None = None


def _changes(start: Start, rig_bowls: BowlSetup) -> Iterator[_Change]:
    of = design_of(start)
    ratio = max(of.ratio - RATIO_STEP, strongest_ratio())
    salt_g = ROUND_SALT_G * np.floor(of.ice_g / ratio / ROUND_SALT_G)
    stronger = replace(start, salt_g=salt_g)
    if salt_g > start.salt_g and fits(design_of(stronger), start, rig_bowls):
        words = f"{start.ice_g / salt_g:.1f} : 1 of ice to salt, not {of.ratio:.1f} : 1"
        yield _Change("ratio", words, stronger, 0.5)
    most_g = min(start.ice_g * (1.0 + ICE_STEP), most_ice_g(rig_bowls, start))
    ice_g = ROUND_ICE_G * np.floor(most_g / ROUND_ICE_G)
    more = replace(start, ice_g=ice_g, salt_g=ice_g / of.ratio)
    if ice_g > start.ice_g and fits(design_of(more), start, rig_bowls):
        yield _Change("more-ice", f"{ice_g:.0f} g of ice at the same ratio", more, 2.0)
    if start.ice_kind is IceKind.CUBES:
        crushed = replace(start, ice_kind=IceKind.CRUSHED)
        yield _Change("crushed-ice", "crushed ice, not cubes", crushed, 10.0)
    if start.salt_kind is not GRAINS[0]:
        finer = GRAINS[GRAINS.index(start.salt_kind) - 1]
        words = f"{finer} salt, not {start.salt_kind}"
        yield _Change("finer-salt", words, replace(start, salt_kind=finer), 1.0)
    colder_c = max(start.mix_c - _COLDER_K, _COLDEST_MIX_C)
    if start.mix_c - colder_c >= 1.0:
        colder = replace(start, mix_c=colder_c)
        words = f"the mix {start.mix_c - colder_c:.0f} °C colder"
        yield _Change("mix-colder", words, colder, 1.0)
    cold = replace(start, bowls_c=_COLD_BOWLS_C)
    yield _Change("cold-bowls", "bowls out of the freezer, if they are not yet", cold, 2.0)
    towel = replace(start, wrapped=True)
    yield _Change("towel", "a towel round the outer bowl, if there is none yet", towel, 1.0)
    often = Beating(scrape_every_s=_SCRAPE_S)
    yield _Change(
        "scrape", "the wall scraped every two minutes, mixer unplugged", start, 4.0, often
    )
    slow = Beating(speed=_SLOWER)
    yield _Change("slower", "the mixer a quarter slower", start, 0.5, slow)


def levers(
    curve: FreezingCurve,
    start: Start,
    rigs: Rigs,
    worlds: Worlds,
    frozen_pct: float,
    rig_bowls: BowlSetup,
) -> tuple[Lever, ...]:
    """What could be done otherwise, by minutes saved for a minute of work.

    Args:
        curve: how the mix freezes.
        start: a batch with the best amounts so far.
        rigs: the rigs that may be.
        worlds: how likely each is.
        frozen_pct: the share that is aimed at [%].
        rig_bowls: the bowls.
    """
    some = rigs.chosen(np.asarray(worlds.rig[:: max(worlds.rig.size // _RIGS, 1)][:_RIGS]))
    made: list[_Change] = list(_changes(start, rig_bowls))
    plain = [change for change in made if change.beating is None]
    first, *others = of_starts(curve, [start, *(one.start for one in plain)], some, frozen_pct)
    after = {one.code: of for one, of in zip(plain, others, strict=True)}
    for one in made:
        if one.beating is not None:
            (after[one.code],) = of_starts(curve, [start], some, frozen_pct, one.beating)
    found = []
    for one in made:
        saves = (np.exp(first.log_s) - np.exp(after[one.code].log_s)) / 60.0
        low, middle, high = np.quantile(saves, (0.1, 0.5, 0.9))
        if middle >= WORTH_MIN:
            found.append(
                Lever(
                    code=one.code,
                    text=one.text,
                    saves_min=(float(low), float(middle), float(high)),
                    work_min=one.work_min,
                    salt_g=one.start.salt_g - start.salt_g,
                    ice_g=one.start.ice_g - start.ice_g,
                )
            )
    return tuple(sorted(found, key=lambda lever: -lever.worth))
