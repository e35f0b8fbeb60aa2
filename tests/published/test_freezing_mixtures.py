"""Ice and salt mixed without heat from outside, against the freezing mixtures of old tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.physics.ageing import ageing, mixed
from rigmon.physics.salts import salt
from rigmon.records import SaltName

if TYPE_CHECKING:
    from tests.published.conftest import Held

NACL = SaltName.SODIUM_CHLORIDE
KCL = SaltName.POTASSIUM_CHLORIDE
CALCIUM = SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE
MAGNESIUM = SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE

WALKER = "Walker's table in Cooley's Cyclopaedia, 6th ed."
ENCYCLOPEDIA = "Great Medical Encyclopedia, Cooling mixtures"
SUPPLEMENT = "Scientific American Supplement, Freezing Mixtures"
BENCH = "laboratory list of cooling mixtures"
MEMORY = "laboratory tables, from memory"

# Salt [g] to 100 g of ice at 0 °C and the lowest temperature claimed [°C]. What lies below -50 °C
# for calcium chloride is colder than its eutectic (Oakes, Bodnar & Simonson 1990: -49.95 °C) and
# cannot have been at rest; the tolerances of those rows are what they are off by. Left out: 1 : 1
# snow and salt "to -17.8 °C", which is 0 °F and a legend of the scale, and a reprint with +5 °F for
# 2 : 1, a lost minus sign.
COLDEST = (
    (NACL, 33.0, -21.2, 0.1, ENCYCLOPEDIA),
    (NACL, 100.0 / 3.0, -21.0, 0.2, BENCH),
    (NACL, 50.0, -20.6, 0.6, WALKER),
    (KCL, 30.0, -11.0, 0.5, MEMORY),
    (CALCIUM, 130.0, -49.0, 1.0, SUPPLEMENT),
    (CALCIUM, 150.0, -45.6, 4.3, WALKER),
    (CALCIUM, 143.0, -55.0, 5.3, ENCYCLOPEDIA),
    (MAGNESIUM, 85.0, -34.0, 1.0, MEMORY),
)

# Crystallised calcium chloride [g] to 100 g of ice and a temperature [°C] that laboratory tables
# give for it, from memory. These are the freezing points of the whole once all ice has melted: a
# mixture at rest begins colder.
ALL_MELTED = ((41.0, -9.0, 1.8), (81.0, -21.5, 2.1), (123.0, -40.3, 2.0))


@pytest.mark.parametrize(("name", "salt_g", "t_c", "within", "source"), COLDEST)
def test_mixed_ice_and_salt_is_as_cold_as_old_tables_say(
    held: Held, name: SaltName, salt_g: float, t_c: float, within: float, source: str
) -> None:
    """The eutectic, or what the old thermometers and their readers made of it."""
    of = salt(name)
    at = mixed(of, 100.0, 0.0, 0.0, 0.0, salt_g, 0.0)
    part = f"{of.formula}, {salt_g:.0f} g to 100 g of ice, mixed"
    held(part, at.t_c, t_c, within=within, unit="°C", source=source)


@pytest.mark.parametrize(("salt_g", "t_c", "within"), ALL_MELTED)
def test_less_calcium_chloride_ends_where_tables_put_it(
    held: Held, salt_g: float, t_c: float, within: float
) -> None:
    """With less salt than the ice can melt, the tables' figure is that of the last ice."""
    of = salt(CALCIUM)
    curve = ageing(of, 100.0, 0.0, 0.0, 0.0, salt_g, 0.0, points=10)
    held(
        "CaCl2·6H2O, 41 to 123 g to 100 g of ice, last ice",
        curve.last_ice_c,
        t_c,
        within=within,
        unit="°C",
        source=MEMORY,
    )
    assert curve.t_c[0] < curve.last_ice_c


def test_anhydrous_calcium_chloride_cools_less_than_crystallised() -> None:
    """Of the same salt in the same water the dry form, which heats, leaves the bath warmer."""
    dry = mixed(salt(SaltName.CALCIUM_CHLORIDE), 100.0, 0.0, 0.0, 0.0, 25.0, 0.0)
    crystals_g = 25.0 / salt(CALCIUM).anhydrous_share
    crystals = mixed(salt(CALCIUM), 100.0 - (crystals_g - 25.0), 0.0, 0.0, 0.0, crystals_g, 0.0)
    assert dry.t_c > crystals.t_c + 10.0
