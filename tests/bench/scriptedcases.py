"""The table of scripted runs: what happens in each, and which alarms must sound when."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from rigmon.records import (
    AlarmSetting,
    By,
    Composition,
    Condition,
    DetailValue,
    Item,
    Mark,
    MarkWord,
    Place,
    ProbeSetup,
    Reading,
    Recipe,
    RigSetup,
)
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.kitchens import LOFT, LOFT_CHANNELS, SLIP, SLIP_CHANNELS
from rigmon.virtual.maker import Plan, Recharge, Rest
from rigmon.virtual.probe import Upset, UpsetKind
from rigmon.virtual.scenario import Scenario
from scripting import Case, Change, Must, Script

POUR_S = 120.0
ICE: dict[str, DetailValue] = {
    "ice_g": 2400.0,
    "salt_g": 600.0,
    "ice_c": -2.0,
    "ice_kind": "crushed",
    "salt_kind": "fine",
}
MIX: dict[str, DetailValue] = {"mix_g": 600.0, "mix_c": 4.0}
CUSTARD = Scenario(
    name="scripted",
    rig="slip",
    recipe="barley-custard",
    plan=Plan(ICE, MIX, POUR_S, beat_for_s=3600.0),
    parameters=SLIP,
    channels=SLIP_CHANNELS,
)
LOFT_CREAM = replace(
    CUSTARD,
    rig="loft",
    recipe="sorrel-cream",
    parameters=LOFT,
    channels=LOFT_CHANNELS,
    room_c=26.0,
    bowl_c=18.0,
)
DEMO = demo_scenario()
STOP = Must("plateau-reached", "plateau", -120.0, 300.0)
"""Beating on for five minutes does little harm; stopping two sooner costs two points of ice."""
ALL_MARKS = frozenset(MarkWord)


def bath(usual: Scenario = CUSTARD, **amounts: DetailValue) -> Scenario:
    """A batch with another bath."""
    return replace(usual, plan=replace(usual.plan, ice_in={**usual.plan.ice_in, **amounts}))


def planned(usual: Scenario = CUSTARD, **changed: object) -> Scenario:
    """A batch whose maker means to do something else."""
    return replace(usual, plan=replace(usual.plan, **changed))  # type: ignore[arg-type]  # by name


def upset(kind: UpsetKind, probe: str, *times: tuple[float, float]) -> Scenario:
    """A batch with something wrong with a probe, from and to these run times [s]."""
    return replace(CUSTARD, upsets=tuple(Upset(kind, probe, *when) for when in times))


def without(*probes: str) -> Change:
    """Readings of these probes never come."""
    return lambda item: None if isinstance(item, Reading) and item.probe in probes else item


def silent_board(from_s: float, to_s: float) -> Change:
    """No reading comes between these run times [s]."""
    return lambda i: None if isinstance(i, Reading) and from_s <= i.t < to_s else i


def swapped(item: Item) -> Item:
    """The probes of bath and mix sit in each other's place."""
    other = {"bath": "mix", "mix": "bath"}
    return replace(item, probe=other[item.probe]) if isinstance(item, Reading) else item


def typed(item: Item) -> Item | None:
    """There is no board: every two minutes a thermometer is read and typed in."""
    if not isinstance(item, Reading):
        return item
    if item.t % 120.0 != 60.0 or item.value is None or (item.probe == "mix" and item.t < POUR_S):
        return None
    return Mark(item.t, MarkWord.READING, By.HAND, {f"{item.probe}_c": round(item.value, 1)})


SWEET = Recipe("sweet", Composition(water=49.0, fat=12.5, msnf=10.5, sucrose=28.0))
"""Freezes 3 K colder than the custard."""


def course(probe: str, of: Callable[[float], float], for_s: float, every_s: float) -> list[Item]:
    """Readings of a temperature [°C] that is known at every run time."""
    return [
        Reading(n * every_s, probe, round(of(n * every_s), 2)) for n in range(int(for_s / every_s))
    ]


def base(cools_s: float, from_c: float, to_c: float, for_s: float) -> Script:
    """A base that cools with a time constant [s] towards what it stands in [°C]."""
    start: Sequence[Item] = [Mark(0.0, MarkWord.START, detail={"stage": "base"})]
    over_k = from_c - to_c
    read = course("mix", lambda t: to_c + over_k * math.exp(-t / cools_s), for_s, 10.0)
    return Script(for_s, items=[*start, *read])


def tubs(
    air_c: Callable[[float], float],
    for_s: float,
    core_c: Callable[[float], float] = lambda t: -5.0 - t / 7200.0,
    setup: RigSetup | None = None,
) -> Script:
    """Tubs that have gone into the freezer, read once a minute."""
    words = (MarkWord.POUR, MarkWord.PACK, MarkWord.HARDEN_START)
    items: Iterable[Item] = [Mark(0.0, word) for word in words]
    read = course("freezer", air_c, for_s, 60.0) + course("core", core_c, for_s, 60.0)
    return Script(for_s, items=[*items, *read], setup=setup or RigSetup())


def swing_c(t: float) -> float:
    """Freezer air that its compressor swings."""
    return -18.5 + 1.2 * math.sin(t / 300.0)


def opened(at_s: float, for_s: float) -> Callable[[float], float]:
    """Freezer air while its door stands open for a while."""

    def air_c(t: float) -> float:
        risen_k = 12.0 * -math.expm1(-(min(max(t - at_s, 0.0), for_s)) / 240.0)
        return swing_c(t) + risen_k * math.exp(-max(t - at_s - for_s, 0.0) / 420.0)

    return air_c


def power_cut(at_s: float) -> Callable[[float], float]:
    """Freezer air that warms towards the room with nothing to cool it."""
    return lambda t: swing_c(min(t, at_s)) + 40.0 * -math.expm1(-max(t - at_s, 0.0) / 28_800.0)


def drawn(seed: int) -> Script:
    """A batch drawn at random."""
    return Script(2400.0, drawn_scenario(seed), seed)


WEAK = bath(ice_g=600.0, salt_g=75.0)
SPARE = Recharge(240.0, {"ice_g": 1200.0, "salt_g": 300.0})
WARNED = Must("bath-limit-near", "bath-limit", -900.0, 60.0)
NEVER_COLD = Must("bath-limit-near", "pour", 240.0, 400.0)
OUT_S = 300.0
CHECKED = RigSetup(
    probes=(
        ProbeSetup("bath", Place.BATH, uncertainty_k=0.3),
        ProbeSetup("mix", Place.MIX, uncertainty_k=0.3),
    )
)
"""Probes that were held in ice and water."""
CASES: tuple[Case, ...] = (
    Case("normal: custard", Script(1800.0, CUSTARD, obeys=True), (STOP,)),
    Case("normal: loft, cream", Script(1800.0, LOFT_CREAM, 2), (STOP,)),
    Case(
        "normal: loft, fruit ice",
        Script(1800.0, replace(LOFT_CREAM, recipe="gooseberry-ice"), 3),
        (STOP,),
    ),
    Case("normal: drawn rig", drawn(9031), (STOP,)),
    Case(
        "normal: rest in the rig, then round 2 and tubs",
        Script(2600.0, planned(DEMO, beat_for_s=400.0, rest=Rest("rig", 300.0))),
    ),
    Case(
        "bare bowl rests until it may be beaten again",
        Script(
            2200.0,
            planned(LOFT_CREAM, beat_for_s=600.0, rest=Rest("bowl", 7200.0)),
            obeys=True,
        ),
        (Must("rest-over", "rested", -600.0, 600.0),),
    ),
    Case(
        "round 2 beaten until it softens",
        Script(2600.0, planned(beat_for_s=480.0, rest=Rest("bowl", 300.0, round_2_s=600.0))),
        (Must("melt-onset", "stiffest", -60.0, 240.0),),
    ),
    Case("late pour", Script(2400.0, planned(pour_s=600.0)), (STOP,)),
    Case("warm room", Script(1800.0, replace(CUSTARD, room_c=34.0)), (STOP,)),
    Case("no marks at all", Script(1800.0, planned(forgotten=ALL_MARKS)), (STOP,)),
    Case("amounts not told", Script(1800.0, planned(bare=ALL_MARKS)), (STOP,)),
    Case("typed readings only", Script(1800.0, CUSTARD, change=typed), (STOP,)),
    Case("mix probe alone", Script(1800.0, CUSTARD, change=without("bath")), (STOP,)),
    Case("bath probe alone", Script(900.0, CUSTARD, change=without("mix"))),
    Case("weak bath", Script(2000.0, WEAK), (WARNED,)),
    Case("tiny bath", Script(1500.0, bath(ice_g=400.0, salt_g=100.0)), (WARNED,)),
    Case(
        "no salt",
        Script(700.0, bath(salt_g=0.0)),
        (NEVER_COLD,),
    ),
    Case("recharge in time", Script(800.0, planned(WEAK, recharge=SPARE))),
    Case(
        "recharge too small",
        Script(
            1500.0,
            planned(
                bath(ice_g=400.0, salt_g=60.0),
                recharge=Recharge(420.0, {"ice_g": 100.0, "salt_g": 0.0}),
            ),
        ),
        (WARNED, Must("bath-limit-near", "recharge", 240.0, 300.0)),
    ),
    Case(
        "recharge without salt",
        Script(
            1500.0,
            planned(
                bath(ice_g=400.0, salt_g=30.0),
                recharge=Recharge(420.0, {"ice_g": 200.0, "salt_g": 0.0}),
            ),
        ),
        (NEVER_COLD, Must("recharge-short", "recharge", 240.0, 300.0)),
    ),
    Case(
        "probes swapped",
        Script(400.0, CUSTARD, change=swapped),
        (Must("probe-swapped", 0.0, 60.0, 240.0),),
    ),
    Case(
        "bath probe out",
        Script(400.0, upset(UpsetKind.OPEN, "bath", (OUT_S, 2000.0))),
        (Must("probe-fault", OUT_S, 3.0, 10.0),),
    ),
    Case(
        "mix probe out",
        Script(500.0, upset(UpsetKind.OPEN, "mix", (OUT_S, 2000.0))),
        (Must("probe-fault", OUT_S, 3.0, 10.0),),
    ),
    Case(
        "mix probe lifted and put back",
        Script(500.0, upset(UpsetKind.LIFTED, "mix", (OUT_S, OUT_S + 60.0))),
        (Must("probe-fault", OUT_S, 5.0, 60.0),),
    ),
    Case(
        "lead of the mix probe dead",
        Script(400.0, upset(UpsetKind.SILENT, "mix", (OUT_S, 2000.0))),
        (Must("probe-silent", OUT_S, 25.0, 40.0),),
    ),
    Case(
        "board silent for a minute",
        Script(400.0, CUSTARD, change=silent_board(OUT_S, OUT_S + 60.0)),
        (Must("probe-silent", OUT_S, 25.0, 40.0),),
    ),
    Case(
        "motor disturbs the mix probe",
        Script(500.0, upset(UpsetKind.LOUD, "mix", (OUT_S, 500.0))),
    ),
    Case(
        "brine in the mix",
        Script(700.0, CUSTARD, shift_k=-2.0, setup=CHECKED),
        (Must("freezing-point-off", "freezing", 60.0, 300.0),),
    ),
    Case(
        "wrong recipe, freezes 3 K colder than told",
        Script(700.0, CUSTARD, shift_k=-3.0),
        (Must("freezing-point-off", "freezing", 60.0, 300.0),),
    ),
    Case(
        "wrong recipe, freezes 3 K warmer than told",
        Script(700.0, CUSTARD, recipe=SWEET),
        (Must("freezing-point-off", "freezing", 60.0, 300.0),),
    ),
    Case(
        "beaten on after the plateau",
        Script(1800.0, CUSTARD),
        (STOP, Must("over-beaten", "plateau", 60.0, 450.0)),
    ),
    Case(
        "beaten while warm",
        Script(
            700.0,
            planned(bath(salt_g=60.0), pour={"mix_g": 2000.0, "mix_c": 18.0}),
        ),
        (NEVER_COLD, Must("too-warm", "pour", 355.0, 420.0)),
    ),
    Case("base cools in ice water", base(1200.0, 85.0, 2.0, 3600.0)),
    Case(
        # At 57 °C after 1,170 s; to be at 21 °C two hours later, which ice and water do in 25 min.
        "base left in the room",
        base(9000.0, 62.0, 21.0, 6900.0),
        (Must("base-cooling-slow", 6870.0, -3700.0, -1800.0),),
    ),
    Case("hardens as it should", tubs(swing_c, 9000.0)),
    Case(
        "freezer door open",
        tubs(opened(5000.0, 900.0), 7000.0),
        (Must("door-open", 5000.0, 240.0, 600.0),),
    ),
    Case("freezer door shut again soon", tubs(opened(5000.0, 240.0), 7000.0)),
    Case(
        "power cut",
        tubs(power_cut(4000.0), 9000.0),
        (Must("freezer-warm", 4000.0, 1800.0, 4800.0),),
    ),
    Case(
        "core lingers where crystals grow",
        tubs(
            swing_c,
            4000.0,
            lambda _: -8.0,
            RigSetup(alarms={"coarsening": AlarmSetting(set_point=30.0)}),
        ),
        (Must("coarsening", 1800.0, 300.0, 480.0),),
    ),
    Case(
        "log cannot be written",
        Script(300.0, CUSTARD, items=[Condition(60.0, "log-stopped", True, "The disk is full.")]),
        (Must("log-stopped", 60.0, 0.0, 2.0),),
    ),
)
