"""What a probe's readings are worth just now, and what the maker should look at.

The figures are common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from collections import deque

from rigmon.records import Place, Quality
from rigmon.texts import Sentence, marked
from rigmon.units import Celsius, Figure, lasting

SILENT_S = 5.0
SILENT_INTERVALS = 5.0
"""A probe is silent after 5 s, or five times its usual interval if that is longer."""

FIRST_WAIT_S = 90.0
"""The same while only one reading has come and the interval is not known [s]."""

SLOW_S = 5.0
"""Boards that send this seldom [s] stand where no mixer runs."""

BAD_OF = 5
BAD_ENOUGH = 3
"""Three of the last five readings bad make the probe bad; five good ones make it good again."""

SHARE_OVER_S = 60.0
SHARE_OVER_READINGS = 60
NOISY_SHARE, CALM_SHARE = 0.25, 0.05
"""Share of the last minute's (or, if there are fewer, the last 60) readings lost as spikes that
makes a probe noisy, and the share above which it stays so."""

NOISY_SCATTER_K, CALM_SCATTER_K = 0.9, 0.5
SCATTER_OVER_S = 60.0
"""The same for the scatter [K], averaged over this long [s]. A mixer makes 0.2 to 0.5 K."""

CALM_FOR_S = 60.0
"""A noisy probe is good again after this long without either [s]."""

COARSE_K = 0.25
"""Step of a common 14-bit converter [K], assumed while too few changes have been seen."""

CHANGES_FOR_RESOLUTION = 5
WANDER_K_PER_ROOT_S = 0.001
HOLD_LEAST_S, HOLD_MOST_S, HOLD_READINGS = 120.0, 4 * 3600.0, 20
"""An honest probe wanders by at least a thousandth of a kelvin in a second and by the root of the
time in more, so that it leaves a step of q K within (q / 0.001)² s: 0.01 K in under 2 min, 0.0625 K
in about an hour. Slower than the limits here it is stuck."""

STILL_PLACES = (Place.CORE, Place.ROOM, Place.FREEZER)
STILL_FACTOR = 4.0
"""Where nothing moves, an honest probe may take this much longer."""

MIXING_HOLDS = 20.0
MIXING_LEAST_S = 90.0
MIXING_CHANGES = 10
"""While the mixer runs a reading that stands for 20 times as long as readings then do, and for
longer than it takes to scrape the wall [s], is stuck."""

_SILENT = marked("{who} has said nothing: look at the board's power, its cable and the plug.")
_SILENT_FOR = marked(
    "{who} has said nothing for {since}: look at the board's power, its cable and the plug."
)
_STUCK = marked(
    "{who} has said exactly {held} for {since}: look whether it sits where it should, then unplug "
    "the board and plug it in again."
)
_SPIKES = marked(
    "{who} loses {share} % of its readings to spikes: lead its cable away from the mixer's cord "
    "and look at its plug."
)
_SCATTER = marked(
    "{who} scatters by {scatter} K: lead its cable away from the mixer's cord and look at its plug."
)


class Health:
    """Watches one probe's readings; knows no clock, so every question carries its time.

    Args:
        who: the probe, as a sentence about it begins.
        place: what it sits in.
    """

    def __init__(self, who: str, place: Place) -> None:
        self._who = who
        self._still = STILL_FACTOR if place in STILL_PLACES else 1.0
        self._last_t: float | None = None
        self._intervals: deque[float] = deque(maxlen=9)
        self._lately: deque[tuple[Quality, str]] = deque(maxlen=BAD_OF)
        self._bad = False
        self._lost: deque[tuple[float, bool]] = deque()
        self._lost_n = 0
        self._scatter_k: float | None = None
        self._noisy = False
        self._restless_t = 0.0
        self._held_c: float | None = None
        self._held_from = 0.0
        self._held_n = 0
        self._changes: deque[float] = deque(maxlen=64)
        self._mixing_holds: deque[int] = deque(maxlen=64)
        self._mixing_from: float | None = None
        self._mixing_n = 0
        self._stuck = False

    @property
    def last_t(self) -> float | None:
        """When the probe last said anything [s]."""
        return self._last_t

    @property
    def slow(self) -> bool:
        """Whether readings come so seldom that no mixer can be running."""
        return min(self._intervals, default=0.0) >= SLOW_S

    def heard(self, t: float) -> None:
        """Something came from the probe, good or bad."""
        if self._last_t is not None:
            self._intervals.append(t - self._last_t)
        self._last_t = t

    def bad(self, quality: Quality, sentence: str) -> None:
        """It was no temperature, or an impossible one; the sentence says what to look at."""
        self._held_c = None
        self._judge(quality, sentence)

    def took(self, t: float, c: float, accepted: bool, scatter_k: float, mixing: bool) -> None:
        """It was a temperature, accepted or lost as a spike."""
        self._judge(Quality.GOOD, "")
        self._watch_noise(t, accepted, scatter_k)
        self._watch_hold(t, c, mixing)

    def quality(self, t: float) -> Quality:
        """What the readings are worth at a time [s]."""
        if self._last_t is None or t - self._last_t > self._patience_s():
            return Quality.SILENT
        if self._bad:
            return self._worst_lately()[0]
        if self._stuck:
            return Quality.STUCK
        return Quality.NOISY if self._noisy else Quality.GOOD

    def reason(self, t: float) -> str:
        """What is wrong at a time [s] and what to look at, in one sentence; "" if nothing is."""
        match self.quality(t):
            case Quality.SILENT:
                if self._last_t is None:
                    return Sentence(_SILENT, who=self._who)
                return Sentence(_SILENT_FOR, who=self._who, since=lasting(t - self._last_t))
            case Quality.FAULT | Quality.IMPLAUSIBLE:
                return self._worst_lately()[1]
            case Quality.STUCK:
                return Sentence(
                    _STUCK,
                    who=self._who,
                    held=Celsius(self._held_c, 2),
                    since=lasting(t - self._held_from),
                )
            case Quality.NOISY:
                return self._noise()
            case _:
                return ""

    def _patience_s(self) -> float:
        if not self._intervals:
            return FIRST_WAIT_S
        # One gap among the intervals is a drop-out; two say that the board has slowed down.
        longest = sorted(self._intervals)[-2:]
        return max(SILENT_S, SILENT_INTERVALS * longest[0])

    def _judge(self, quality: Quality, sentence: str) -> None:
        self._lately.append((quality, sentence))
        bad = sum(said is not Quality.GOOD for said, _ in self._lately)
        self._bad = bad >= BAD_ENOUGH or (self._bad and bad > 0)

    def _worst_lately(self) -> tuple[Quality, str]:
        bad = [said for said in reversed(self._lately) if said[0] is not Quality.GOOD]
        return next((said for said in bad if said[0] is Quality.FAULT), bad[0])

    def _watch_noise(self, t: float, accepted: bool, scatter_k: float) -> None:
        lost = self._lost
        lost.append((t, not accepted))
        self._lost_n += not accepted
        while len(lost) > SHARE_OVER_READINGS and lost[0][0] < t - SHARE_OVER_S:
            self._lost_n -= lost.popleft()[1]
        if self._scatter_k is None:
            self._scatter_k = scatter_k
        else:
            weight = min(1.0, self._intervals[-1] / SCATTER_OVER_S)
            self._scatter_k += weight * (scatter_k - self._scatter_k)
        if self._share() > NOISY_SHARE or self._scatter_k > NOISY_SCATTER_K:
            self._noisy = True
        if self._share() > CALM_SHARE or self._scatter_k > CALM_SCATTER_K:
            self._restless_t = t
        elif t - self._restless_t > CALM_FOR_S:
            self._noisy = False

    def _share(self) -> float:
        return self._lost_n / max(len(self._lost), SHARE_OVER_READINGS)

    def _noise(self) -> str:
        share = self._share()
        if share > CALM_SHARE:
            return Sentence(_SPIKES, who=self._who, share=Figure(100.0 * share, 0))
        return Sentence(_SCATTER, who=self._who, scatter=Figure(self._scatter_k or 0.0))

    def _watch_hold(self, t: float, c: float, mixing: bool) -> None:
        if c != self._held_c:
            if self._held_c is not None:
                self._changes.append(abs(c - self._held_c))
                if mixing:
                    self._mixing_holds.append(self._held_n)
            self._held_c, self._held_from, self._held_n = c, t, 0
            self._mixing_from = None
            self._stuck = False
        self._held_n += 1
        if not mixing:
            self._mixing_from = None
        elif self._mixing_from is None:
            self._mixing_from, self._mixing_n = t, 0
        self._mixing_n += 1
        held_s = t - self._held_from
        if not self._stuck and self._held_n >= HOLD_READINGS and held_s >= MIXING_LEAST_S:
            self._stuck = held_s > self._hold_limit_s() or self._outlasts_mixing(t)

    def _hold_limit_s(self) -> float:
        resolution_k = COARSE_K
        if len(self._changes) >= CHANGES_FOR_RESOLUTION:
            resolution_k = sorted(self._changes)[len(self._changes) // 10]
        limit_s = (resolution_k / WANDER_K_PER_ROOT_S) ** 2
        return self._still * min(max(limit_s, HOLD_LEAST_S), HOLD_MOST_S)

    def _outlasts_mixing(self, t: float) -> bool:
        holds = self._mixing_holds
        if self._mixing_from is None or len(holds) < MIXING_CHANGES:
            return False
        usual_n = sum(holds) / len(holds)
        return t - self._mixing_from >= MIXING_LEAST_S and self._mixing_n > MIXING_HOLDS * usual_n
