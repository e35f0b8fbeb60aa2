"""The salts that make a bath, and their brines: where they rest with ice, what they hold and cost.

Strengths are percent of anhydrous salt in the brine's mass, whatever was weighed. A hydrate brings
its water of crystallisation with it: S [g] as weighed dissolve to S × `anhydrous_share` of salt,
and the rest of S joins the brine's water. Heats count from liquid water and the dry salt as
weighed, both at 0 °C.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from rigmon.physics.numbers import Number, clip, polynomial
from rigmon.records import SaltName

_WARMEST_C = 30.0


@dataclass(frozen=True, slots=True)
class Salt:
    """One salt as weighed, and its brine.

    The fields from `depression` on are coefficients of the methods' formulas, lowest power first.

    Args:
        name: which salt.
        formula: chemical formula of the salt as weighed.
        rests_as: what it turns to where it lies undissolved in cold brine.
        anhydrous_share: anhydrous salt in each g as weighed [g]; the rest is water.
        solid_j_gk: specific heat of the dry salt as weighed [J/(g K)].
        eutectic_pct: strength at which ice and a solid salt rest with the brine [% by mass].
        spread_k: how far sources of the freezing point part up to 20 %, or to the eutectic [K].
        depression: of `freezing_c`.
        start: first guess of `strength_pct`.
        saturation: of `saturation_pct`, the solid that lies under the brine at the eutectic.
        saturation_warm: the same for the solid at 0 °C and above, where that is another one.
        heat: of the specific heat at 0 °C.
        heat_slope: of its slope with temperature.
        density: of `density_g_ml` at 0 °C.
        density_slope: of its slope with temperature.
        density_bend: its coefficient of t² [g/(ml K²)].
        dissolving: of `dissolving_j_g`.
    """

    name: SaltName
    formula: str
    rests_as: SaltName
    anhydrous_share: float
    solid_j_gk: float
    eutectic_pct: float
    spread_k: float
    depression: tuple[float, ...]
    start: tuple[float, ...]
    saturation: tuple[float, ...]
    saturation_warm: tuple[float, ...]
    heat: tuple[float, ...]
    heat_slope: tuple[float, ...]
    density: tuple[float, ...]
    density_slope: tuple[float, ...]
    density_bend: float
    dissolving: tuple[float, ...]

    @property
    def eutectic_c(self) -> float:
        """Temperature at which brine, ice and a solid salt rest together [°C]."""
        return -self._depression_k(self.eutectic_pct)

    def _depression_k(self, pct: Number) -> Number:
        return pct * polynomial(pct / 10.0, self.depression)

    def freezing_c(self, pct: Number) -> Number:
        """Temperature [°C] at which brine of `pct` [% by mass] rests with ice: the liquidus.

        T = -w Σ a_k x^k, x = w/10. Valid 0 % to the eutectic; held at the eutectic above. Fits of
        least greatest error to the sources beside each salt's coefficients.

        >>> round(salt(SaltName.CALCIUM_CHLORIDE).freezing_c(20.0), 1)
        -18.3
        """
        return -self._depression_k(clip(pct, 0.0, self.eutectic_pct))

    def strength_pct(self, t_c: Number) -> Number:
        """Strength [% by mass] of the brine that rests with ice at `t_c` [°C]; undoes `freezing_c`.

        0 at 0 °C and above, that of the eutectic below it. Newton's method, to 1e-9 %.

        >>> round(salt(SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE).strength_pct(-15.0), 1)
        14.7
        """
        slope = tuple((k + 1) * a for k, a in enumerate(self.depression))
        d = clip(-t_c, 0.0, -self.eutectic_c)
        w = d * polynomial(d, self.start)
        for _ in range(4):
            w = w - (self._depression_k(w) - d) / polynomial(w / 10.0, slope)
        return clip(w, 0.0, self.eutectic_pct)

    def saturation_pct(self, t_c: Number) -> Number:
        """Strength [% by mass] of brine that dissolves no more salt at `t_c` [°C].

        w = w_e + Σ a_k (t - t_e)^k, k from 1, e the eutectic; where another solid lies under warmer
        brine, no more than Σ b_k t^k: the solid that needs the weaker brine is the stable one.
        Valid from the eutectic to 30 °C, held outside. Within 0.25 % of handbook tables, 0.6 % for
        calcium chloride; its tetrahydrate (above 29 °C) and the octahydrate of magnesium chloride
        (-17 to -3 °C) are left out.

        >>> round(salt(SaltName.SODIUM_CHLORIDE).saturation_pct(20.0), 1)
        26.4
        """
        t = clip(t_c, self.eutectic_c, _WARMEST_C)
        above = t - self.eutectic_c
        cold = self.eutectic_pct + above * polynomial(above, self.saturation)
        if not self.saturation_warm:
            return cold
        warm = polynomial(t, self.saturation_warm)
        return np.minimum(cold, warm) if isinstance(cold, np.ndarray) else min(cold, warm)

    def specific_heat_terms(self, pct: Number) -> tuple[Number, Number]:
        """c0 [J/(g K)] and c1 [J/(g K²)] of brine of `pct` [% by mass]: cp = c0 + c1 t, t in °C.

        c0 = Σ a_k x^k, c1 = Σ b_k x^k, x = w/100; the same water for all salts at 0 %. Valid 0 % to
        the eutectic, from the liquidus to 20 °C.

        >>> c0, c1 = salt(SaltName.SODIUM_CHLORIDE).specific_heat_terms(20.0)
        >>> round(c0 - 15.0 * c1, 2)
        3.36
        """
        x = pct / 100.0
        return polynomial(x, self.heat), polynomial(x, self.heat_slope)

    def density_g_ml(self, pct: Number, t_c: Number) -> Number:
        """Density [g/ml] of brine of `pct` [% by mass] at `t_c` [°C].

        rho = Σ a_k x^k + (Σ b_k x^k) t + c t², x = w/100. Valid 0 % to the eutectic, from the
        liquidus to 20 °C.

        >>> round(salt(SaltName.CALCIUM_CHLORIDE).density_g_ml(25.0, -20.0), 2)
        1.24
        """
        x = pct / 100.0
        slope = polynomial(x, self.density_slope) + self.density_bend * t_c
        return polynomial(x, self.density) + slope * t_c

    def dissolving_j_g(self, pct: Number) -> Number:
        """Heat taken up [J per g of salt as weighed] on dissolving to brine of `pct`, all at 0 °C.

        q = Σ a_k w^k; negative where dissolving heats. Valid 0 % to the eutectic. Sodium chloride:
        see `rigmon.physics.brine.heat_of_solution_j_g`. The others: to infinite dilution at 25 °C
        (CRC Handbook for potassium chloride, 17.2 kJ/mol; NBS tables 1982 for the others, -81.3 for
        anhydrous CaCl2, 15.8 for its hexahydrate, -17.1 for MgCl2·6H2O; all from memory); from
        there to strength by Pitzer's equations with the temperature coefficients that PHREEQC 3
        ships; to 0 °C with the specific heats of this module. Perhaps 15 J/g off.

        >>> round(salt(SaltName.CALCIUM_CHLORIDE).dissolving_j_g(20.0))
        -625
        >>> round(salt(SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE).dissolving_j_g(20.0))
        102
        """
        return polynomial(pct, self.dissolving)

    def brine_j_g(self, pct: Number, t_c: Number) -> Number:
        """Enthalpy of brine [J per g of brine] of `pct` [% by mass] at `t_c` [°C].

        h = w/(100 s) q + c0 t + c1 t²/2, s the `anhydrous_share`, q `dissolving_j_g`: against
        liquid water and the dry salt as weighed at 0 °C, the water of crystallisation being part
        of that salt. Valid as `specific_heat_terms`.

        >>> round(salt(SaltName.SODIUM_CHLORIDE).brine_j_g(20.0, 0.0), 1)
        10.8
        """
        c0, c1 = self.specific_heat_terms(pct)
        as_weighed = pct / (100.0 * self.anhydrous_share)
        return as_weighed * self.dissolving_j_g(pct) + t_c * (c0 + 0.5 * t_c * c1)


# Freezing points: CRC Handbook, 102nd ed., "Concentrative Properties of Aqueous Solutions", 1 to
# 23 %, and Lange 15th ed., table 5.13, -21.13 °C at 23.3 %; within 0.01 °C of all. Saturation:
# dihydrate below 0.1 °C, two handbook tables that part by 0.3 %; CRC Handbook above. Specific heat
# (to 0.5 %) and density (0.07 %): Melinder 2010, as in CoolProp 8.0.0, fluid MNA. Solid: 50.5
# J/(mol K), CRC Handbook, from memory.
_SODIUM = Salt(
    name=SaltName.SODIUM_CHLORIDE,
    formula="NaCl",
    rests_as=SaltName.SODIUM_CHLORIDE,
    anhydrous_share=1.0,
    solid_j_gk=50.5 / 58.443,
    eutectic_pct=23.3,
    spread_k=0.25,
    depression=(0.587609, 0.013949, 0.067142, -0.016932, 0.004641),
    start=(1.7, -0.036, 0.00038),
    saturation=(0.1653491, -1.024882e-3),
    saturation_warm=(26.27925, 2.6196e-3, 1.7886e-4),
    heat=(4.19435, -6.25271, 14.1445, -16.0355),
    heat_slope=(1.55112e-4, 7.23069e-3),
    density=(1.0006, 0.740599, 0.19885),
    density_slope=(-9.14697e-5, -1.59244e-3),
    density_bend=-1.81073e-6,
    dissolving=(139.441, -5.51837, 0.0623101),
)

# Freezing points: CRC Handbook as above, 0.5 to 13 %, within 0.01 °C, and the eutectic at -10.7 °C
# and 19.7 %, from memory. Saturation: CRC Handbook, from memory. Specific heat: that of sodium
# chloride brine of the same molality less 30 J/(K mol of salt), an estimate, to perhaps 1 %.
# Density: CRC Handbook at 20 °C to 13 %, expansion of sodium chloride brine. Solid: 51.3 J/(mol K),
# CRC Handbook, from memory.
_POTASSIUM = Salt(
    name=SaltName.POTASSIUM_CHLORIDE,
    formula="KCl",
    rests_as=SaltName.POTASSIUM_CHLORIDE,
    anhydrous_share=1.0,
    solid_j_gk=51.3 / 74.551,
    eutectic_pct=19.7,
    spread_k=0.1,
    depression=(0.462585, -0.00456, 0.023073),
    start=(2.175, -0.010261, -0.0020792),
    saturation=(0.1986732, -4.550378e-4),
    saturation_warm=(),
    heat=(4.19435, -6.216357, 8.857273, -7.149477),
    heat_slope=(1.55112e-4, 5.635e-3),
    density=(1.000825, 0.664093, 0.183104),
    density_slope=(-9.14697e-5, -1.59244e-3),
    density_bend=-1.81073e-6,
    dissolving=(300.94, -3.10311, 0.00556078),
)

# Freezing points: CRC Handbook as above to 20 %, within 0.04 °C; 22 to 30 % Melinder 2010 (CoolProp
# 8.0.0, fluid MCA), within 0.12 °C, and the eutectic of Oakes, Bodnar & Simonson 1990, -49.95 °C at
# 30.33 %: older tables, the CRC Handbook's among them, are up to 7 °C warmer there. Saturation over
# the hexahydrate: CRC Handbook at 0 to 25 °C, from memory. Specific heat (to 0.7 %) and density
# (0.2 %; the CRC Handbook is up to 0.2 % lighter): CoolProp. Solid: 72.6 J/(mol K), CRC Handbook,
# from memory.
_CALCIUM = Salt(
    name=SaltName.CALCIUM_CHLORIDE,
    formula="CaCl2",
    rests_as=SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE,
    anhydrous_share=1.0,
    solid_j_gk=72.6 / 110.984,
    eutectic_pct=30.33,
    spread_k=0.1,
    depression=(0.415216, 0.065969, 0.079164, 0.062147, -0.048695, 0.010464),
    start=(2.3998, -0.14532, 0.0058747, -0.00011889, 9.0767e-07),
    saturation=(0.02, 2.21812e-3),
    saturation_warm=(),
    heat=(4.19435, -6.708687, 3.149262, 9.618186),
    heat_slope=(1.55112e-4, 0.0261, -0.05999),
    density=(0.998405, 0.857503, 0.388399),
    density_slope=(-1.13968e-5, -1.344e-3),
    density_bend=2.73531e-7,
    dissolving=(-642.697, 1.078798, -0.00988273),
)

_CALCIUM_SHARE = 110.984 / 219.076
_HYDRATING_J_G = 91648.0 / 219.076
"""Heat that CaCl2 and water at 0 °C give off as they form the hexahydrate [J per g of it]: 97.1
kJ/mol at 25 °C (NBS tables 1982, from memory), less what the specific heats make of 25 K."""

# As above; solid: 1.4 J/(g K), common practice among makers of heat stores, from memory.
_CALCIUM_HEXAHYDRATE = replace(
    _CALCIUM,
    name=SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE,
    formula="CaCl2·6H2O",
    anhydrous_share=_CALCIUM_SHARE,
    solid_j_gk=1.4,
    dissolving=(
        _CALCIUM_SHARE * _CALCIUM.dissolving[0] + _HYDRATING_J_G,
        *(_CALCIUM_SHARE * a for a in _CALCIUM.dissolving[1:]),
    ),
)

# Freezing points: CRC Handbook as above to 5 %, within 0.02 °C, and Lange 15th ed., table 5.13, 5
# to 21 %, within 0.09 °C (its 19 % by the Fahrenheit figure: the Celsius one is a misprint);
# Melinder 2010 is up to 1.3 °C colder from 12 to 20 %. Eutectic: where the fit crosses Lange's
# dodecahydrate branch. Saturation: that branch within 0.25 %, and the hexahydrate by the CRC
# Handbook, from memory. Specific heat (to 0.6 %) and density (0.2 %): Melinder 2010, as in CoolProp
# 8.0.0, fluid MMG. Solid: 315 J/(mol K), NBS tables 1982, from memory.
_MAGNESIUM_HEXAHYDRATE = Salt(
    name=SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE,
    formula="MgCl2·6H2O",
    rests_as=SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE,
    anhydrous_share=95.211 / 203.30,
    solid_j_gk=315.0 / 203.30,
    eutectic_pct=21.8,
    spread_k=1.3,
    depression=(0.48204, 0.205797, 0.06877, 0.025616),
    start=(2.0213, -0.1292, 0.0049781, -7.1329e-05),
    saturation=(0.3879552, -0.02901884, 2.102686e-3),
    saturation_warm=(34.02974, 0.07460345),
    heat=(4.19435, -6.493859, 1.897796, 10.473016),
    heat_slope=(1.55112e-4, 0.013277),
    density=(1.00086, 0.840968, 0.346305),
    density_slope=(-2.80507e-5, -1.4614e-3),
    density_bend=-4.00968e-6,
    dissolving=(-64.3675, 1.248758, 0.0214875),
)

_SALTS: Mapping[SaltName, Salt] = MappingProxyType(
    {
        each.name: each
        for each in (
            _SODIUM,
            _POTASSIUM,
            _CALCIUM,
            _CALCIUM_HEXAHYDRATE,
            _MAGNESIUM_HEXAHYDRATE,
        )
    }
)


def salt(name: SaltName) -> Salt:
    """The salt of that name.

    >>> salt(SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE).formula
    'CaCl2·6H2O'
    """
    return _SALTS[name]
