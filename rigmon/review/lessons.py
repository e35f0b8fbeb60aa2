"""What held a run back, and what to do differently next time, in order of what it is worth."""

from __future__ import annotations

from collections.abc import Iterator

from rigmon.records import SaltKind, Stage
from rigmon.review.measures import Limits, Measures, Span
from rigmon.review.told import Told, hours, minutes, ranged

_WARM_MIX_C, _STILL_FALLING_K = 6.0, 2.0
_READY_K_MIN = 1.0
"""A bath that falls by less than this in a minute is ready [K/min] (common practice, no source)."""
_HEAT_J_GK = 3.4
"""Specific heat of a liquid mix [J/(g K)] (handbook figures for creams lie at 3.1 to 3.7)."""
_MUCH_LEFT, _SALT_LEFT = 0.5, 0.25
_LATE_S, _MUCH_PCT = 120.0, 45.0
_LONG_MIN, _WORTH_PCT = 90.0, 3.0
_OFF_K = 0.7
_COARSE = 3


def held_back(measured: Measures) -> Iterator[str]:
    """What kept the mix from freezing faster, part by part of the first round."""
    parts = measured.limits
    if not parts:
        return
    thirds = [parts[0]] if len(parts) < 3 else [parts[0], parts[len(parts) // 2], parts[-1]]
    names = ("As freezing began", "Midway", "At the end")[-len(thirds) :]
    if len(thirds) == 1:
        names = ("While it froze",)
    for name, one in zip(names, thirds, strict=True):
        yield f"{name}: {_shares(one)}."


def _shares(one: Limits) -> str:
    parts = sorted(
        [
            (one.beater_pct, "the beaters and air, warming it"),
            (one.wall_pct, "ice on the wall and stiff mix"),
            (one.bath_pct, "the bath, warmer than at first"),
        ],
        reverse=True,
    )
    return ", ".join(f"{share:.0f} % {what}" for share, what in parts if share >= 5.0)


def do_differently(measured: Measures, said: Told) -> Iterator[str]:
    """What this run shows could have gone better, each with what it cost where that is known."""
    yield from _before_the_pour(measured, said)
    yield from _in_the_round(measured)
    yield from _the_bath(measured, said)
    yield from _afterwards(measured, said)
    yield from _could_be_known(measured)


def _before_the_pour(measured: Measures, said: Told) -> Iterator[str]:
    bath, mix_c, mix_g = measured.bath, measured.mix_c, measured.mix_g
    first_best = _coldest_soon(measured)
    if bath.at_pour_c is not None and first_best is not None:
        over_k = bath.at_pour_c - first_best
        if over_k > _STILL_FALLING_K and _falls_k(measured) >= _READY_K_MIN:
            yield (
                f"Pour later: the bath was at {said.c(bath.at_pour_c)} and still falling to "
                f"{said.c(first_best)}. It is ready once it falls by less than 1 K a minute."
            )
    if mix_c is not None and mix_g is not None and mix_c > _WARM_MIX_C:
        heat_kj = mix_g * _HEAT_J_GK * (mix_c - 4.0) / 1000.0
        share = ""
        if measured.heat_kj is not None:
            share = f", {100.0 * heat_kj / measured.heat_kj.p50:.0f} % of all that round 1 took out"
        yield (
            f"Chill the mix further: at {said.c(mix_c)} it brought {heat_kj:.0f} kJ more than at "
            f"{said.c(4.0, 0)}{share}."
        )


def _falls_k(measured: Measures) -> float:
    """By how much the bath fell in the first minute after the pour [K]."""
    soon = [one.bath_c for one in measured.course if one.bath_c is not None and one.after_s <= 65.0]
    return soon[0] - soon[-1] if soon else 0.0


def _coldest_soon(measured: Measures) -> float | None:
    """The coldest bath of the first ten minutes after the pour [°C]."""
    soon = [one.bath_c for one in measured.course if one.bath_c is not None and one.after_s < 600]
    return min(soon, default=None)


def _in_the_round(measured: Measures) -> Iterator[str]:
    plateau_s, round_s = measured.plateau_after_s, measured.first_round_s
    if plateau_s is not None and round_s is not None and round_s - plateau_s > _LATE_S:
        gained = _gained_pct(measured, plateau_s)
        if gained is not None and gained < _WORTH_PCT:
            what = "next to nothing" if gained < 1.0 else f"only {gained:.0f} % more of the water"
            yield (
                f"Stop at the alarm: the {minutes(round_s - plateau_s)} of beating after it froze "
                f"{what}."
            )
    if plateau_s is None and round_s is not None and measured.poured_s is not None:
        due = [one for one in measured.forecasts if one.event == "plateau" and one.p50 is not None]
        if due and due[-1].p50 is not None:
            more_s = due[-1].p50 - measured.poured_s - round_s
            if more_s > _LATE_S:
                yield (
                    f"Beat on: the round ended about {minutes(more_s)} before the mix would have "
                    "stopped stiffening."
                )
    last = measured.limits[-1] if measured.limits else None
    if last is not None and last.wall_pct > _MUCH_PCT and not measured.scrapes:
        yield (
            f"Scrape the wall once or twice, mixer unplugged: at the end {last.wall_pct:.0f} % of "
            "what slowed it was ice on the wall and stiff mix."
        )
    if last is not None and last.beater_pct > _MUCH_PCT and measured.beater_end_w is not None:
        yield (
            "Turn the mixer down a step once it stiffens: beaters and air brought "
            f"{ranged(measured.beater_end_w, 'W', 0)} in the end."
        )
    if last is not None and last.bath_pct > _MUCH_PCT / 2.0:
        yield (
            f"Recharge earlier: at the end {last.bath_pct:.0f} % of what slowed it was a bath that "
            "had warmed."
        )


def _gained_pct(measured: Measures, plateau_s: float) -> float | None:
    """What beating on after the plateau froze [percentage points]."""
    after = [
        one.frozen_pct
        for one in measured.course
        if one.after_s >= plateau_s and one.frozen_pct is not None
    ]
    return max(after[-1] - after[0], 0.0) if len(after) > 1 else None


def _the_bath(measured: Measures, said: Told) -> Iterator[str]:
    bath = measured.bath
    put_g = _put(bath.ice_g, bath.added_ice_g)
    if bath.ice_left_g is not None and put_g and bath.ice_left_g.p10 > _MUCH_LEFT * put_g:
        yield (
            f"Use less ice, or go on in the same bath: {said.masses(bath.ice_left_g)} of "
            f"{said.g(put_g)} were left."
        )
    salt_g = _put(bath.salt_g, bath.added_salt_g)
    if bath.salt_left_g is not None and salt_g and bath.salt_left_g.p10 > _SALT_LEFT * salt_g:
        finer = "" if bath.salt_kind is SaltKind.FINE else ", or finer salt"
        yield (
            f"Less salt would have done{finer}: {said.masses(bath.salt_left_g)} of "
            f"{said.g(salt_g)} lay undissolved at the end."
        )


def _put(first: float | None, added: float | None) -> float | None:
    return None if first is None or added is None else first + added


def _afterwards(measured: Measures, said: Told) -> Iterator[str]:
    coarse = measured.coarsening_min
    if coarse is not None and coarse > _LONG_MIN:
        yield (
            f"Harden faster: it spent {hours(coarse)} between {said.c(-6.0, 0)} and "
            f"{said.c(-12.0, 0)}, where crystals grow fastest. Smaller, flatter tubs, pre-chilled, "
            "apart from one another."
        )
    tasted = measured.tasted
    if tasted is not None and tasted.texture is not None and tasted.texture <= _COARSE:
        slow = measured.plateau_after_s or measured.first_round_s
        if slow is not None and coarse is not None and coarse <= _LONG_MIN:
            yield (
                f"It tasted icy, and hardening was quick: look at the round ({minutes(slow)}), at "
                "the age of the mix and at how the tubs are kept."
            )


def _could_be_known(measured: Measures) -> Iterator[str]:
    missing = [
        what
        for field, what in (("mix_g", "the mix"), ("bath.ratio", "ice and salt"))
        if field in measured.unsaid
    ]
    if missing:
        yield f"Weigh {' and '.join(missing)}: without it little can be said of heat and ratio."
    offset = measured.mix_offset_k
    if offset is not None and _surely_off(offset):
        yield (
            f"Look at the mix probe: by the freezing point it reads {ranged(offset, 'K')} too much."
        )
    if not any(one.stage is Stage.BEAT for one in measured.stages):
        yield "Mark the pour, or let a probe see it: no beating round was found."


def _surely_off(offset: Span) -> bool:
    return offset.p10 > _OFF_K or offset.p90 < -_OFF_K
