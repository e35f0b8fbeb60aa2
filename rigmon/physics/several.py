"""Courses of several starts in one pass: a step for many rigs costs little more than for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from rigmon.physics import bath
from rigmon.physics.course import Beating, Course, Start, course
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.rig import WRAPPED
from rigmon.physics.rigparameters import Rigs

_EACH = (
    "mix_g",
    "ice_g",
    "salt_g",
    "mix_c",
    "water_g",
    "room_c",
    "bowls_c",
    "sun_w",
    "ice_c",
    "wet_pct",
)


def courses(
    curve: FreezingCurve,
    asked: Sequence[tuple[Start, Rigs]],
    beat_s: float,
    step_s: float,
    beating: Beating | None = None,
) -> list[Course]:
    """How rounds go that share mix, salt and waiting time but differ in what else they start from.

    A start's figures become one value a rig. Grain, form of the ice and a towel are factors on
    parameters of the rigs, as in the model itself.

    Args:
        curve: how the mix freezes.
        asked: each start with the rigs that it is run on.
        beat_s: how long it is beaten from the pour on [s].
        step_s: time step of the model, up to 2.5 [s].
        beating: how it is beaten; None for the usual way.
    """
    first = asked[0][0]
    sizes = [rigs.n for _, rigs in asked]
    each: dict[str, Any] = {
        name: np.concatenate(
            [np.full(n, _figure(start, name)) for (start, _), n in zip(asked, sizes, strict=True)]
        )
        for name in _EACH
    }
    together = replace(first, wrapped=False, **each)
    rigs = _joined([_as_in(first, start, rigs) for start, rigs in asked])
    ran = course(curve, together, rigs, beat_s=beat_s, step_s=step_s, beating=beating)
    ends = np.cumsum(sizes)
    return [_part(ran, end - n, end) for end, n in zip(ends, sizes, strict=True)]


def _figure(start: Start, name: str) -> float:
    # Bowls of which nothing is said are as warm as the room.
    value = getattr(start, name)
    return float(start.room_c if value is None else value)


def _as_in(first: Start, start: Start, rigs: Rigs) -> Rigs:
    melts = bath.melting_w_k_kg(start.ice_kind)[1] / bath.melting_w_k_kg(first.ice_kind)[1]
    lasts = bath.dissolving_s(start.salt_kind)[1] / bath.dissolving_s(first.salt_kind)[1]
    return replace(
        rigs,
        ice_surface=rigs.ice_surface * melts,
        grain_time=rigs.grain_time * lasts,
        leak_w_k=rigs.leak_w_k * (WRAPPED if start.wrapped else 1.0),
    )


def _joined(parts: Sequence[Rigs]) -> Rigs:
    names = [field.name for field in fields(Rigs)]
    return Rigs(**{name: np.concatenate([getattr(rigs, name) for rigs in parts]) for name in names})


def _part(ran: Course, begin: int, end: int) -> Course:
    arrays = {field.name: getattr(ran, field.name) for field in fields(Course)}
    return Course(**{k: v if v.ndim == 1 else v[:, begin:end] for k, v in arrays.items()})
