"""What a calibration comes to: doubts about the bath, the result with its budget, and the log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rigmon.probes.calibration import SLOPE_LIMITS, Line, Point, Reference, Seen, line_of, slope_of
from rigmon.probes.fingerprint import Sight
from rigmon.probes.settling import Stand, Watched, chip_text, level_text, spread_text
from rigmon.records import Converter, Place, ProbeSetup
from rigmon.service.bathwatch import Taken, Tell
from rigmon.service.calibrated import (
    Standing,
    correction_of,
    correction_words,
    moved,
    points_of,
    signed,
    text_of,
)
from rigmon.service.mixessay import mixes_say
from rigmon.service.prepare import Rig
from rigmon.store.calibrations import keep
from rigmon.store.log import RunLog
from rigmon.units import temperature

FARTHEST_K = 15.0
"""What is farther off is broken or set wrong, whatever is asked for [K] (own choice)."""

ALIKE_K = 0.15
"""Probes that have all moved by more than this, and by the same within it, have hardly moved [K]
(own choice)."""

HINTS: Mapping[str, str] = {
    "ice": ". A true ice point stands still: pack more fine ice round it, and wait",
    "boil": ". Keep the water at a rolling boil, and the tip off the bottom",
    "slush": ". Stir in more salt and ice until it gets no colder and both are left",
}
_ON_THE_WAY = (Stand.MOVES, Stand.RESTLESS)


class Conclusion:
    """Tells what was found, and keeps it.

    Args:
        log: the log.
        rig: the rig as configured.
        probes: the probes that were meant.
        taken: what was seen of them.
        tell: takes what there is to say, line by line; `!` before what is wrong, `~` before what
            is to be looked at.
    """

    def __init__(
        self, log: RunLog, rig: Rig, probes: Mapping[str, ProbeSetup], taken: Taken, tell: Tell
    ) -> None:
        self._log = log
        self._rig = rig
        self._probes = probes
        self._taken = taken
        self._tell = tell

    def of_bath(
        self, points: Mapping[str, Point], reference: Reference, *, anyway: bool, dry: bool
    ) -> int:
        """Judge points made at a temperature that is known, and keep the good ones.

        Args:
            points: of each probe that stood still.
            reference: the temperature.
            anyway: take a probe that reads too far off as well.
            dry: keep nothing.

        Returns:
            The exit code: 1 where of a probe nothing is kept.
        """
        watched = self._taken.watched
        true_c = reference.c
        refused = {
            name: f"{one.text}{HINTS[reference.kind] if one.stand in _ON_THE_WAY else ''}."
            for name, one in watched.items()
            if one.stand is not Stand.STILL
        }
        for name, one in watched.items():
            chip = "" if anyway else self._chip(name, one, true_c)
            if chip and one.stand in (Stand.STILL, Stand.AWAY):
                refused[name] = chip
        good = {name: point for name, point in points.items() if name not in refused}
        if not good:
            return self.nothing(refused)
        for sentence in refused.values():
            self._tell(f"! {sentence}")
        seen = {n: one for n, one in watched.items() if n in good}
        self._look(spread_text({n: w.steady for n, w in seen.items() if w.steady}, self._probes))
        for name, one in seen.items():
            self._look(level_text(self._probes[name], one, true_c))
        self._look(self._all_moved(good))
        kept = self.keep(good, dry=dry)
        return 1 if refused else kept

    def nothing(self, refused: Mapping[str, str]) -> int:
        """Say why nothing is kept; returns the exit code."""
        for sentence in refused.values():
            self._tell(f"! {sentence}")
        self._tell("Nothing is kept.")
        return 1

    def keep(self, points: Mapping[str, Point], *, dry: bool) -> int:
        """Say what the points come to, and keep them; returns the exit code."""
        rows = []
        for name, point in points.items():
            probe, seen = self._probes[name], self._taken.seen[name]
            self._look(moved(self._log, self._rig.setup.id, probe, point, self._taken.at_unix))
            self._look(self._mixes(probe, point))
            points_now = self._points_with(probe, point)
            if abs(point.off_k) > FARTHEST_K:
                self._tell(f"! {name} is {abs(point.off_k):.0f} K off: no offset mends that.")
                continue
            slope = slope_of(points_now)
            if slope is not None and not SLOPE_LIMITS[0] <= slope <= SLOPE_LIMITS[1]:
                self._tell(
                    f"! From point to point {name} goes {1.0 / slope:.3f} times as far as it "
                    "should, which no wire does: look at its type and converter, or undo the other "
                    "point. Nothing is kept of it."
                )
                continue
            self._result(probe, point, line_of(points_now), seen)
            one = self._taken.watched.get(name)
            facts = {
                "readings": seen.readings,
                "over_s": round(seen.over_s, 1),
                "cj_c": None if one is None else one.cj_c,
            }
            text = text_of(point, probe, **facts)
            rows.append((self._rig.setup.id, name, self._taken.at_unix, point.kind, text))
        if dry:
            self._tell("Nothing is kept: --dry-run.")
        elif not rows:
            self._tell("Nothing is kept.")
        else:
            keep(self._log, rows)
            self._tell(
                f"Kept in {self._log.path}. It holds from the next run on; `rigmon calibrate undo` "
                "takes it back."
            )
        return 0 if len(rows) == len(points) else 1

    def _look(self, sentence: str) -> None:
        if sentence:
            self._tell(f"~ {sentence}")

    def _result(self, probe: ProbeSetup, point: Point, line: Line, seen: Seen) -> None:
        read, true = temperature(point.read_c, digits=2), temperature(point.true_c, digits=2)
        what = f"{probe.name} reads {read} where it is {true}"
        if seen.over_s:
            known = replace(probe, gain=line.gain, offset_k=line.offset_k)
            told = (
                f"{what}: corrected by {correction_words(known)}, ± {2.0 * point.sd_k:.2f} K here "
                f"(k = 2), ± {2.0 * line.in_use_sd_k:.2f} K in a batch."
            )
        else:
            told = (
                f"{what}: add {signed(-point.off_k)} K to what you read off it, "
                f"± {2.0 * point.sd_k:.2f} K (k = 2). `rigmon mark reading` takes what is typed as "
                "it is."
            )
        shares = " · ".join(f"{share.what} {share.sd_k:.3f}" for share in point.shares)
        self._tell(told)
        self._tell(
            f"  {seen.readings} readings; standard uncertainties in K: {shares}; together "
            f"{point.sd_k:.3f}"
        )

    def _points_with(self, probe: ProbeSetup, point: Point) -> list[Point]:
        """The points that will count once this one is kept."""
        kept = [
            one.point
            for one in points_of(self._log, self._rig.setup.id, probe)
            if one.standing is Standing.COUNTS and one.row.kind != point.kind
        ]
        return [*(one for one in kept if one is not None), point]

    def _chip(self, name: str, one: Watched, true_c: float) -> str:
        """A sentence where a probe's converter is set wrong; "" else."""
        probe = self._probes[name]
        if one.reported_c is None:
            return ""
        sights = [Sight(one.reported_c, true_c, one.cj_c)]
        alone = chip_text(probe, sights)
        if not alone and probe.converter is Converter.LINEARISED:
            # Only then was what the log holds what the board reported.
            sights += [
                Sight(old.point.read_c, old.point.true_c)
                for old in points_of(self._log, self._rig.setup.id, probe)
                if old.standing is Standing.COUNTS and old.point is not None
            ]
        return alone or chip_text(probe, sights)

    def _all_moved(self, points: Mapping[str, Point]) -> str:
        """A sentence where all probes have moved alike; "" else."""
        moves = []
        for name, point in points.items():
            before = correction_of(
                self._log,
                self._rig.setup.id,
                self._probes[name],
                before_unix=self._taken.at_unix,
            )
            if before is None:
                return ""
            moves.append(before.line.true_c(point.read_c) - point.true_c)
        if len(moves) < 2 or min(map(abs, moves)) < ALIKE_K or max(moves) - min(moves) > ALIKE_K:
            return ""
        way = "warmer" if moves[0] > 0.0 else "colder"
        return (
            f"All probes read {abs(sum(moves) / len(moves)):.2f} K {way} than after their "
            "calibrations before: that is rather the bath (salt in the ice makes it colder, too "
            "little ice warmer) or the board than each of them."
        )

    def _mixes(self, probe: ProbeSetup, point: Point) -> str:
        """A sentence where past mixes say that the mix probe is off; "" else."""
        if probe.sits_in is not Place.MIX:
            return ""
        before = correction_of(self._log, self._rig.setup.id, probe)
        since = float("-inf") if before is None else before.at_unix
        say = mixes_say(self._log, self._rig.setup.id, since)
        if say is None or not say.certain:
            return ""
        then_c = probe.gain * point.read_c + probe.offset_k
        corrected_c = then_c if before is None else before.line.true_c(point.read_c)
        off_k = corrected_c - point.true_c
        agrees = abs(off_k - say.off_k) <= 2.0 * (say.sd_k**2 + point.sd_k**2) ** 0.5
        verdict = "so does this calibration" if agrees else "this calibration does not say so"
        more = "" if agrees else ": look at the recipe's amounts too"
        return f"{say.text(probe.name)}; {verdict}{more}."
