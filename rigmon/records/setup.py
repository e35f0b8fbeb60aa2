"""What is known before a run: the rig, its probes, the mix, and what earlier runs taught."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Place(StrEnum):
    """What a probe sits in."""

    BATH = "bath"
    MIX = "mix"
    WALL = "wall"
    CORE = "core"
    ROOM = "room"
    FREEZER = "freezer"
    MIXER = "mixer"


_PLACE_WORD = re.compile(r"([a-z]+)(?![a-z])")


def place_of(probe: str) -> Place | None:
    """Where a probe sits, if its name begins with the word for it.

    >>> place_of("bath_2").value, place_of("left"), place_of("mixture")
    ('bath', None, None)
    """
    word = _PLACE_WORD.match(probe)
    return Place(word[1]) if word and word[1] in set(Place) else None


class Converter(StrEnum):
    """How a board turns emf into a temperature.

    `linearised`: the board follows the reference function, or the probe is no thermocouple.
    `straight-line`: the chip divides the emf by one constant sensitivity; undone here.
    `emf`: the board sends millivolts; linearised here.
    """

    LINEARISED = "linearised"
    STRAIGHT_LINE = "straight-line"
    EMF = "emf"


@dataclass(frozen=True, slots=True)
class ProbeSetup:
    """One probe: where it sits and how its readings become temperatures.

    Args:
        name: its name on the wire.
        sits_in: where.
        type: thermocouple letter (T, K, J, E, N), or `other`.
        converter: how the board converts.
        offset_k: added after linearising and gain [K].
        gain: factor on the temperature in °C.
        uncertainty_k: standard uncertainty of what is left after correction [K].
    """

    name: str
    sits_in: Place
    type: str = "T"
    converter: Converter = Converter.LINEARISED
    offset_k: float = 0.0
    gain: float = 1.0
    uncertainty_k: float = 0.5


class SaltKind(StrEnum):
    """Grain of the salt."""

    FINE = "fine"
    KOSHER = "kosher"
    ROCK = "rock"


class IceKind(StrEnum):
    """Form of the ice."""

    CUBES = "cubes"
    CRUSHED = "crushed"


@dataclass(frozen=True, slots=True)
class BathSetup:
    """What usually goes into the outer bowl; a mark with amounts overrides it.

    Args:
        ice_g: ice [g], None if not weighed.
        salt_g: salt [g], None if not weighed.
        water_g: water poured in for contact [g].
        salt_kind: grain of the salt.
        ice_kind: form of the ice.
        limit_c: bath limit [°C]; None for the one that follows from the mix.
    """

    ice_g: float | None = None
    salt_g: float | None = None
    water_g: float = 0.0
    salt_kind: SaltKind = SaltKind.FINE
    ice_kind: IceKind = IceKind.CRUSHED
    limit_c: float | None = None


class BowlShape(StrEnum):
    """Shape of a bowl's inside.

    `frustum`: a flat base and straight sides that widen to the rim.
    `measured`: by a table of depth and volume.
    """

    HEMISPHERE = "hemisphere"
    CYLINDER = "cylinder"
    FRUSTUM = "frustum"
    MEASURED = "measured"


@dataclass(frozen=True, slots=True)
class BowlSetup:
    """The two bowls.

    Args:
        inner_ml: volume of the inner bowl to its rim [ml].
        outer_ml: volume of the outer bowl to its rim [ml].
        inner_shape: shape of the inner bowl.
        outer_shape: shape of the outer bowl.
        inner_rim_mm: inside diameter at the rim of an inner frustum [mm].
        inner_base_mm: inside diameter at its base [mm].
        outer_rim_mm: inside diameter at the rim of an outer frustum [mm].
        outer_base_mm: inside diameter at its base [mm].
        inner_table: depth [mm] and volume [ml] of a measured inner bowl, rising to the rim.
        outer_table: depth [mm] and volume [ml] of a measured outer bowl, rising to the rim.
    """

    inner_ml: float = 4000.0
    outer_ml: float = 9500.0
    inner_shape: BowlShape = BowlShape.HEMISPHERE
    outer_shape: BowlShape = BowlShape.HEMISPHERE
    inner_rim_mm: float | None = None
    inner_base_mm: float | None = None
    outer_rim_mm: float | None = None
    outer_base_mm: float | None = None
    inner_table: tuple[tuple[float, float], ...] | None = None
    outer_table: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True, slots=True)
class AlarmSetting:
    """What a configuration changes on one alarm; None leaves the table's value.

    Args:
        enabled: False puts the alarm out of service.
        on_delay_s: how long the condition must hold before the alarm is raised [s].
        off_delay_s: how long it must be gone before the alarm returns to normal [s].
        set_point: the figure at which the condition holds, in the unit of the table's row.
        deadband: how far the figure must come back before it no longer holds, in that unit.
    """

    enabled: bool = True
    on_delay_s: float | None = None
    off_delay_s: float | None = None
    set_point: float | None = None
    deadband: float | None = None


@dataclass(frozen=True, slots=True)
class PlateauSetting:
    """When a mix counts as having stopped stiffening.

    Args:
        gain_pct: less than this share of the water [percentage points] ...
        within_s: ... freezing in this much more beating [s].
    """

    gain_pct: float = 2.0
    within_s: float = 120.0


@dataclass(frozen=True, slots=True)
class RigSetup:
    """One rig as configured, without how its readings arrive.

    Args:
        id: `a-z 0-9 -`.
        probes: its probes; empty means that a probe's name says where it sits.
        bath: what usually goes into the outer bowl.
        bowls: the two bowls.
        room_c: temperature of the room [°C], if said.
        mixer: the mixer's name, for the log.
        scoop_g: grams of ice in one scoop, if weighed once.
        plateau: when the mix counts as having stopped stiffening.
        alarms: changes to the alarm table, by code.
    """

    id: str = "rig"
    probes: tuple[ProbeSetup, ...] = ()
    bath: BathSetup = BathSetup()
    bowls: BowlSetup = BowlSetup()
    room_c: float | None = None
    mixer: str = ""
    scoop_g: float | None = None
    plateau: PlateauSetting = PlateauSetting()
    alarms: Mapping[str, AlarmSetting] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Composition:
    """What a mix is made of, in percent of its mass; the shares add up to 100 within 1.

    Args:
        water: water.
        fat: fat of any origin.
        msnf: milk solids not fat, their own lactose and salts included.
        sucrose: sucrose.
        dextrose: glucose, not from syrup.
        fructose: fructose.
        glucose_syrup: solids of glucose (corn) syrup.
        glucose_syrup_de: dextrose equivalent of that syrup [0 to 100].
        lactose: lactose added on top of the milk solids.
        other_solids: what does not lower the freezing point (fibre, starch, protein of eggs).
        alcohol: ethanol.
        salt: sodium chloride on top of the milk salts.
        stabiliser: gums and emulsifiers.
    """

    water: float
    fat: float = 0.0
    msnf: float = 0.0
    sucrose: float = 0.0
    dextrose: float = 0.0
    fructose: float = 0.0
    glucose_syrup: float = 0.0
    glucose_syrup_de: float = 42.0
    lactose: float = 0.0
    other_solids: float = 0.0
    alcohol: float = 0.0
    salt: float = 0.0
    stabiliser: float = 0.0


class Measure(StrEnum):
    """What an ingredient is measured in."""

    GRAMS = "grams"
    MILLILITRES = "ml"
    CUPS = "cups"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class IngredientLine:
    """One ingredient as the recipe names it.

    Args:
        name: from the ingredient table or one of its aliases.
        amount: how much, in `measure`.
        measure: what the amount counts in.
        where: the place in the recipe file, for messages.
    """

    name: str
    amount: float
    measure: Measure = Measure.GRAMS
    where: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """A mix.

    Args:
        name: what the maker calls it.
        composition: what it is made of; None while only `ingredients` are known.
        mass_g: mass of the batch [g], if known.
        ingredients: the recipe's lines, where it was written so.
        cup_ml: size of the cup that `cups` means [ml].
    """

    name: str
    composition: Composition | None
    mass_g: float | None = None
    ingredients: tuple[IngredientLine, ...] = ()
    cup_ml: float = 240.0


@dataclass(frozen=True, slots=True)
class RigPrior:
    """What is believed of a rig before a run: a multivariate normal on transformed parameters.

    Args:
        names: n parameter names, with their unit.
        transforms: n of `log` (the logarithm is normal) or `identity`.
        mean: n means on the transformed scale.
        covariance: n x n, on the transformed scale.
        model_version: the model these parameters belong to.
    """

    names: tuple[str, ...]
    transforms: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    model_version: str
