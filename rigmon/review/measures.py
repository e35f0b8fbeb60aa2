"""What one run measured: figures, the range of those estimated, and what cannot be said."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from pydantic import TypeAdapter

from rigmon.records import Event, IceKind, Priority, SaltKind, Stage

MEASURES_VERSION = 1
"""Rises with every change of what a measure means or of how it is got; older ones are got again."""


@dataclass(frozen=True, slots=True)
class Span:
    """An estimated figure: it lies between `p10` and `p90` in eight of ten cases.

    Args:
        p10: 10 % quantile.
        p50: median.
        p90: 90 % quantile.
    """

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class Bath:
    """What went into the outer bowl, and what came of it.

    Args:
        ice_g: ice before the pour, as weighed [g]; None if it was not weighed.
        salt_g: salt before the pour [g]; None if it was not weighed.
        water_g: water poured over it [g].
        ice_kind: form of the ice.
        salt_kind: grain of the salt.
        ice_c: temperature of the ice [°C]; None if nobody said.
        wet_pct: water that clung to it [% of its mass]; None if nobody said.
        ratio: ice to salt by mass before the pour; None unless both were weighed.
        wait_s: from ice-in to the pour [s]; None if either is not known.
        at_pour_c: bath as the mix was poured [°C].
        best_c: coldest that the bath was [°C].
        best_s: when [s].
        end_c: bath when it was last at work [°C].
        added_ice_g: ice added later [g]; None if some of it was not weighed.
        added_salt_g: salt added later [g]; None if some of it was not weighed.
        drained_g: brine poured off [g].
        recharges: run times of the recharges [s].
        ice_spent_g: ice melted by the end of the bath's work [g].
        ice_left_g: ice left then [g].
        salt_left_g: salt that lay undissolved then [g].
    """

    ice_g: float | None = None
    salt_g: float | None = None
    water_g: float = 0.0
    ice_kind: IceKind = IceKind.CRUSHED
    salt_kind: SaltKind = SaltKind.FINE
    ice_c: float | None = None
    wet_pct: float | None = None
    ratio: float | None = None
    wait_s: float | None = None
    at_pour_c: float | None = None
    best_c: float | None = None
    best_s: float | None = None
    end_c: float | None = None
    added_ice_g: float | None = 0.0
    added_salt_g: float | None = 0.0
    drained_g: float = 0.0
    recharges: tuple[float, ...] = ()
    ice_spent_g: Span | None = None
    ice_left_g: Span | None = None
    salt_left_g: Span | None = None


@dataclass(frozen=True, slots=True)
class StageHeld:
    """One stage of a run.

    Args:
        stage: which.
        round: beating rounds begun by then.
        begun_s: run time of its beginning [s].
        ended_s: run time of its end [s].
        frozen_pct: frozen share of the mix's water at its end [%].
        mix_c: mix at its end [°C].
        bath_c: bath at its end [°C].
    """

    stage: Stage
    round: int
    begun_s: float
    ended_s: float
    frozen_pct: Span | None = None
    mix_c: float | None = None
    bath_c: float | None = None


@dataclass(frozen=True, slots=True)
class Point:
    """The first round at one time.

    The log does not keep the states that were told live; these are what the log's readings say.

    Args:
        after_s: from the pour [s].
        frozen_pct: frozen share of the mix's water [%].
        bath_c: bath [°C].
        ice_left_g: ice left in it [g].
        sound: whether the mix probe could be trusted.
    """

    after_s: float
    frozen_pct: float | None = None
    bath_c: float | None = None
    ice_left_g: float | None = None
    sound: bool = True


@dataclass(frozen=True, slots=True)
class Scraped:
    """A scrape of the wall and what it did.

    Args:
        at_s: when [s].
        before_w_k: what the wall conducted before it [W/K].
        after_w_k: and after it [W/K].
    """

    at_s: float
    before_w_k: Span
    after_w_k: Span


@dataclass(frozen=True, slots=True)
class Limits:
    """Where the cold went that no longer froze the mix, over the freezing part of the first round.

    Args:
        at_s: run time of the middle of the stretch [s].
        bath_pct: share of the bath's warming [%].
        wall_pct: share of ice on the wall, stiff mix and air together [%].
        beater_pct: share of the beaters' heat [%].
    """

    at_s: float
    bath_pct: float
    wall_pct: float
    beater_pct: float


@dataclass(frozen=True, slots=True)
class Held:
    """A forecast as it was given, against what happened; all are run times [s].

    Args:
        event: of what.
        round: of which round.
        at_s: when it was given.
        p10: by then with probability 0.1; None beyond the horizon.
        p50: the same for 0.5.
        p90: the same for 0.9.
        happened_s: when it happened; None if that was not seen.
        first: True for the first of its event and round; False for the one given a quarter of the
            way from the pour to the event.
    """

    event: Event
    round: int
    at_s: float
    p10: float | None
    p50: float | None
    p90: float | None
    happened_s: float | None = None
    first: bool = True


@dataclass(frozen=True, slots=True)
class Alarmed:
    """An alarm that was raised.

    Args:
        code: which.
        priority: how soon it wanted an answer.
        at_s: when it was raised [s].
        acknowledged_s: when it was acknowledged [s].
        over_s: when its cause was gone [s].
    """

    code: str
    priority: Priority
    at_s: float
    acknowledged_s: float | None = None
    over_s: float | None = None


@dataclass(frozen=True, slots=True)
class Tasted:
    """What the batch was like.

    Args:
        texture: 1 to 5; `rigmon.review.tasting` says what each means; None if not scored.
        note: in words, or "".
        at_unix: when that was said [s].
    """

    texture: int | None
    note: str
    at_unix: float


@dataclass(frozen=True, slots=True)
class Measures:
    """One run measured from the log alone; None, with the reason in `unsaid`, where it cannot be.

    Times ending in `_s` are run times [s], those ending in `_after_s` count from the pour [s].

    Args:
        run: id of the run.
        rig: id of the rig.
        virtual: True for the virtual rig.
        started_unix: wall clock at run time 0 [s].
        model_version: the model that the estimates belong to.
        version: `MEASURES_VERSION` that they were got with.
        recipe: name of the mix, or "".
        mix_g: mass of the mix [g].
        mix_c: mix as it was poured [°C].
        room_c: air of the room [°C]; None if nobody said and no probe read it.
        bath: the bath.
        poured_s: run time of the pour.
        first_round_s: how long the first round was beaten [s].
        rounds: beating rounds begun.
        ended_s: run time of the end.
        freezing_after_s: from the pour until the mix began to freeze [s].
        plateau_after_s: from the pour until it no longer stiffened [s], as it was announced.
        frozen_at_plateau_pct: frozen share then [%].
        stages: the stages, in order.
        course: the first round every half minute.
        heat_kj: heat taken out of the mix through the wall until the first round ended [kJ].
        ua_w_k: what the wall conducts beside liquid mix [W/K].
        stiffening: how that falls as the mix stiffens.
        wall_end_w_k: what it conducted at the end of the first round [W/K].
        scrapes: the scrapes.
        beater_w: heat of beaters and air into liquid mix [W].
        beater_end_w: the same at the end of the first round [W].
        leak_w_k: what the outer bowl lets in from the room [W/K]; that of rigs at large where
            `unsaid` says that the run does not tell.
        limits: what kept the mix from freezing faster, over time.
        coarsening_min: time that the mix, or the tub's core, spent between −6 and −12 °C [min].
        hardening_min: from the freezer's door until the core was hard [min].
        mix_offset_k: what the mix probe reads more than the mix has, settled by the freezing
            point [K].
        forecasts: forecasts against what happened.
        alarms: alarms that were raised.
        tasted: what the batch was like; None if nobody said.
        determined: the rig's parameters of which this run says something.
        unsaid: what could not be measured, and why, by field.
    """

    run: str
    rig: str
    virtual: bool
    started_unix: float
    model_version: str
    version: int = MEASURES_VERSION
    recipe: str = ""
    mix_g: float | None = None
    mix_c: float | None = None
    room_c: float | None = None
    bath: Bath = Bath()
    poured_s: float | None = None
    first_round_s: float | None = None
    rounds: int = 0
    ended_s: float = 0.0
    freezing_after_s: Span | None = None
    plateau_after_s: float | None = None
    frozen_at_plateau_pct: Span | None = None
    stages: tuple[StageHeld, ...] = ()
    course: tuple[Point, ...] = ()
    heat_kj: Span | None = None
    ua_w_k: Span | None = None
    stiffening: Span | None = None
    wall_end_w_k: Span | None = None
    scrapes: tuple[Scraped, ...] = ()
    beater_w: Span | None = None
    beater_end_w: Span | None = None
    leak_w_k: Span | None = None
    limits: tuple[Limits, ...] = ()
    coarsening_min: float | None = None
    hardening_min: float | None = None
    mix_offset_k: Span | None = None
    forecasts: tuple[Held, ...] = ()
    alarms: tuple[Alarmed, ...] = ()
    tasted: Tasted | None = None
    determined: tuple[str, ...] = ()
    unsaid: Mapping[str, str] = field(default_factory=dict)


def as_json(measures: Measures) -> str:
    """Measures as one line of JSON."""
    return json.dumps(asdict(measures), ensure_ascii=False, separators=(",", ":"))


def as_data(measures: Measures) -> dict[str, Any]:
    """Measures as plain data, for a larger object of JSON."""
    return asdict(measures)


def from_json(text: str | bytes) -> Measures:
    """Measures from `as_json`.

    Raises:
        ValueError: it is none.
    """
    return _READER.validate_json(text)


_READER = TypeAdapter(Measures)
