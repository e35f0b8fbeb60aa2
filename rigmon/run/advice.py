"""What to do, in grams and minutes: the sentences behind the alarms."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.records import BowlSetup, DetailValue, Estimate, Forecast, Slowdown
from rigmon.run.alarms import Cause
from rigmon.run.bathcases import caked_g
from rigmon.run.recharging import HOLD_S, LEAK_W, Recharge, recharge
from rigmon.run.speech import Speech
from rigmon.texts import marked

STIRRED_S = 240.0
"""Who was told to stir so long ago has done so, and it did not help [s] (own choice)."""
CAKED_G = 50.0
"""Salt that lies undissolved is spoken of from here on [g] (own choice)."""
_STANDS_S = 60.0
"""Amounts stand for so long, so that they can be weighed out [s] (own choice)."""
_LONGEST_S = 2400.0
_COLDER_K = 0.5
_MOST_HEAT = 2.5
_COLD_BELOW_K = 2.0
"""A recharged bath usually lies so far below its limit, and then takes more heat from the mix [K]
(own estimate)."""

_HELD_BY = {
    "bath": marked("It is the bath that holds it up: recharged, it will freeze on."),
    "wall": marked("It is the wall that holds it up: if a shell can be felt, scrape and beat on."),
    "beater": marked("It is the heat of the beaters that holds it up: slower, it will freeze on."),
}


@dataclass(slots=True)
class Adviser:
    """What to put into the bath; an advice stands for a minute, and stirring is advised once."""

    _made_s: float | None = None
    _amount: Recharge | None = None
    _stir_s: float | None = None

    def forget(self) -> None:
        """Take in that something went into the bath, or that it needs nothing any more."""
        self._made_s = self._amount = self._stir_s = None

    def amount(
        self, estimate: Estimate, limit_c: float, bowls: BowlSetup, until_s: float | None = None
    ) -> Recharge | None:
        """What to add; None where the bath's masses are not known.

        Args:
            estimate: mix and bath now.
            limit_c: bath limit [°C].
            bowls: the two bowls.
            until_s: run time until which it is to last [s]; None for twenty minutes.
        """
        t = estimate.t
        if self._made_s is not None and 0.0 <= t - self._made_s < _STANDS_S:
            return self._amount
        hold_s = HOLD_S if until_s is None else min(until_s - t, _LONGEST_S)
        stirred = self._stir_s is not None and t - self._stir_s >= STIRRED_S
        load_w = load_after_w(estimate, limit_c)
        self._amount = recharge(estimate, limit_c, bowls, load_w, hold_s, stirred=stirred)
        self._made_s = t
        if self._amount is not None and stirs(self._amount) and self._stir_s is None:
            self._stir_s = t
        return self._amount


def load_after_w(estimate: Estimate, limit_c: float) -> float | None:
    """Heat into the bath once it is recharged [W]: a colder bath takes more from the mix.

    None where the heat out of the mix is not known.

    >>> load_after_w(Estimate(0.0, bath_c=-8.0, mix_c=-4.0, cooling_w=100.0), -8.0)
    210.0
    """
    if estimate.cooling_w is None:
        return None
    more, mix_c, bath_c = 1.0, estimate.mix_c, estimate.bath_c
    if mix_c is not None and bath_c is not None and mix_c > bath_c:
        more = (mix_c - (limit_c - _COLD_BELOW_K)) / (mix_c - bath_c)
    return max(estimate.cooling_w, 0.0) * min(max(more, 1.0), _MOST_HEAT) + LEAK_W


def stirs(amount: Recharge) -> bool:
    """Whether stirring is all that is needed."""
    return amount.lasts_s > 0.0 and amount.ice_g + amount.salt_g <= 0.0


def hopeless(amount: Recharge) -> bool:
    """Whether nothing that fits helps."""
    return amount.lasts_s <= 0.0


def stop_beating(
    estimate: Estimate, why: Slowdown | None, amount: Recharge | None, speech: Speech
) -> Cause:
    """Why the mix stops stiffening, and what to do about it.

    Args:
        estimate: mix and bath now.
        why: what keeps the heat from going; None if it cannot be said.
        amount: what would strengthen the bath, if that is known.
        speech: the maker's language and units.
    """
    share, sd = estimate.frozen_pct, estimate.frozen_pct_sd
    stiff = speech.say("The mix has stopped stiffening.")
    if share is not None and sd is not None:
        stiff = speech.say(
            "The mix has stopped stiffening, with {share} ± {spread} % of its water ice.",
            share=f"{share:.0f}",
            spread=f"{2 * sd:.0f}",
        )
    advice: dict[str, DetailValue] = {"do": "stop-beating"}
    held = None if why is None else held_by(why)
    helps = amount is not None and not hopeless(amount)
    if held is None or (held == "bath" and amount is not None and not helps):
        # Where nothing alone holds it up, or nothing helps that does, it has done all it can.
        all_it_can = "" if why is None else speech.say("It has done all it can in this bath.")
        return Cause(f"{stiff} {all_it_can}".rstrip(), advice)
    advice["held_by"] = held
    stiff = f"{stiff} {speech.say(_HELD_BY[held])}"
    if held == "bath" and amount is not None:
        stiff = f"{stiff} {speech.say('Or:')} {added(amount, speech)}."
        advice |= in_figures(amount)
    return Cause(stiff, advice)


def held_by(why: Slowdown) -> str | None:
    """What alone keeps more heat from going than all else, if anything surely does."""
    shares = {
        "bath": (why.bath, why.bath_sd),
        "wall": (why.wall, why.wall_sd),
        "beater": (why.beater, why.beater_sd),
    }
    sure = [name for name, (share, sd) in shares.items() if share - sd > 0.5]
    return sure[0] if sure else None


def add_ice_and_salt(
    estimate: Estimate,
    limit_c: float,
    until: Forecast | None,
    amount: Recharge | None,
    speech: Speech,
) -> Cause:
    """Why and with how much to recharge the bath, and what it will then do.

    Args:
        estimate: the bath now.
        limit_c: the bath limit [°C].
        until: when the bath will pass it; None if it stands above it.
        amount: what to add; None where the bath's masses are not known.
        speech: the maker's language and units.
    """
    when = _when(estimate, limit_c, until, speech)
    if amount is None:
        how = speech.say(
            "Add ice up to the level of the mix, and a quarter of its weight of salt. Weigh both"
            " from the start next time, and the amounts can be worked out."
        )
        return Cause(f"{when} {how}", {"do": "recharge"})
    if hopeless(amount):
        how = speech.say(
            "No ice and salt that fit between the bowls bring it down for long: make it up anew,"
            " or stop."
        )
        return Cause(f"{when} {how}", {"do": "remake-bath"}, call=speech.say("Make up a new bath"))
    parts = [when]
    caked = caked_g(estimate)
    if caked is not None and caked > CAKED_G:
        parts.append(undissolved(caked, speech))
    if amount.drain_g > 0.0:
        brine = speech.mass(amount.drain_g)
        parts.append(speech.say("Pour off {brine} of brine first.", brine=brine))
    parts.append(_then(estimate, amount, speech))
    if stirs(amount):
        return Cause(" ".join(parts), {"do": "stir-bath"}, call=added(amount, speech))
    parts.append(speech.say("Gloves: it is far below freezing."))
    advice = {"do": "recharge", **in_figures(amount)}
    return Cause(" ".join(parts), advice, call=added(amount, speech))


def _when(estimate: Estimate, limit_c: float, until: Forecast | None, speech: Speech) -> str:
    figures = {
        "bath": speech.temperature(estimate.bath_c),
        "limit": speech.temperature(limit_c),
    }
    if until is None or until.p50 is None:
        return speech.say("The bath is at {bath}, above its limit of {limit}.", **figures)
    soonest = until.p50 if until.p10 is None else until.p10
    figures["time"] = speech.minutes(until.p50 - until.at)
    figures["sooner"] = speech.minutes(soonest - until.at)
    text = marked("The bath is at {bath} and will pass its limit of {limit} in about {time}.")
    if figures["sooner"] != figures["time"]:
        text = marked(
            "The bath is at {bath} and will pass its limit of {limit} in about {time}, perhaps"
            " in {sooner}."
        )
    return speech.say(text, **figures)


def undissolved(caked_g: float, speech: Speech) -> str:
    """What to do about salt that lies on the bottom [g]."""
    return speech.say(
        "About {salt} of salt lies undissolved: loosen it from the bottom.",
        salt=speech.mass(round(caked_g, -1)),
    )


def _then(estimate: Estimate, amount: Recharge, speech: Speech) -> str:
    """What the bath will do."""
    lasts, cold = speech.minutes(amount.lasts_s), speech.temperature(amount.cold_c, 0)
    warmer = estimate.bath_c is not None and amount.cold_c > estimate.bath_c - _COLDER_K
    if warmer and amount.sure:
        return speech.say("Stirred, it lasts for at least {lasts}.", lasts=lasts)
    text = marked("Stirred, it will likely come down to {cold} in about {soon} and last {lasts}.")
    if amount.sure:
        text = marked(
            "Stirred, it comes down to {cold} in about {soon} and lasts for at least {lasts}."
        )
    return speech.say(text, cold=cold, soon=speech.minutes(amount.cold_s), lasts=lasts)


def added(amount: Recharge, speech: Speech) -> str:
    """What to do, as it is read at a glance.

    >>> added(Recharge(900.0, 180.0, 0.0), Speech()), added(Recharge(0.0, 0.0, 0.0), Speech())
    ('Recharge: 900 g ice, 180 g salt', 'Stir the bath')
    """
    ice, salt = speech.ice(amount.ice_g), speech.salt(amount.salt_g)
    if stirs(amount):
        return speech.say("Stir the bath")
    if not amount.salt_g:
        return speech.say("Recharge: {ice} ice, no salt", ice=ice)
    if not amount.ice_g:
        return speech.say("Recharge: {salt} salt, no ice", salt=salt)
    return speech.say("Recharge: {ice} ice, {salt} salt", ice=ice, salt=salt)


def in_figures(amount: Recharge) -> dict[str, DetailValue]:
    """What to add, for a program to read."""
    drained = {"drain_g": amount.drain_g} if amount.drain_g > 0.0 else {}
    return {"ice_g": amount.ice_g, "salt_g": amount.salt_g, **drained}
