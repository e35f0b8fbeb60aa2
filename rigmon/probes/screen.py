"""Which readings of one probe are to be believed, and what the probe is worth just now."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rigmon.probes.despike import Despiker
from rigmon.probes.health import Health
from rigmon.probes.lifted import Lifted
from rigmon.records import Fault, Place, Quality
from rigmon.texts import Sentence, marked
from rigmon.units import Celsius

LIMITS_C: Mapping[Place, tuple[float, float]] = MappingProxyType(
    {
        Place.BATH: (-60.0, 60.0),
        Place.MIX: (-45.0, 110.0),
        Place.WALL: (-60.0, 110.0),
        Place.CORE: (-45.0, 110.0),
        Place.ROOM: (-30.0, 60.0),
        Place.FREEZER: (-60.0, 60.0),
    }
)
"""What can be where at all [°C]: wide enough for dry ice in the bath and a base on the stove."""

FAULT_CODE_C = 1300.0
"""Above this a number is a board's code for a fault (2000 and 1372 are in use), no temperature."""

CIRCUIT: Mapping[Fault, str] = MappingProxyType(
    {
        Fault.OPEN: marked("{who} has an open circuit: look at its plug and its wires."),
        Fault.SHORT_GND: marked(
            "{who} is shorted to ground: look for bare wire, and for brine in its plug."
        ),
        Fault.SHORT_VCC: marked("{who} is shorted to the supply: look for bare wire at the board."),
    }
)
_WHO: Mapping[Place, str] = MappingProxyType(
    {
        Place.BATH: marked("The bath probe"),
        Place.MIX: marked("The mix probe"),
        Place.WALL: marked("The wall probe"),
        Place.CORE: marked("The core probe"),
        Place.ROOM: marked("The room probe"),
        Place.FREEZER: marked("The freezer probe"),
    }
)
_NO_NUMBER = marked("{who} sends no number: look at its plug and at the board.")
_A_CODE = marked("{who} sends {code}, a code for a fault: look at its plug and its wires.")
_OUTSIDE = marked(
    "{who} reads {c}, outside {low} to {high}: look where it sits, and whether its type is set "
    "right."
)
_LIFTED = marked("{who} reads {c} and warms as no mix can: put it back into the mix.")


@dataclass(frozen=True, slots=True)
class Screened:
    """One reading, judged.

    Args:
        t: when it was taken [s].
        c: temperature [°C]; None unless accepted.
        accepted: whether it is to be believed.
        why: why not; "" where it is.
    """

    t: float
    c: float | None
    accepted: bool
    why: str = ""


class Screen:
    """Judges the readings of one probe one by one, as they come.

    Feeding it is the only thing that changes it; time is an argument.

    Args:
        place: what the probe sits in.
        name: the probe's own name, to tell two probes in one place apart.

    Raises:
        ValueError: a place that has no temperature.

    >>> mix = Screen(Place.MIX)
    >>> [mix.feed(t, c).accepted for t, c in enumerate((4.0, 4.0, 3.9, 17.5, 3.9, 2000.0, 3.8))]
    [False, True, True, False, True, False, True]
    >>> mix.quality(7.0), mix.quality(30.0)
    (<Quality.GOOD: 'good'>, <Quality.SILENT: 'silent'>)
    >>> mix.reason(30.0)
    "The mix probe has said nothing for 24 s: look at the board's power, its cable and the plug."
    """

    def __init__(self, place: Place, name: str = "") -> None:
        if place not in LIMITS_C:
            raise ValueError(f"A probe at the {place} reads no temperature and is not screened.")
        self._place = place
        who = Sentence(_WHO[place])
        self._who = who if name in {"", place} else Sentence("{who} {name!r}", who=who, name=name)
        self._typed_any = False
        self._begin()

    def _begin(self) -> None:
        self._despiker = Despiker()
        self._health = Health(self._who, self._place)
        self._lifted = Lifted()

    @property
    def scatter_k(self) -> float:
        """Usual scatter of the readings about their course [K]; 0.22 K for quieter probes."""
        return self._despiker.scatter_k

    def feed(
        self,
        t: float,
        c: float | None,
        fault: Fault | None = None,
        by: str = "probe",
        problem: str = "",
        mixing: bool = False,
        in_mix: bool = False,
    ) -> Screened:
        """Judge one reading.

        A value typed by hand always passes and says nothing of the probe. Where time goes back
        (a board's clock was set), the course begins anew.

        Args:
            t: when it was taken [s].
            c: temperature, linearised and corrected [°C]; None where there is none.
            fault: what the converter says of the circuit.
            by: `probe`, or `hand`.
            problem: why there is no temperature, if the conversion found out.
            mixing: whether the mixer runs, so that an honest probe cannot stand still.
            in_mix: whether the probe should sit in a mix in its cold bowl, which cannot warm fast.
        """
        if by == "hand":
            return self._typed(t, c)
        if self._health.last_t is not None and t < self._health.last_t:
            self._begin()
        self._health.heard(t)
        if fault is not None:
            return self._refused(t, Quality.FAULT, Sentence(CIRCUIT[fault], who=self._who))
        if c is None or not math.isfinite(c):
            return self._refused(
                t,
                Quality.FAULT,
                problem or Sentence(_NO_NUMBER, who=self._who),
            )
        if c > FAULT_CODE_C:
            return self._refused(
                t,
                Quality.FAULT,
                Sentence(_A_CODE, who=self._who, code=f"{c:g}"),
            )
        low_c, high_c = LIMITS_C[self._place]
        if not low_c <= c <= high_c:
            return self._refused(
                t,
                Quality.IMPLAUSIBLE,
                Sentence(
                    _OUTSIDE,
                    who=self._who,
                    c=Celsius(c),
                    low=Celsius(low_c, 0),
                    high=Celsius(high_c, 0),
                ),
            )
        accepted = self._despiker.accepts(t, c, self._health.slow)
        if not in_mix:
            self._lifted.forget()
        elif accepted and self._lifted.feed(t, c):
            return self._refused(
                t,
                Quality.IMPLAUSIBLE,
                Sentence(_LIFTED, who=self._who, c=Celsius(c)),
            )
        self._health.took(t, c, accepted, self.scatter_k, mixing)
        if accepted:
            return Screened(t, c, True)
        return Screened(t, None, False, "A spike, or the first readings of a step.")

    def quality(self, t: float) -> Quality:
        """What the probe's readings are worth at a time [s]; a probe never heard is silent."""
        return Quality.GOOD if self._only_typed else self._health.quality(t)

    def reason(self, t: float) -> str:
        """What is wrong at a time [s] and what to look at, in one sentence; "" if nothing is."""
        return "" if self._only_typed else self._health.reason(t)

    @property
    def _only_typed(self) -> bool:
        return self._typed_any and self._health.last_t is None

    def _typed(self, t: float, c: float | None) -> Screened:
        if c is None or not math.isfinite(c):
            return Screened(t, None, False, "No number was typed.")
        self._typed_any = True
        return Screened(t, c, True)

    def _refused(self, t: float, quality: Quality, sentence: str) -> Screened:
        self._health.bad(quality, sentence)
        return Screened(t, None, False, sentence)
