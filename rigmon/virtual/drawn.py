"""Batches drawn at random over what kitchens do, to test against many rigs and not one."""

from __future__ import annotations

from numpy.random import default_rng

from rigmon.records import IceKind, Place, SaltKind
from rigmon.virtual.board import BoardSetup
from rigmon.virtual.maker import Plan
from rigmon.virtual.scenario import Channel, Scenario

RECIPES = ("barley-custard", "sorrel-cream", "gooseberry-ice", "buttermilk-perry")

_SALTS = (SaltKind.FINE, SaltKind.FINE, SaltKind.KOSHER, SaltKind.ROCK)

_DRAW = 20_717
"""Keeps the draws of a scenario apart from those of the session that plays it."""


def drawn_scenario(seed: int) -> Scenario:
    """A batch of round 1 with rig, bath, mix, room and probes drawn at random.

    Ice is 2 to 3 times the mix and 3.3 to 7 times the salt by mass, three times in four crushed
    (common practice, no source).
    The session that plays it draws the rig's parameters from its own seed.

    Args:
        seed: all chance in it.
    """
    rng = default_rng((_DRAW, seed))
    mix_g = float(rng.uniform(700.0, 1300.0))
    ice_g = mix_g * float(rng.uniform(2.0, 3.0))
    kind = "T" if rng.uniform() < 0.6 else "K"
    plan = Plan(
        ice_in={
            "ice_g": round(ice_g, -1),
            "salt_g": round(ice_g / float(rng.uniform(3.3, 7.0)), -1),
            "ice_c": round(-float(rng.uniform(0.5, 12.0)), 1),
            "ice_kind": IceKind.CRUSHED if rng.uniform() < 0.75 else IceKind.CUBES,
            "salt_kind": _SALTS[int(rng.integers(len(_SALTS)))],
        },
        pour={"mix_g": round(mix_g, -1), "mix_c": round(float(rng.uniform(2.0, 9.0)), 1)},
        pour_s=float(rng.integers(120, 361)),
        beat_for_s=2700.0,
        slow_s=120.0 if rng.uniform() < 0.3 else 0.0,
    )
    return Scenario(
        name=f"drawn-{seed}",
        rig="slip",
        recipe=RECIPES[int(rng.integers(len(RECIPES)))],
        plan=plan,
        channels=(Channel("bath", Place.BATH, kind), Channel("mix", Place.MIX, kind)),
        room_c=float(rng.uniform(18.0, 30.0)),
        bowl_c=float(rng.uniform(-10.0, 22.0)),
        board=BoardSetup("drawn"),
        about="drawn at random",
    )
