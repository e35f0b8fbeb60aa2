"""What is played: the demo's batch, and the recorded runs with their mishaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from rigmon.records import DetailValue, MarkWord
from rigmon.virtual.board import BoardSetup
from rigmon.virtual.kitchens import LOFT, LOFT_CHANNELS, SLIP, SLIP_CHANNELS, WHOLE_CHANNELS
from rigmon.virtual.maker import Plan, Recharge, Rest
from rigmon.virtual.probe import Upset, UpsetKind
from rigmon.virtual.scenario import Scenario


def _bath(ice_g: float, salt_g: float, ice: str, salt: str, ice_c: float) -> dict[str, DetailValue]:
    return {
        "ice_g": ice_g,
        "salt_g": salt_g,
        "ice_c": ice_c,
        "ice_kind": ice,
        "salt_kind": salt,
    }


def demo_scenario(*, whole: bool = False) -> Scenario:
    """The batch that the demonstration shows: round 1, or all of it."""
    plan = Plan(
        ice_in=_bath(3000.0, 750.0, "crushed", "fine", -2.0),
        pour={"mix_g": 1050.0, "mix_c": 4.0},
        pour_s=180.0,
        beat_for_s=1500.0,
        slow_s=120.0,
        spare_ice_g=1200.0,
        rest=Rest("bowl", mix_in_g=80.0, tubs=2) if whole else None,
    )
    return Scenario(
        name="demo-whole" if whole else "demo",
        rig="demo",
        recipe="barley-custard",
        plan=plan,
        parameters=SLIP,
        channels=WHOLE_CHANNELS if whole else SLIP_CHANNELS,
        board=BoardSetup("demo"),
        about="a custard on a good day: crushed ice and fine salt, 4 to 1 by mass",
    )


def _slip(name: str, recipe: str, plan: Plan, about: str, *upsets: Upset) -> Scenario:
    return Scenario(
        name,
        "slip",
        recipe,
        plan,
        SLIP,
        SLIP_CHANNELS,
        upsets,
        board=BoardSetup("slip"),
        about=about,
    )


def _loft(name: str, recipe: str, plan: Plan, about: str, *upsets: Upset) -> Scenario:
    return Scenario(
        name,
        "loft",
        recipe,
        plan,
        LOFT,
        LOFT_CHANNELS,
        upsets,
        room_c=26.0,
        bowl_c=18.0,
        board=BoardSetup("loft"),
        about=about,
    )


RECORDED: Mapping[str, tuple[Scenario, int]] = MappingProxyType(
    {
        scenario.name: (scenario, seed)
        for scenario, seed in (
            (
                _slip(
                    "slip-custard-4to1",
                    "barley-custard",
                    Plan(
                        _bath(3000.0, 750.0, "crushed", "fine", -2.0),
                        {"mix_g": 1150.0, "mix_c": 4.0},
                        beat_for_s=1260.0,
                        slow_s=120.0,
                    ),
                    "crushed ice and fine salt, 4 to 1; nothing goes wrong",
                ),
                41,
            ),
            (
                _slip(
                    "slip-cream-3.3to1-noisy",
                    "sorrel-cream",
                    Plan(
                        _bath(2800.0, 850.0, "crushed", "fine", -6.0),
                        {"mix_g": 1000.0, "mix_c": 5.0},
                        beat_for_s=1020.0,
                        scrapes_s=(300.0, 480.0),
                    ),
                    "as much salt as the ice can use, 3.3 to 1; from the eighth minute the mixer's"
                    " motor disturbs the mix probe; the wall is scraped twice",
                    Upset(UpsetKind.LOUD, "mix", 480.0, 1500.0),
                ),
                33,
            ),
            (
                _slip(
                    "slip-custard-6to1-recharge",
                    "barley-custard",
                    Plan(
                        _bath(960.0, 160.0, "crushed", "fine", -1.0),
                        {"mix_g": 1150.0, "mix_c": 8.0},
                        beat_for_s=1800.0,
                        recharge=Recharge(
                            840.0,
                            {"ice_g": 1400.0, "salt_g": 350.0, "drained_g": 500.0, "ice_c": -1.0},
                        ),
                    ),
                    "a third of the usual ice, 6 to 1; the bath gives out and is recharged",
                ),
                61,
            ),
            (
                _loft(
                    "loft-gooseberry-5to1-open",
                    "gooseberry-ice",
                    Plan(
                        _bath(2800.0, 560.0, "cubes", "rock", -10.0),
                        {"mix_g": 850.0, "mix_c": 4.0},
                        pour_s=300.0,
                        beat_for_s=1200.0,
                    ),
                    "cubes and rock salt, 5 to 1; the plug of the mix probe is loose for two"
                    " minutes, and the samples cease",
                    Upset(UpsetKind.OPEN, "mix", 900.0, 1020.0),
                ),
                52,
            ),
            (
                _loft(
                    "loft-buttermilk-8to1-weak",
                    "buttermilk-perry",
                    Plan(
                        _bath(2600.0, 325.0, "cubes", "rock", -4.0),
                        {"mix_g": 1000.0, "mix_c": 7.0},
                        pour_s=240.0,
                        beat_for_s=1800.0,
                        forgotten=frozenset({MarkWord.BEAT_START}),
                    ),
                    "cubes and rock salt, 8 to 1, and spirit in the mix: never salted enough",
                ),
                81,
            ),
            (
                _loft(
                    "loft-cream-4to1-lifted",
                    "sorrel-cream",
                    Plan(
                        _bath(2800.0, 700.0, "cubes", "fine", -10.0),
                        {"mix_g": 1050.0, "mix_c": 6.0},
                        beat_for_s=1500.0,
                        bare=frozenset({MarkWord.ICE_IN}),
                    ),
                    "cubes and fine salt, 4 to 1, amounts not told; the mix probe comes out of the"
                    " mix twice",
                    Upset(UpsetKind.LIFTED, "mix", 600.0, 645.0),
                    Upset(UpsetKind.LIFTED, "mix", 930.0, 990.0),
                ),
                43,
            ),
            (
                replace(
                    _slip(
                        "slip-custard-5to1-whole",
                        "barley-custard",
                        Plan(
                            _bath(3000.0, 600.0, "crushed", "kosher", -3.0),
                            {"mix_g": 1150.0, "mix_c": 4.0},
                            beat_for_s=1170.0,
                            rest=Rest("bowl", mix_in_g=90.0, tubs=2),
                        ),
                        "crushed ice and kosher salt, 5 to 1; the whole batch to the hardened tub",
                    ),
                    channels=WHOLE_CHANNELS,
                ),
                51,
            ),
        )
    }
)
"""Scenario and seed of every recorded run, by its name."""
