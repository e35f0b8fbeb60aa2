"""What each change to the start saves: differences of the model on the usual rig."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics.course import Course, Start
from rigmon.plan.courses import at, reached_s
from rigmon.plan.values import Help
from rigmon.records import IceKind, SaltKind

SUN_W = 35.0
"""Heat of direct sun on the bowls [W]: 0.05 to 0.1 m² of bright metal take 10 to 60 W."""
COLD_BOWLS_C = -15.0
"""Bowls out of the freezer [°C]."""
WORTH_S = 12.0
"""A change that saves less than this is not worth it [s]."""
LEAST_MIX_C = 1.0


@dataclass(frozen=True, slots=True)
class Change:
    """A change to what a batch starts from.

    Args:
        code: short name, `a-z -`.
        text: the change, in words.
        start: what the batch starts from with it; without it, if the plan has it already.
        in_use: whether the plan has it already.
    """

    code: str
    text: str
    start: Start
    in_use: bool = False


def changes(start: Start) -> tuple[Change, ...]:
    """What could be done to get there sooner."""
    cubes, crushed = (
        replace(start, ice_kind=IceKind.CUBES),
        replace(start, ice_kind=IceKind.CRUSHED),
    )
    uses_crushed = start.ice_kind is IceKind.CRUSHED
    found = [
        Change(
            "crushed-ice",
            "crushed ice, not cubes",
            cubes if uses_crushed else crushed,
            in_use=uses_crushed,
        )
    ]
    if start.mix_c - 1.0 >= LEAST_MIX_C:
        colder = replace(start, mix_c=start.mix_c - 1.0)
        found.insert(0, Change("mix-colder", "each °C off the mix", colder))
    if start.salt_kind is not SaltKind.FINE:
        fine = replace(start, salt_kind=SaltKind.FINE)
        found.append(Change("fine-salt", f"fine salt, not {start.salt_kind}", fine))
    return (
        *found,
        Change("cold-bowls", "bowls out of the freezer", replace(start, bowls_c=COLD_BOWLS_C)),
        Change("towel", "a towel round the bowl", replace(start, wrapped=True)),
        Change("shade", "shade, not sun", replace(start, sun_w=SUN_W), in_use=True),
    )


def helps(
    made: Sequence[Change], ran: Course, others: Sequence[Course], frozen_pct: float
) -> tuple[Help, ...]:
    """What each change saves on the way to a mix of which `frozen_pct` [%] of the water is ice.

    Args:
        made: the changes.
        ran: the course of the plan on the usual rig.
        others: the courses with the changes, in their order.
        frozen_pct: share of the mix's water that is to be ice [%].
    """
    there_s = reached_s(ran, frozen_pct)
    end_s = np.array([min(there_s, ran.t_s[-1])])
    found = []
    for change, other in zip(made, others, strict=True):
        saves_s = there_s - reached_s(other, frozen_pct)
        ice_g = float(at(other, other.ice_left_g, end_s)[0] - at(ran, ran.ice_left_g, end_s)[0])
        sign = -1.0 if change.in_use else 1.0
        found.append(
            Help(
                code=change.code,
                text=change.text,
                saves_s=sign * saves_s if math.isfinite(saves_s) else None,
                saves_ice_g=sign * ice_g,
                in_use=change.in_use,
            )
        )
    return tuple(found)
