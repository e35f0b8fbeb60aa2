"""The outlets of one program: one that goes away never stops the watching."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

from rigmon.outlets.base import Outlet
from rigmon.records import Said


class Faces:
    """Tells every outlet, and lets go of one that can take no more.

    Args:
        outlets: where words go.

    `lost` has a sentence for each that could not be written to; a closed pipe is no such loss.
    """

    def __init__(self, outlets: Iterable[Outlet]) -> None:
        self._outlets = list(outlets)
        self._let_go: list[Outlet] = []
        self.lost: list[str] = []

    def tell(self, rig_id: str, said: Said) -> None:
        """Tell one thing said of a rig."""
        for outlet in tuple(self._outlets):
            try:
                outlet.tell(rig_id, said)
            except OSError as why:
                self._outlets.remove(outlet)
                self._let_go.append(outlet)
                if not isinstance(why, BrokenPipeError):
                    self.lost.append(f"What was said could not be written: {why.strerror}.")

    @property
    def unheard(self) -> bool:
        """Whether all who listened have closed their pipes."""
        return not self._outlets and not self.lost

    def close(self) -> None:
        """The program ends."""
        for outlet in (*self._outlets, *self._let_go):
            with suppress(OSError):
                outlet.close()
