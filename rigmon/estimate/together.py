"""The probes of one place taken together, so that one more or one less makes no jump.

Two probes at different depths never quite agree. What each reads more than they all do is learned
while they read side by side, and taken off when only some of them do.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from rigmon.estimate.blocks import BLOCK_S, Blocks

_BEGINNING_S = 60.0
"""Probes that begin so soon after a place's first one make its mean with it [s]; later ones only
follow it (own choice)."""
_AWAY_S = 300.0
"""A probe that has been silent for longer may have been put back elsewhere [s] (own choice)."""
_ALIVE_S = 60.0
"""A probe counts while it has spoken so shortly before the newest reading of its place [s]."""
_LEARNED_OVER = 24
"""Blocks over which a difference is learned: zones of a bath part and meet again in minutes."""


@dataclass(slots=True)
class _Probe:
    """One probe: what its open block holds, and what it reads more than all together [K]."""

    newest_s: float = -inf
    joins: bool = False
    weight: float = 0.0
    sum: float = 0.0
    shift: float = 0.0
    learned: int = 0


class Together:
    """Readings of all probes of one place as one course.

    Args:
        blocks: what has been read there before; None for nothing.
    """

    def __init__(self, blocks: Blocks | None = None) -> None:
        self.blocks = blocks or Blocks()
        self._probes: dict[str, _Probe] = {}
        self._first_s = inf
        self._newest_s = -inf
        self._number = -1
        self._level: float | None = None
        self.alive: list[str] = []
        """Probes that spoke shortly before the newest block."""

    def add(self, name: str, t: float, value: float, weight: float) -> float | None:
        """Take in a reading.

        Returns:
            it without what its probe reads too much; None while that is not known of a newcomer.
        """
        number = int(t // BLOCK_S)
        opens = number > self._number
        if opens:
            self._close()
            self._number = number
        probe = self._probes.setdefault(name, _Probe())
        if t - probe.newest_s > _AWAY_S and t - self._first_s > _BEGINNING_S:
            others = (one.newest_s for one in self._probes.values() if one is not probe)
            probe.joins = t - max(others, default=-inf) < _AWAY_S
        self._first_s = min(self._first_s, t)
        self._newest_s = max(self._newest_s, t)
        probe.newest_s = max(probe.newest_s, t)
        if opens or not probe.weight:
            since_s = self._newest_s - _ALIVE_S
            self.alive = [n for n, one in self._probes.items() if one.newest_s >= since_s]
        if number == self._number:
            probe.weight += weight
            probe.sum += weight * value
        if probe.joins:
            return None
        self.blocks.add(t, value - probe.shift, weight)
        return value - probe.shift

    def _close(self) -> None:
        """Learn from the newest block how the probes differ."""
        present = [probe for probe in self._probes.values() if probe.weight > 0.0]
        settled = [probe for probe in present if not probe.joins]
        whole = sum(probe.weight for probe in settled)
        if settled:
            self._level = sum(p.sum - p.weight * p.shift for p in settled) / whole
        for probe in present:
            away = probe.sum / probe.weight - probe.shift - (self._level or 0.0)
            if probe.joins:
                probe.shift, probe.learned, probe.joins = probe.shift + away, 0, False
            elif len(settled) > 1:
                probe.learned = min(probe.learned + 1, _LEARNED_OVER)
                probe.shift += away / probe.learned
            probe.weight = probe.sum = 0.0
