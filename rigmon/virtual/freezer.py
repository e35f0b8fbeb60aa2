"""The air of a household freezer: the thermostat's swing, the door, and a warm load."""

from __future__ import annotations

import math

from numpy.random import Generator

from rigmon.virtual.parameters import RigParameters

_DOOR_K = (5.0, 11.0)
_DOOR_S = 420.0
_LOAD_S = 2400.0


class Freezer:
    """Freezer air as a function of time; the door opens at random times.

    Args:
        rig: the rig's parameters.
        rng: source of the door's times and of the phase of the swing.
        hours: how far ahead the door's times are drawn [h].
    """

    def __init__(self, rig: RigParameters, rng: Generator, hours: float = 40.0) -> None:
        self._rig = rig
        self._phase = float(rng.uniform(0.0, 1.0))
        count = int(rng.poisson(rig.door_per_h * hours))
        times = rng.uniform(0.0, hours * 3600.0, count).tolist()
        jumps = rng.uniform(*_DOOR_K, count).tolist()
        self._warmings: list[tuple[float, float, float]] = [
            (t, jump, _DOOR_S) for t, jump in sorted(zip(times, jumps, strict=True))
        ]

    def load(self, t: float, jump_k: float) -> None:
        """Something warm is put in at `t` [s], and the door with it."""
        self._warmings.append((t, _DOOR_K[0], _DOOR_S))
        self._warmings.append((t, jump_k, _LOAD_S))

    def air_c(self, t: float) -> float:
        """Temperature of the air at `t` [s] [°C]."""
        turn = (t / self._rig.freezer_cycle_s + self._phase) % 1.0
        # The compressor pulls down faster than the box warms up again.
        swing = 1.0 - turn / 0.2 if turn < 0.4 else -1.0 + (turn - 0.4) / 0.3
        air_c = self._rig.freezer_c + self._rig.freezer_swing_k * swing
        for start, jump, fade_s in self._warmings:
            if start <= t < start + 8.0 * fade_s:
                air_c += jump * math.exp(-(t - start) / fade_s)
        return air_c
