"""All that speaks for an alarm or a notice, of every part of a run, gathered in one place."""

from __future__ import annotations

from collections.abc import Mapping

from rigmon.estimate.amounts import Amounts
from rigmon.records import AlarmSetting, Condition, Mark, MarkWord, Place
from rigmon.run.alarms import Cause, trips
from rigmon.run.bathcauses import BathCauses
from rigmon.run.beatcauses import BeatCauses
from rigmon.run.causes import RoundCauses, Seen
from rigmon.run.freezercauses import FreezerCauses
from rigmon.run.softening import Softening


class CauseBook:
    """What speaks for each alarm and notice, by code.

    Args:
        settings: what the configuration changes, by code.
    """

    def __init__(self, settings: Mapping[str, AlarmSetting]) -> None:
        held = trips(settings)
        self._round = RoundCauses(held)
        self._bath = BathCauses(held)
        self._beat = BeatCauses(held)
        self._freezer = FreezerCauses(held)
        self._softening = Softening(held)
        self._conditions: dict[str, Cause] = {}

    def feed(self, place: Place, t: float, value: float) -> None:
        """Take in an accepted reading [°C, of the mixer W]."""
        self._freezer.feed(place, t, value)

    def condition(self, item: Condition) -> None:
        """Take in a condition of the program itself."""
        if item.active:
            self._conditions[item.code] = Cause(item.text)
        else:
            self._conditions.pop(item.code, None)

    def hear(self, mark: Mark, amounts: Amounts, bath_c: float | None) -> None:
        """Take in a mark, what it comes to, and the bath as it was [°C]."""
        if mark.word in (MarkWord.ICE_IN, MarkWord.RECHARGE):
            self._bath.filled(amounts.ice_g)
        if mark.word is MarkWord.RECHARGE:
            self._round.recharged(mark.t)
            self._bath.recharged(mark.t, bath_c)
        if mark.word in (MarkWord.SCRAPE, MarkWord.RECHARGE):
            self._beat.heeded()

    def plateau_told(self, round_: int) -> None:
        """Take in that the plateau of a round has been announced."""
        self._round.told_round = round_

    def at(self, seen: Seen) -> dict[str, Cause]:
        """What speaks just now."""
        found = self._conditions | self._round.at(seen)
        of_bath = self._bath.at(seen, found)
        if "recharge-short" in of_bath:
            # Stirring comes before more ice and salt.
            found.pop("bath-limit-near", None)
        return (
            found
            | of_bath
            | self._beat.at(seen, told=self._round.told(seen.stages))
            | self._freezer.at(seen)
            | self._softening.at(seen)
        )
