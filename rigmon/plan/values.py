"""What a plan is made of: small frozen values, each number with its unit in its name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rigmon.physics.bowls import Fit
from rigmon.physics.brine import Heap
from rigmon.physics.course import Start
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.records import BowlSetup, Composition, Finding, IceKind, PlateauSetting, SaltKind
from rigmon.records.planning import SaltName
from rigmon.run.recharging import Recharge

Compared = Literal["ratio", "ice_g", "salt_g", "room_c", "mix_c"]
"""In what alternatives may differ."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What the maker said; None where a value is to be taken from the rig or suggested.

    Args:
        mix_g: mass of the batch [g].
        mix_c: temperature of the mix as it is poured [°C].
        ice_g: ice [g].
        salt_g: salt [g].
        ratio: ice to salt by mass.
        ice_kind: form of the ice.
        salt_kind: grain of the salt.
        salt: what the salt is.
        room_c: temperature of the room [°C].
        seed: seed of the drawn rigs.
    """

    mix_g: float | None = None
    mix_c: float = 4.0
    ice_g: float | None = None
    salt_g: float | None = None
    ratio: float | None = None
    ice_kind: IceKind | None = None
    salt_kind: SaltKind | None = None
    salt: SaltName = SaltName.SODIUM_CHLORIDE
    room_c: float | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch with every amount settled.

    Args:
        name: what the maker calls the mix.
        composition: what the mix is made of.
        curve: how it freezes.
        start: masses, temperatures and kinds that the batch starts from.
        bowls: the two bowls.
        plateau: when the mix counts as having stopped stiffening.
        limit_c: bath temperature above which the bath no longer does its job [°C].
        needed_g: ice that a round needs [g]; None where the ice was given.
        wanted_g: that with a spare, whether it fits or not [g]; None where the ice was given.
        assumed: what was taken without being said.
    """

    name: str
    composition: Composition
    curve: FreezingCurve
    start: Start
    bowls: BowlSetup
    plateau: PlateauSetting
    limit_c: float
    needed_g: float | None
    wanted_g: float | None
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Span:
    """What an unknown rig may make of it: 10, 50 and 90 % of rigs lie below.

    None where the value lies beyond the horizon.
    """

    p10: float | None
    p50: float | None
    p90: float | None


def span(values: Array) -> Span:
    """10, 50 and 90 % quantiles of values of which some may be infinite.

    >>> span(np.array([60.0, 70.0, 80.0, 90.0, np.inf]))
    Span(p10=60.0, p50=80.0, p90=None)
    """
    quantiles = np.quantile(values, (0.1, 0.5, 0.9), method="inverted_cdf")
    return Span(*(float(value) if np.isfinite(value) else None for value in quantiles))


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """How one quantity may run: quantiles over the drawn rigs, one value a time."""

    p10: Array
    p50: Array
    p90: Array


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What the drawn rigs make of a batch. Times count from the pour [s].

    Args:
        ready_s: from ice and salt until the bath is ready for the pour.
        plateau_s: until the mix stops stiffening.
        as_stiff_s: until it is as stiff as the plan's is on the usual rig when it stops stiffening.
        frozen_pct: share of the water that is then ice [%].
        bath_limit_s: until the bath passes its limit.
        ice_melted_g: ice that has melted when the round is over [g].
        never_cold: share of rigs whose bath is not below its limit after the pour, 0 to 1.
        recharge_p: probability that the bath gives out before the round is over, 0 to 1.
        keep_ready: ice and salt for a recharge.
        t_s: times of the bands [s].
        bath_c: the bath [°C].
        mix_c: the mix [°C].
        frozen_share_pct: share of the mix's water that is ice [%].
    """

    ready_s: Span
    plateau_s: Span
    as_stiff_s: Span
    frozen_pct: Span
    bath_limit_s: Span
    ice_melted_g: Span
    never_cold: float
    recharge_p: float
    keep_ready: Recharge
    t_s: Array
    bath_c: Band
    mix_c: Band
    frozen_share_pct: Band


@dataclass(frozen=True, slots=True)
class Measure:
    """A mass in cups, by what is in them.

    Args:
        material: what is measured.
        g: its mass [g].
        cups: cups at the usual bulk density.
        cups_low: cups where it lies densest.
        cups_high: cups where it lies loosest.
        planned: whether this is the material that the plan reckons with.
    """

    material: Heap
    g: float
    cups: float
    cups_low: float
    cups_high: float
    planned: bool


@dataclass(frozen=True, slots=True)
class Help:
    """What one change saves on the usual rig.

    Args:
        code: short name, `a-z -`.
        text: the change, in words.
        saves_s: how much sooner the mix is as stiff [s]; None where it never is.
        saves_ice_g: ice that is left over at the time at which the plan is so far [g].
        in_use: whether the plan has it already, and would lose so much without it.
    """

    code: str
    text: str
    saves_s: float | None
    saves_ice_g: float
    in_use: bool = False


@dataclass(frozen=True, slots=True)
class Hint:
    """A thing to watch for, or a caution.

    Args:
        code: short name, `a-z -`.
        text: what to do or to leave.
        basis: the authority or source, or "common practice, no source".
    """

    code: str
    text: str
    basis: str


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """One of several plans that differ in one figure.

    Args:
        value: the figure.
        batch: what was planned.
        fit: whether it fits.
        outlook: what the drawn rigs make of it.
    """

    value: float
    batch: Batch
    fit: Fit
    outlook: Outlook


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """All that is said the evening before.

    Args:
        batch: what was planned.
        fit: whether it fits the bowls.
        ice_fits_g: ice that fits between the bowls: least, usual, greatest [g].
        heat_kj: heat out of the mix from its start to −5 °C [kJ].
        cup_ml: what a cup holds [ml].
        measures: ice and salt in cups, by material.
        outlook: what the drawn rigs make of it.
        stiff_pct: share of the water that is ice when the usual rig's mix stops stiffening [%].
        helps: what each change saves on the way there.
        findings: what stands out in the recipe.
        watch: what to watch for with this base.
        cautions: what can hurt.
        compared: the figure in which the alternatives differ.
        alternatives: plans that differ in that figure.
    """

    batch: Batch
    fit: Fit
    ice_fits_g: tuple[float, float, float]
    heat_kj: float
    cup_ml: float
    measures: tuple[Measure, ...]
    outlook: Outlook
    stiff_pct: float
    helps: tuple[Help, ...]
    findings: tuple[Finding, ...]
    watch: tuple[Hint, ...]
    cautions: tuple[Hint, ...]
    compared: Compared | None = None
    alternatives: tuple[Alternative, ...] = ()
