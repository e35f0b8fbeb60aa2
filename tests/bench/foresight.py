"""How far off a plan is, on rigs it never saw: `python tests/bench/foresight.py [--quick]`.

Plans first rounds with the rig's model and an unknown rig's parameters, and lets virtual rigs,
whose model is another and richer one, beat the same batches.
"""

from __future__ import annotations

import numpy as np

from rigmon.physics.course import Start, course, plateau_s
from rigmon.physics.mix import freezing_curve
from rigmon.physics.rigparameters import draw_rigs
from rigmon.records import IceKind, PlateauSetting, SaltKind
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.scenario import Scenario, recipe_of
from rigmon.virtual.session import VirtualSession
from showing import heading, is_quick, table

FIRST_SEED = 5000
TIMER_S = (420.0, 600.0, 840.0)
"""What a kitchen timer would be set to: 10, 50 and 90 % (common practice, no source)."""
LEVELS = (0.1, 0.5, 0.9)
RIGS = 300


def start_of(scenario: Scenario) -> Start:
    """What the maker of a scenario would tell the planner."""
    ice, pour = scenario.plan.ice_in, scenario.plan.pour
    return Start(
        mix_g=float(pour["mix_g"]),
        ice_g=float(ice["ice_g"]),
        salt_g=float(ice["salt_g"]),
        mix_c=float(pour["mix_c"]),
        ice_c=float(ice["ice_c"]),
        ice_kind=IceKind(str(ice["ice_kind"])),
        salt_kind=SaltKind(str(ice["salt_kind"])),
        room_c=scenario.room_c,
        bowls_c=scenario.bowl_c,
        wait_s=scenario.plan.pour_s,
    )


def planned_s(scenario: Scenario) -> tuple[float, ...]:
    """Quantiles of the plateau's time from the pour, an hour and a half at most [s]."""
    composition = recipe_of(scenario).composition
    assert composition is not None
    of = course(
        freezing_curve(composition),
        start_of(scenario),
        draw_rigs(RIGS, seed=1),
        beat_s=5400.0,
        step_s=2.0,
    )
    times = np.minimum(plateau_s(of, PlateauSetting()), 5400.0)
    return tuple(float(q) for q in np.quantile(times, LEVELS))


def loss_s(quantiles: tuple[float, ...], truth_s: float) -> float:
    """Pinball loss, mean over the levels [s]."""
    return float(
        np.mean(
            [
                max(p * (truth_s - q), (p - 1.0) * (truth_s - q))
                for p, q in zip(LEVELS, quantiles, strict=True)
            ]
        )
    )


def main() -> None:
    """Print the table."""
    count = 6 if is_quick(__doc__) else 60
    heading()
    truths, plans, never = [], [], 0
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        scenario = drawn_scenario(seed)
        session = VirtualSession(scenario, seed)
        session.items(scenario.plan.pour_s + 3000.0)
        truth = session.true_plateau_s()
        if truth is None:
            never += 1
            continue
        truths.append(truth - scenario.plan.pour_s)
        plans.append(planned_s(scenario))
    any_rig = tuple(float(q) for q in np.quantile(truths, LEVELS))
    rows = []
    for name, quantiles in (
        ("the plan", plans),
        ("kitchen timer, 7, 10, 14 min", [TIMER_S] * len(truths)),
        ("these very rigs' own spread", [any_rig] * len(truths)),
    ):
        losses = [loss_s(q, t) for q, t in zip(quantiles, truths, strict=True)]
        held = [q[0] <= t <= q[2] for q, t in zip(quantiles, truths, strict=True)]
        early = [t - q[1] for q, t in zip(quantiles, truths, strict=True)]
        rows.append(
            (name, f"{np.mean(losses):.0f}", f"{np.mean(held):.2f}", f"{np.median(early):+.0f}")
        )
    print(f"{len(truths)} batches of drawn virtual rigs, seeds from {FIRST_SEED}; {never} more had")
    print("no plateau in 50 min of beating and are left out\n")
    table(("plateau, from the pour", "loss s", "10-90 % holds", "median late s"), rows)
    print("\nloss: pinball over 10, 50 and 90 %; wanted: 0.80 held")


if __name__ == "__main__":
    main()
