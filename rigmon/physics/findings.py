"""What a maker would want to know of a recipe before mixing it, with the usual ranges."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rigmon.physics.bowls import USUAL_FILL, mix_that_fits_ml
from rigmon.physics.mix import (
    LACTOSE_IN_MSNF,
    MONOSACCHARIDE,
    FreezingCurve,
    ethanol_depression_k,
    glucose_syrup_factor,
)
from rigmon.physics.mixheat import density_g_ml, volume_ml
from rigmon.records import BowlSetup, Composition, Finding
from rigmon.units import mass, temperature

LEAST_AIR_PCT, MOST_AIR_PCT = 15.0, 40.0
"""Air that a hand mixer beats in [% of the mix's volume] (common practice, no source)."""

SOLIDS_PCT, FAT_PCT = (36.0, 42.0), (10.0, 18.0)
"""Usual total solids and fat of creams [%]."""

CREAM_SUGAR_PCT, ICE_SUGAR_PCT = (12.0, 18.0), (24.0, 32.0)
"""Usual sugar of creams and of water ices [%], counted as sucrose."""

LACTOSE_LIMIT = 0.156
"""Most milk solids not fat in what they and the water weigh [g/g], before lactose turns sandy."""

ALCOHOL_PCT, NEVER_STIFF_ALCOHOL_PCT = 2.0, 3.0
"""Ethanol [%] above which a mix stiffens late, and above which it may not at all."""

FREEZING_POINT_C = (-3.3, -1.4)
"""Usual freezing points [°C]."""

_POURED_C = 4.0
_GOFF = "H. D. Goff, Ice Cream Technology (University of Guelph)"
_AIR_BASIS = "15 to 40 % air with a hand mixer: common practice, no source"
_FILL_BASIS = (
    "share of the inner bowl before beating: two thirds at most in turned freezers (S. T. Rorer, "
    "Ice Creams, Water Ices, Frozen Puddings); a quarter at least is common practice, no source"
)


def is_cream(composition: Composition) -> bool:
    """Whether a mix is of the cream kind: at least 4 % fat or 4 % milk solids not fat.

    What is not is a water ice, and is not expected to have either.

    >>> is_cream(Composition(water=74.0, sucrose=26.0))
    False
    """
    return composition.fat >= 4.0 or composition.msnf >= 4.0


def sugar_pct(composition: Composition) -> float:
    """Sugars of a mix [% of its mass], counted as the sucrose that freezes as late.

    Sucrose + 1.9 (dextrose + fructose) + 0.019 DE glucose syrup solids. Lactose is left out: it is
    hardly sweet, and comes with the milk.

    >>> sugar_pct(Composition(water=78.0, sucrose=12.0, dextrose=10.0))
    31.0
    """
    return (
        composition.sucrose
        + MONOSACCHARIDE * (composition.dextrose + composition.fructose)
        + glucose_syrup_factor(composition.glucose_syrup_de) * composition.glucose_syrup
    )


def recipe_findings(
    composition: Composition, curve: FreezingCurve, mass_g: float | None, bowls: BowlSetup | None
) -> tuple[Finding, ...]:
    """What lies outside the range that is usual for this kind of mix, and what the batch yields.

    Total solids and fat are looked at in creams alone (see `is_cream`). The last finding is always
    the yield, in the bowl where one is given.

    Args:
        composition: what the mix is made of [% by mass].
        curve: how it freezes.
        mass_g: mass of the batch [g], None if not known.
        bowls: the two bowls, None if not known.

    >>> from rigmon.physics.mix import freezing_curve
    >>> thin = Composition(water=85.0, sucrose=15.0)
    >>> for finding in recipe_findings(thin, freezing_curve(thin), 1500.0, BowlSetup()):
    ...     print(finding.code, round(finding.value, 1), finding.unit)
    sugar 15.0 %
    freezing-point -1.0 °C
    yield 35.5 %
    """
    found = (*_shares(composition), *_alcohol(composition), _freezing_point(curve))
    return (*filter(_is_unusual, found), _yield(composition, mass_g, bowls))


def _is_unusual(finding: Finding) -> bool:
    low, high = finding.low, finding.high
    return (low is not None and finding.value < low) or (high is not None and finding.value > high)


def _shares(mix: Composition) -> Iterator[Finding]:
    cream = is_cream(mix)
    if cream:
        solids = 100.0 - mix.water - mix.alcohol
        yield Finding(
            "total-solids",
            f"Total solids are {solids:.1f} %. "
            + (
                "That is much water, and it freezes coarse; milk powder, cream or sugar in place "
                "of some milk makes it smoother."
                if solids < SOLIDS_PCT[0]
                else "That is little water, so it will be heavy and take little air; more milk "
                "makes it lighter."
            ),
            solids,
            "%",
            *SOLIDS_PCT,
            f"36 to 41 % in the mixes of {_GOFF}, 42 % from memory",
        )
        yield Finding(
            "fat",
            f"Fat is {mix.fat:.1f} %. "
            + (
                "Leaner than usual, it will be icier; more cream makes it smoother."
                if mix.fat < FAT_PCT[0]
                else "Rich as it is, it turns buttery if beaten warm; pour it cold and beat slowly "
                "until it is near freezing."
            ),
            mix.fat,
            "%",
            *FAT_PCT,
            f"10 to 16 %, {_GOFF}; to 18 % in home recipes, from memory",
        )
    sugar, usual = sugar_pct(mix), CREAM_SUGAR_PCT if cream else ICE_SUGAR_PCT
    yield Finding(
        "sugar",
        f"Sugar comes to {sugar:.1f} % as sucrose. "
        + (
            "With so little it freezes early and hard; more keeps it soft."
            if sugar < usual[0]
            else "With so much it freezes late and stays soft; use less, or glucose syrup powder "
            "in place of some."
        ),
        sugar,
        "%",
        *usual,
        f"12 to 16 %, {_GOFF}; to 18 % in home recipes, from memory"
        if cream
        else "water ices, from memory; kitchen texts say 20 to 32 %",
    )
    milk = mix.msnf + mix.lactose / LACTOSE_IN_MSNF
    most = LACTOSE_LIMIT * (mix.water + milk)
    yield Finding(
        "milk-solids",
        f"Milk solids not fat come to {milk:.1f} %, added lactose counted in. Above {most:.1f} % "
        "the lactose may turn sandy in storage; use less milk powder, or eat it within days.",
        milk,
        "%",
        None,
        most,
        "15.6 % of the mix less its fat, sugar and other solids, from memory; Hyde & Rothwell, Ice "
        "Cream (1973), take 14.3 %",
    )


def _alcohol(mix: Composition) -> Iterator[Finding]:
    lowers_k = float(ethanol_depression_k(np.array([100.0 * mix.alcohol / mix.water]))[0])
    yield Finding(
        "alcohol",
        f"Alcohol is {mix.alcohol:.1f} % and lowers the freezing point by {lowers_k:.1f} °C. "
        + (
            "It may never stiffen in ice and salt; use less, or stir it in after the rest."
            if mix.alcohol > NEVER_STIFF_ALCOHOL_PCT
            else "It stiffens late and stays soft; use a colder bath, or less."
        ),
        mix.alcohol,
        "%",
        None,
        ALCOHOL_PCT,
        "2 % lowers the freezing point of a usual mix by 1.4 °C and takes half its ice at -5 °C "
        "(own calculation); that 3 to 4 % may never stiffen is an estimate",
    )


def _freezing_point(curve: FreezingCurve) -> Finding:
    t_c = curve.initial_c
    return Finding(
        "freezing-point",
        f"Freezing begins at {temperature(t_c)}. "
        + (
            "That is colder than usual: it wants a colder bath and stays soft. Less sugar, salt or "
            "alcohol helps."
            if t_c < FREEZING_POINT_C[0]
            else "That is warmer than usual: it freezes early and hard. More sugar keeps it soft."
        ),
        t_c,
        "°C",
        *FREEZING_POINT_C,
        "-1.4 to -3 °C for creams as published, to -3.3 °C with water ices, from memory",
    )


def _yield(mix: Composition, mass_g: float | None, bowls: BowlSetup | None) -> Finding:
    density = density_g_ml(mix, _POURED_C)
    most_g = None if bowls is None else density * mix_that_fits_ml(bowls, MOST_AIR_PCT)
    takes = "" if most_g is None else f"the inner bowl takes up to {mass(most_g)} of this mix"
    if mass_g is None:
        if most_g is not None:
            text = f"{_sentence(takes)} with room for its air."
            return Finding("yield", text, most_g, "g", None, None, _AIR_BASIS)
        made = _litres(1000.0, density)
        return Finding(
            "yield", f"1 kg makes {made}.", 1000.0 / density, "ml", None, None, _AIR_BASIS
        )
    ml = mass_g / density
    text = f"{mass(mass_g)} makes {_litres(mass_g, density)}."
    if bowls is None:
        return Finding("yield", text, ml, "ml", None, None, _AIR_BASIS)
    low, high = (100.0 * share for share in USUAL_FILL)
    fill = 100.0 * ml / bowls.inner_ml
    if fill > high:
        text += f" {_sentence(takes)}: freeze the rest in a second batch."
    elif fill < low:
        text += f" Beaters hardly reach into so little; {takes}."
    else:
        text += f" That leaves room for its air; {takes}."
    return Finding("yield", text, fill, "%", low, high, _FILL_BASIS)


def _litres(mass_g: float, density: float) -> str:
    plain, least, most = (
        volume_ml(mass_g, density, air) / 1000.0 for air in (0.0, LEAST_AIR_PCT, MOST_AIR_PCT)
    )
    return f"{plain:.2f} l, {least:.2f} to {most:.2f} l with its air"


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]
