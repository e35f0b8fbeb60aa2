"""The seam towards people and machines: what every outlet can do, and nothing more."""

from __future__ import annotations

from typing import Protocol

from rigmon.records import Said


class Outlet(Protocol):
    """Takes what monitors say, each rig's words in order of time; must not block for long."""

    def tell(self, rig_id: str, said: Said) -> None:
        """One thing said of a rig."""

    def close(self) -> None:
        """The program ends."""
