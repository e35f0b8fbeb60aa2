"""Brines of other salts than sodium chloride against handbooks and an independent library."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics.salts import Salt, salt
from rigmon.records import SaltName

if TYPE_CHECKING:
    from tests.published.conftest import Held

NACL = salt(SaltName.SODIUM_CHLORIDE)
KCL = salt(SaltName.POTASSIUM_CHLORIDE)
CACL2 = salt(SaltName.CALCIUM_CHLORIDE)
MGCL2 = salt(SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE)

CRC = "CRC Handbook, 102nd ed."
LANGE = "Lange's Handbook, 15th ed., table 5.13"
COOLPROP = "CoolProp (Melinder 2010)"

# CRC Handbook of Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties of Aqueous
# Solutions": mass % and freezing point [°C].
CRC_KCL = (
    (0.5, -0.23), (1, -0.46), (2, -0.92), (3, -1.38), (4, -1.85), (5, -2.32), (6, -2.80),
    (7, -3.29), (8, -3.80), (9, -4.30), (10, -4.81), (11, -5.33), (12, -5.88), (13, -6.45),
)  # fmt: skip
CRC_CACL2 = (
    (0.5, -0.22), (1, -0.44), (2, -0.88), (3, -1.33), (4, -1.82), (5, -2.35), (6, -2.93),
    (7, -3.57), (8, -4.28), (9, -5.04), (10, -5.86), (11, -6.74), (12, -7.70), (13, -8.72),
    (14, -9.83), (15, -11.01), (16, -12.28), (17, -13.65), (18, -15.11), (19, -16.70),
    (20, -18.30),
)  # fmt: skip
# Past 22 % the same table is up to 7 °C warmer than what Oakes, Bodnar & Simonson 1990 measured.
CRC_CACL2_OLD = ((22, -21.7), (24, -25.3), (26, -29.7), (28, -34.7), (30, -41.0))
CRC_MGCL2 = ((0.5, -0.26), (1, -0.52), (2, -1.06), (3, -1.65), (4, -2.30), (5, -3.01))
# Lange's Handbook of Chemistry, 15th ed. (1999), table 5.13, p. 5.86: mass % and the freezing
# point converted from °F. Its 19 % row has -25.6 °C, a misprint of -24.6 by its own -12.2 °F.
LANGE_MGCL2 = (
    (5, -3.11), (6, -3.89), (7, -4.72), (8, -5.67), (9, -6.67), (10, -7.83), (11, -9.06),
    (12, -10.50), (13, -12.06), (14, -13.72), (15, -15.56), (16, -17.56), (17, -19.72),
    (18, -22.06), (19, -24.56), (20, -27.39), (21, -30.56),
)  # fmt: skip
# The same table past the eutectic: where dodecahydrate rests with the brine.
LANGE_MGCL2_HYDRATE = (
    (23, -28.89), (24, -25.56), (25, -23.33), (26, -21.11), (27, -19.44), (28, -18.33),
    (29, -17.22), (30, -16.67),
)  # fmt: skip

# CRC Handbook, as above: density at 20 °C [g/ml].
CRC_DENSITY = (
    (KCL, 5, 1.0304), (KCL, 10, 1.0633), (KCL, 13, 1.0836),
    (CACL2, 5, 1.0401), (CACL2, 10, 1.0835), (CACL2, 15, 1.1292), (CACL2, 20, 1.1775),
    (CACL2, 26, 1.2388), (CACL2, 30, 1.2816),
    (MGCL2, 5, 1.0394), (MGCL2, 10, 1.0826), (MGCL2, 16, 1.1372), (MGCL2, 20, 1.1742),
)  # fmt: skip

# Saturation of sodium chloride, CRC Handbook "Aqueous Solubility of Inorganic Compounds" for
# halite, with the handbook's dihydrate branch: temperature [°C] and mass %.
HALITE = ((0.1, 26.28), (10, 26.32), (20, 26.41), (25, 26.45), (30, 26.52))
DIHYDRATE = ((-17.3, 23.7), (-11.1, 24.9), (-2.7, 26.1))
# Lange's Handbook, table 5.13, from memory.
DIHYDRATE_LANGE = ((-16.98, 24.0), (-10.4, 25.0), (-2.3, 26.0))
# CRC Handbook "Aqueous Solubility of Inorganic Compounds", from memory.
SOLUBLE = (
    (KCL, 0, 21.74), (KCL, 10, 23.61), (KCL, 20, 25.39), (KCL, 30, 27.04),
    (CACL2, 0, 36.70), (CACL2, 10, 39.19), (CACL2, 20, 42.13), (CACL2, 25, 44.83),
    (MGCL2, 0, 33.96), (MGCL2, 10, 34.85), (MGCL2, 20, 35.58), (MGCL2, 30, 36.20),
)  # fmt: skip


@pytest.mark.parametrize(("pct", "t_c"), CRC_KCL)
def test_potassium_chloride_freezes_as_the_crc_handbook_says(
    held: Held, pct: float, t_c: float
) -> None:
    """Every row of the table is met to its own last digit."""
    what = "KCl brine, freezing point, 0.5 to 13 % salt"
    held(what, KCL.freezing_c(pct), t_c, within=0.011, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "t_c"), CRC_CACL2)
def test_calcium_chloride_freezes_as_the_crc_handbook_says(
    held: Held, pct: float, t_c: float
) -> None:
    """Up to 20 %, where sources agree, every row is met to 0.04 °C."""
    what = "CaCl2 brine, freezing point, 0.5 to 20 % salt"
    held(what, CACL2.freezing_c(pct), t_c, within=0.04, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "t_c"), CRC_CACL2_OLD)
def test_strong_calcium_chloride_leaves_older_tables_on_the_cold_side(
    pct: float, t_c: float
) -> None:
    """Past 22 % ours is colder than older tables by up to 7.1 °C, as new measurements are."""
    assert 0.0 < t_c - CACL2.freezing_c(pct) < 7.1


@pytest.mark.parametrize("pct", [2.0, 5.0, 10.0, 15.0, 20.0, 22.0, 24.0, 26.0, 28.0, 30.0])
def test_calcium_chloride_freezes_as_coolprop_says(held: Held, pct: float) -> None:
    """The library agrees to 0.12 °C up to 30 %."""
    kelvin = PropsSI("T_freeze", "P", 101325, "Q", 0, f"INCOMP::MCA[{pct / 100.0}]")
    held(
        "CaCl2 brine, freezing point, 2 to 30 % salt",
        CACL2.freezing_c(pct),
        kelvin - 273.15,
        within=0.12,
        unit="°C",
        source=COOLPROP,
    )


@pytest.mark.parametrize(("pct", "t_c"), CRC_MGCL2)
def test_magnesium_chloride_freezes_as_the_crc_handbook_says(
    held: Held, pct: float, t_c: float
) -> None:
    """Up to 5 %, where the table ends, every row is met to 0.02 °C."""
    what = "MgCl2 brine, freezing point, 0.5 to 5 % salt"
    held(what, MGCL2.freezing_c(pct), t_c, within=0.02, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "t_c"), LANGE_MGCL2)
def test_magnesium_chloride_freezes_as_lange_says(held: Held, pct: float, t_c: float) -> None:
    """Rows in whole tenths °F are met within what Lange parts from the CRC Handbook at 5 %."""
    what = "MgCl2 brine, freezing point, 5 to 21 % salt"
    held(what, MGCL2.freezing_c(pct), t_c, within=0.1, unit="°C", source=LANGE)


@pytest.mark.parametrize("pct", [2.0, 5.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0])
def test_magnesium_chloride_freezes_within_the_spread_of_sources(held: Held, pct: float) -> None:
    """Melinder's fit parts from Lange by up to 1.3 °C, and ours from Melinder as much."""
    kelvin = PropsSI("T_freeze", "P", 101325, "Q", 0, f"INCOMP::MMG[{pct / 100.0}]")
    held(
        "MgCl2 brine, freezing point, 2 to 20 % salt, spread of sources",
        MGCL2.freezing_c(pct),
        kelvin - 273.15,
        within=1.4,
        unit="°C",
        source=COOLPROP,
    )


@pytest.mark.parametrize(
    ("of", "t_c", "within_c", "pct", "within_pct", "source"),
    [
        (CACL2, -49.95, 0.15, 30.33, 0.1, "Oakes, Bodnar & Simonson 1990"),
        (KCL, -10.7, 0.1, 19.7, 0.2, "from memory"),
        (MGCL2, -33.6, 0.6, 21.0, 1.0, "from memory"),
    ],
)
def test_eutectics_are_where_they_were_measured(
    held: Held,
    of: Salt,
    t_c: float,
    within_c: float,
    pct: float,
    within_pct: float,
    source: str,
) -> None:
    """Temperature and strength of each eutectic are met within what measurements part."""
    name = of.formula.split("·")[0]
    held(f"{name} eutectic", of.eutectic_c, t_c, within=within_c, unit="°C", source=source)
    held(
        f"{name} eutectic, strength",
        of.eutectic_pct,
        pct,
        within=within_pct,
        unit="%",
        source=source,
    )


@pytest.mark.parametrize(("t_c", "pct"), HALITE)
def test_brine_over_salt_is_as_strong_as_the_crc_handbook_says(
    held: Held, t_c: float, pct: float
) -> None:
    """Over halite, from 0.1 to 30 °C, every row is met to 0.02 %."""
    what = "NaCl, saturation, 0.1 to 30 °C"
    held(what, NACL.saturation_pct(float(t_c)), pct, within=0.02, unit="%", source=CRC)


@pytest.mark.parametrize(
    ("t_c", "pct", "source"),
    [
        *((t, w, CRC) for t, w in DIHYDRATE),
        *((t, w, f"{LANGE}, from memory") for t, w in DIHYDRATE_LANGE),
    ],
)
def test_cold_brine_over_dihydrate_is_within_the_spread_of_tables(
    held: Held, t_c: float, pct: float, source: str
) -> None:
    """Below 0 °C two handbooks part by 0.3 %; ours is within 0.25 % of both."""
    what = "NaCl, saturation, −17 to −2 °C"
    held(what, NACL.saturation_pct(t_c), pct, within=0.25, unit="%", source=source)


@pytest.mark.parametrize(("of", "t_c", "pct"), SOLUBLE)
def test_other_salts_saturate_as_the_crc_handbook_says(
    held: Held, of: Salt, t_c: float, pct: float
) -> None:
    """Potassium and magnesium chloride to 0.1 %, calcium chloride to 0.6 %."""
    what = f"{of.formula}, saturation, 0 to 30 °C"
    within = 0.6 if of is CACL2 else 0.1
    source = f"{CRC}, from memory"
    held(what, of.saturation_pct(float(t_c)), pct, within=within, unit="%", source=source)


@pytest.mark.parametrize(("pct", "t_c"), LANGE_MGCL2_HYDRATE)
def test_cold_brine_over_magnesium_dodecahydrate_is_as_lange_says(
    held: Held, pct: float, t_c: float
) -> None:
    """From the eutectic to -16.7 °C every row is met to 0.3 %."""
    what = "MgCl2, saturation, −29 to −17 °C"
    held(what, MGCL2.saturation_pct(t_c), pct, within=0.3, unit="%", source=LANGE)


@pytest.mark.parametrize(("of", "pct", "g_ml"), CRC_DENSITY)
def test_brines_are_as_dense_as_the_crc_handbook_says(
    held: Held, of: Salt, pct: float, g_ml: float
) -> None:
    """At 20 °C every row is met to 0.25 %: so far Melinder parts from the table."""
    name = of.formula.split("·")[0]
    held(
        f"{name} brine, density at 20 °C",
        of.density_g_ml(float(pct), 20.0),
        g_ml,
        within=2.5e-3 * g_ml,
        unit="g/ml",
        source=CRC,
    )


@pytest.mark.parametrize(
    ("of", "fluid", "pct", "t_c"),
    [
        (of, fluid, pct, t_c)
        for of, fluid in ((CACL2, "MCA"), (MGCL2, "MMG"))
        for pct in (5.0, 10.0, 15.0, 20.0, 25.0, 30.0)
        for t_c in (-30.0, -20.0, -10.0, -5.0, 0.0, 20.0)
        if pct <= of.eutectic_pct and t_c > of.freezing_c(pct) + 1.0
    ],
)
def test_brines_hold_heat_as_coolprop_says(
    held: Held, of: Salt, fluid: str, pct: float, t_c: float
) -> None:
    """Specific heat of brine from its freezing point up is met to 0.8 %."""
    published = PropsSI("C", "T", t_c + 273.15, "P", 101325, f"INCOMP::{fluid}[{pct / 100.0}]")
    c0, c1 = of.specific_heat_terms(pct)
    held(
        f"{of.formula.split('·')[0]} brine, specific heat",
        c0 + c1 * t_c,
        published / 1000.0,
        within=8e-6 * published,
        unit="J/(g K)",
        source=COOLPROP,
    )


def _pitzer_dilution_j_mol(molality: float, ions: int, b0: float, b1: float, c: float) -> float:
    """Apparent relative molar enthalpy of a chloride of a `ions` - 1 fold cation at 25 °C.

    Pitzer's equation with α = 2, b = 1.2 and A_H = 1986 J kg^½ mol^-3/2 (from memory).
    """
    z = ions - 1
    root = math.sqrt(0.5 * molality * (z * z + z))
    x = 2.0 * root
    mixing = b0 + b1 * 2.0 / x**2 * (1.0 - (1.0 + x) * math.exp(-x))
    rt2 = 8.314 * 298.15**2
    far = ions * z * 1986.0 / 2.4 * math.log(1.0 + 1.2 * root)
    return far - 2.0 * z * rt2 * (molality * mixing + molality**2 * z * c)


# Silvester & Pitzer 1978, as in Pitzer 1991, chapter 3, tables 12 and 13: temperature coefficients
# at 25 °C (C of the 1-1 salts is half the table's Cφ). Heat of solution at infinite dilution
# [kJ/mol]: CRC Handbook for NaCl and KCl, NBS tables 1982 for MgCl2·6H2O, all from memory.
DISSOLVING = (
    (NACL, 58.443, 3.88, 2, (7.159e-4, 7.005e-4, -5.27e-5), 0.5),
    (KCL, 74.551, 17.22, 2, (5.794e-4, 10.71e-4, -2.55e-5), 0.5),
    (MGCL2, 95.211, -17.1, 3, (-0.194e-3, 2.78e-3, -0.58e-4), 1.5),
)


@pytest.mark.parametrize("pct", [10.0, 15.0, 20.0])
@pytest.mark.parametrize(
    ("of", "molar_g", "dilute_kj", "ions", "coefficients", "within"), DISSOLVING
)
def test_dissolving_at_room_temperature_costs_what_calorimetry_says(
    held: Held,
    of: Salt,
    molar_g: float,
    dilute_kj: float,
    ions: int,
    coefficients: tuple[float, float, float],
    within: float,
    pct: float,
) -> None:
    """Carried from 0 to 25 °C by the specific heats, heat of solution meets other coefficients."""
    as_weighed = pct / 100.0 / of.anhydrous_share
    apart_j = (1.0 - as_weighed) * of.brine_j_g(0.0, 25.0) + as_weighed * of.solid_j_gk * 25.0
    ours = (of.brine_j_g(pct, 25.0) - apart_j) / (pct / 100.0) * molar_g / 1000.0
    molality = 1000.0 * pct / (100.0 - pct) / molar_g
    published = dilute_kj + _pitzer_dilution_j_mol(molality, ions, *coefficients) / 1000.0
    held(
        f"{of.formula}, heat of solution at 25 °C, to 10 to 20 %",
        ours,
        published,
        within=within,
        unit="kJ/mol",
        source="Silvester & Pitzer 1978; dilute: CRC Handbook, NBS tables, from memory",
    )


@pytest.mark.parametrize(
    ("name", "molar_g", "kj_mol"),
    [
        (SaltName.CALCIUM_CHLORIDE, 110.984, -81.3),
        (SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE, 219.076, 15.8),
    ],
)
def test_calcium_chloride_heats_dry_and_cools_as_hydrate_as_much_as_tables_say(
    held: Held, name: SaltName, molar_g: float, kj_mol: float
) -> None:
    """Towards dilution both forms have the heat of solution of the tables, at 25 °C."""
    of = salt(name)
    pct = 5.0
    as_weighed = pct / 100.0 / of.anhydrous_share
    apart_j = (1.0 - as_weighed) * of.brine_j_g(0.0, 25.0) + as_weighed * of.solid_j_gk * 25.0
    held(
        f"{of.formula}, heat of solution at 25 °C, dilute",
        (of.brine_j_g(pct, 25.0) - apart_j) / as_weighed * molar_g / 1000.0,
        kj_mol,
        within=5.0,
        unit="kJ/mol",
        source="NBS tables 1982, from memory",
    )
