"""What a maker is told of a recipe, and what not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.physics.findings import is_cream, recipe_findings, sugar_pct
from rigmon.physics.mix import freezing_curve
from rigmon.physics.mixheat import density_g_ml
from rigmon.records import BowlSetup, Composition, Finding

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
SORBET = Composition(water=72.0, sucrose=27.0, other_solids=1.0)
BOWLS = BowlSetup()


def found(
    mix: Composition, mass_g: float | None = 1200.0, bowls: BowlSetup | None = BOWLS
) -> dict[str, Finding]:
    """The findings on a mix, by code."""
    findings = recipe_findings(mix, freezing_curve(mix), mass_g, bowls)
    by_code = {finding.code: finding for finding in findings}
    assert len(by_code) == len(findings)
    return by_code


@pytest.mark.parametrize("mix", [TYPICAL, SORBET], ids=["typical cream", "sorbet"])
def test_a_usual_mix_is_told_its_yield_alone(mix: Composition) -> None:
    """The typical mix (Arbuckle) and a plain sorbet give no cause for a finding."""
    assert list(found(mix)) == ["yield"]


def test_a_sorbet_is_not_scolded_for_lacking_fat() -> None:
    """Fat, milk and total solids are no matter of a water ice, however it is sweetened."""
    for sucrose in (10.0, 27.0, 40.0):
        sorbet = Composition(water=100.0 - sucrose, sucrose=sucrose)
        assert not {"fat", "total-solids", "milk-solids"} & set(found(sorbet))


@pytest.mark.parametrize(
    ("mix", "code", "value", "words"),
    [
        (
            Composition(water=68.0, fat=10.0, msnf=9.0, sucrose=13.0),
            "total-solids",
            32.0,
            "milk powder, cream or sugar",
        ),
        (
            Composition(water=52.0, fat=18.0, msnf=8.0, sucrose=18.0, other_solids=4.0),
            "total-solids",
            48.0,
            "more milk",
        ),
        (Composition(water=65.0, fat=5.0, msnf=12.0, sucrose=18.0), "fat", 5.0, "more cream"),
        (
            Composition(water=53.0, fat=24.0, msnf=7.0, sucrose=16.0),
            "fat",
            24.0,
            "beat slowly until it is near freezing",
        ),
        (Composition(water=85.0, sucrose=15.0), "sugar", 15.0, "freezes early and hard"),
        (Composition(water=62.0, sucrose=38.0), "sugar", 38.0, "use less"),
        (
            Composition(water=60.0, fat=12.0, msnf=10.0, sucrose=8.0, dextrose=8.0, lactose=2.0),
            "sugar",
            23.2,
            "use less",
        ),
        (
            Composition(water=62.0, fat=10.0, msnf=13.5, sucrose=14.5),
            "milk-solids",
            13.5,
            "less milk powder",
        ),
        (
            Composition(water=59.4, fat=12.0, msnf=11.0, sucrose=15.0, alcohol=2.6),
            "alcohol",
            2.6,
            "colder bath, or less",
        ),
        (
            Composition(water=57.0, fat=12.0, msnf=11.0, sucrose=15.0, alcohol=5.0),
            "alcohol",
            5.0,
            "may never stiffen",
        ),
    ],
)
def test_what_is_unusual_is_found_with_what_to_do(
    mix: Composition, code: str, value: float, words: str
) -> None:
    """Each finding carries its figure, stands outside its range, and says what helps."""
    finding = found(mix)[code]
    assert finding.value == pytest.approx(value)
    assert words in finding.text
    low, high = finding.low, finding.high
    assert (low is not None and finding.value < low) or (high is not None and finding.value > high)


@pytest.mark.parametrize(
    ("mix", "words"),
    [
        (Composition(water=60.0, fat=12.0, msnf=10.0, sucrose=17.0, salt=1.0), "a colder bath"),
        (Composition(water=90.0, sucrose=10.0), "More sugar keeps it soft"),
    ],
)
def test_an_unusual_freezing_point_is_found(mix: Composition, words: str) -> None:
    """Salt shows here, and so does weak syrup; the figure is the curve's own."""
    finding = found(mix)["freezing-point"]
    assert finding.value == freezing_curve(mix).initial_c
    assert words in finding.text


def test_added_lactose_counts_with_the_milk() -> None:
    """Whey powder brings lactose that is no milk solid, and turns sandy all the same."""
    assert "milk-solids" not in found(replace(TYPICAL, msnf=10.5))
    sweet_whey = replace(TYPICAL, water=59.7, lactose=2.0)
    finding = found(sweet_whey)["milk-solids"]
    assert finding.value == pytest.approx(10.5 + 2.0 / 0.545)


def test_alcohol_is_told_by_what_it_lowers() -> None:
    """The text names the drop, which is that between the mix with and without it."""
    mix = Composition(water=60.0, fat=12.0, msnf=11.0, sucrose=14.0, alcohol=3.0)
    without = replace(mix, alcohol=0.0, other_solids=3.0)
    drop = freezing_curve(without).initial_c - freezing_curve(mix).initial_c
    assert f"by {drop:.1f} °C" in found(mix)["alcohol"].text


def test_sugars_count_by_what_they_lower() -> None:
    """One gram of dextrose or fructose is 1.9 of sucrose, of 42 DE syrup 0.8."""
    mix = Composition(water=70.0, sucrose=10.0, dextrose=5.0, fructose=5.0, glucose_syrup=10.0)
    assert sugar_pct(mix) == pytest.approx(10.0 + 1.9 * 10.0 + 0.798 * 10.0)


@pytest.mark.parametrize(
    ("fat", "msnf", "cream"),
    [(0.0, 0.0, False), (3.9, 3.9, False), (4.0, 0.0, True), (0.0, 4.0, True)],
)
def test_fat_or_milk_makes_a_cream(fat: float, msnf: float, cream: bool) -> None:
    """Four percent of either is enough; a coconut ice is a cream, a lemon ice is not."""
    assert is_cream(Composition(water=100.0 - fat - msnf, fat=fat, msnf=msnf)) is cream


def test_yield_is_the_share_of_the_bowl() -> None:
    """1.2 kg of the typical mix (1.09 g/ml) fill 1.1 l, and 1.27 to 1.54 l with 15 to 40 % air."""
    finding = found(TYPICAL)["yield"]
    assert finding.value == pytest.approx(100.0 * 1200.0 / density_g_ml(TYPICAL, 4.0) / 4000.0)
    assert (finding.unit, finding.low) == ("%", 25.0)
    assert "1.10 l, 1.27 to 1.54 l" in finding.text


@pytest.mark.parametrize(
    ("mass_g", "words"),
    [(700.0, "Beaters hardly reach"), (1500.0, "room for its air"), (3500.0, "second batch")],
)
def test_yield_says_what_the_bowl_takes(mass_g: float, words: str) -> None:
    """Too little, enough and too much are told apart, each with the most that goes in."""
    finding = found(TYPICAL, mass_g)["yield"]
    assert words in finding.text
    assert "2.90 kg" in finding.text


@pytest.mark.parametrize(
    ("mass_g", "bowls", "unit", "value"),
    [(None, BOWLS, "g", 2904.0), (1200.0, None, "ml", 1102.0), (None, None, "ml", 918.0)],
)
def test_yield_makes_do_with_what_is_known(
    mass_g: float | None, bowls: BowlSetup | None, unit: str, value: float
) -> None:
    """Without a mass it says what the bowl takes, without a bowl the volume, else that of a kg."""
    finding = found(TYPICAL, mass_g, bowls)["yield"]
    assert finding.unit == unit
    assert finding.value == pytest.approx(value, rel=2e-3)
    assert (finding.low, finding.high) == (None, None)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 40.0), st.floats(0.0, 15.0), st.floats(0.0, 40.0), st.floats(0.0, 4.0))
def test_findings_are_outside_their_range_and_complete(
    fat: float, msnf: float, sucrose: float, alcohol: float
) -> None:
    """Whatever the mix, each finding but the yield lies outside its range and names its basis."""
    mix = Composition(100.0 - fat - msnf - sucrose - alcohol, fat, msnf, sucrose, alcohol=alcohol)
    *findings, last = recipe_findings(mix, freezing_curve(mix), 1000.0, BOWLS)
    assert last.code == "yield"
    for finding in (*findings, last):
        assert finding.basis
        assert finding.text.endswith(".")
    for finding in findings:
        low, high = finding.low, finding.high
        below = low is not None and finding.value < low
        assert below or (high is not None and finding.value > high)
