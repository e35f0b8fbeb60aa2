"""Batches of drawn virtual rigs, played once, and what the monitor says of them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rigmon.config.load import CLASS_1_TOLERANCE_K
from rigmon.estimate.cloud import PRIOR
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import (
    Alarm,
    By,
    Event,
    Forecast,
    IceKind,
    Mark,
    MarkWord,
    Place,
    PlateauSetting,
    ProbeSetup,
    Reading,
    Recipe,
    RigPrior,
    RigSetup,
    RunFit,
    Said,
    SaltKind,
)
from rigmon.run.monitor import Monitor
from rigmon.virtual.drawn import RECIPES, drawn_scenario
from rigmon.virtual.scenario import Channel, Scenario, recipe_of
from rigmon.virtual.session import VirtualSession
from scoring import DECILES, QUARTILES, Array, Times

PLAYED_S = 2400.0
"""Batches are played for so long from the pour on [s] ..."""
LOOK_AHEAD_S = 1800.0
"""... and beaten on for so long to know where their plateau lies [s]."""
MISSED_S = 600.0
"""An alarm that has not sounded so long after the true plateau is missed [s]."""
STAYS_S = 60.0
"""A bath has crossed its limit once it stays above it for so long [s]."""
PLATEAU_ALARM = "plateau-reached"
WANDER_K, WANDER_S = 0.2, 40.0
TYPED_EVERY_S, TYPED_SD_K = 120.0, 0.5


@dataclass(frozen=True, slots=True)
class Played:
    """A batch as it went, beaten on long after its plateau.

    Args:
        seed: all chance in it.
        scenario: who did what with which rig.
        items: readings and marks.
        frozen_pct: true frozen share of each second of run time [% of the water].
        mean_frozen_pct: the same in all of it, with what is frozen to the wall [%].
        mix_c: true temperature where the mix probe's tip sits, likewise [°C].
        bath_c: true mean temperature of the brine, likewise [°C].
        plateau_s: true run time of the plateau [s]; None where there is none.
    """

    seed: int
    scenario: Scenario
    items: tuple[Reading | Mark, ...]
    frozen_pct: Array
    mean_frozen_pct: Array
    mix_c: Array
    bath_c: Array
    plateau_s: float | None

    @property
    def pour_s(self) -> float:
        """Run time of the pour [s]."""
        return self.scenario.plan.pour_s

    @property
    def stiffens(self) -> bool:
        """Whether the mix ever stiffened as fast as its plateau asks for, to stop doing so."""
        rule = PlateauSetting()
        within = round(rule.within_s)
        gain = self.frozen_pct[within:] - self.frozen_pct[:-within]
        return bool(np.any(gain >= rule.gain_pct))

    def read(self, probe: str) -> tuple[Array, Array]:
        """(n,) run times [s] and (n,) values of what a probe read."""
        readings = [
            (item.t, item.value)
            for item in self.items
            if isinstance(item, Reading) and item.probe == probe and item.value is not None
        ]
        t, value = np.array(readings).T
        return t, value

    def gain_pct(self, at_s: float) -> float:
        """What two minutes of beating on from a run time [s] truly freeze [percentage points]."""
        ahead = min(round(at_s + PlateauSetting().within_s), self.frozen_pct.size - 1)
        return float(self.frozen_pct[ahead] - self.frozen_pct[round(at_s)])

    def crossing_s(self) -> float | None:
        """Run time after the pour at which the bath crosses its limit to stay above it [s]."""
        return self._crossing_s(self.bath_c)

    def seen_crossing_s(self) -> float | None:
        """The same as the bath probe has it, with its error, read without its noise [s]."""
        t, read_c = self.read("bath")
        seconds = np.arange(self.bath_c.size)
        ends = np.searchsorted(t, np.stack([seconds - 0.5 * STAYS_S, seconds + 0.5 * STAYS_S]))
        smooth = [np.median(read_c[a:b]) if b > a else np.nan for a, b in ends.T]
        return self._crossing_s(np.array(smooth))

    def _crossing_s(self, bath_c: Array) -> float | None:
        composition = recipe_of(self.scenario).composition
        assert composition is not None
        above = bath_c >= bath_limit_c(freezing_curve(composition))
        stays = round(STAYS_S)
        for second in range(round(self.pour_s) + 1, above.size - stays):
            if not above[second - 1] and above[second : second + stays].all():
                return float(second)
        return None


def played(scenario: Scenario, seed: int, for_s: float = PLAYED_S) -> Played:
    """Play a batch with nobody listening, for so long from the pour on [s]."""
    session = VirtualSession(scenario, seed)
    until_s = scenario.plan.pour_s + for_s
    items = session.items(until_s)
    truths = [session.truth(float(second)) for second in range(round(until_s) + 1)]
    return Played(
        seed,
        scenario,
        tuple(items),
        np.array([truth.frozen_pct for truth in truths]),
        np.array([truth.mean_frozen_pct for truth in truths]),
        np.array([truth.mix_c for truth in truths]),
        np.array([truth.bath_c for truth in truths]),
        session.true_plateau_s(ahead_s=LOOK_AHEAD_S),
    )


USUAL = ("bath", "mix")
"""Probes of a drawn rig; the noise of these is the same whatever else there is."""


def with_signals(usual: Scenario) -> Scenario:
    """A drawn batch with every further signal that a board can send."""
    kind = usual.channels[0].kind
    further = (
        Channel("bath_2", Place.BATH, kind),
        Channel("mix_2", Place.MIX, kind),
        Channel("wall", Place.WALL, kind),
        Channel("room", Place.ROOM, kind),
        Channel("mixer", Place.MIXER),
    )
    return replace(usual, channels=(*usual.channels, *further))


def only(batch: Played, *probes: str) -> Played:
    """A batch as it is with these probes alone."""
    channels = tuple(one for one in batch.scenario.channels if one.name in probes)
    items = tuple(item for item in batch.items if isinstance(item, Mark) or item.probe in probes)
    return replace(batch, scenario=replace(batch.scenario, channels=channels), items=items)


def weak_bath(seed: int) -> Scenario:
    """A drawn batch whose bath gives out: little ice, less salt, a hot room."""
    rng = np.random.default_rng((31, seed))
    usual = drawn_scenario(seed)
    ice_g = float(rng.uniform(1000.0, 1500.0))
    bath = {
        **usual.plan.ice_in,
        "ice_g": round(ice_g, -1),
        "salt_g": round(ice_g / float(rng.uniform(6.0, 8.0)), -1),
        "ice_kind": IceKind.CRUSHED,
        "salt_kind": SaltKind.FINE,
    }
    return replace(
        usual, plan=replace(usual.plan, ice_in=bath), room_c=float(rng.uniform(28.0, 32.0))
    )


@dataclass(frozen=True, slots=True)
class Feed:
    """What a program is given of a batch.

    Args:
        setup: the rig as configured.
        recipe: the mix as the program is told.
        items: readings and marks.
        prior: what is believed of the rig.
    """

    setup: RigSetup
    recipe: Recipe
    items: tuple[Reading | Mark, ...]
    prior: RigPrior = PRIOR


def feed_of(batch: Played) -> Feed:
    """All that there is, from a rig that nothing is known of but its probes' types."""
    setups = tuple(
        ProbeSetup(
            channel.name,
            channel.place,
            channel.kind,
            uncertainty_k=CLASS_1_TOLERANCE_K[channel.kind],
        )
        for channel in batch.scenario.channels
    )
    return Feed(RigSetup(probes=setups), recipe_of(batch.scenario), batch.items)


def wandering(batch: Played) -> Feed:
    """Every probe wanders more than it does: lumps and eddies that last for 40 s."""
    whole = feed_of(batch)
    kept = np.exp(-1.0 / WANDER_S)
    seconds = batch.frozen_pct.size
    wander: dict[str, Array] = {}
    for number, probe in enumerate(whole.setup.probes):
        shocks = np.random.default_rng((32, batch.seed, number)).standard_normal(seconds)
        walk = np.empty(seconds)
        walk[0] = shocks[0]
        for i in range(1, seconds):
            walk[i] = kept * walk[i - 1] + np.sqrt(1.0 - kept**2) * shocks[i]
        wander[probe.name] = WANDER_K * walk
    items = tuple(
        replace(item, value=item.value + float(wander[item.probe][int(item.t)]))
        if isinstance(item, Reading) and item.value is not None
        else item
        for item in whole.items
    )
    return replace(whole, items=items)


def alone(batch: Played, place: Place) -> Feed:
    """The probe of one place is all that there is."""
    whole = feed_of(batch)
    probes = tuple(probe for probe in whole.setup.probes if probe.sits_in is place)
    names = {probe.name for probe in probes}
    items = tuple(item for item in whole.items if isinstance(item, Mark) or item.probe in names)
    return replace(whole, setup=replace(whole.setup, probes=probes), items=items)


def misnamed(batch: Played) -> Feed:
    """The program is told of another recipe than the one in the bowl."""
    place = RECIPES.index(batch.scenario.recipe)
    other = RECIPES[(place + 1 + batch.seed % (len(RECIPES) - 1)) % len(RECIPES)]
    return replace(feed_of(batch), recipe=recipe_of(replace(batch.scenario, recipe=other)))


def typed(batch: Played) -> Feed:
    """No board: bath and mix are read off a thermometer every two minutes and typed."""
    rng = np.random.default_rng((33, batch.seed))
    marks = [item for item in batch.items if isinstance(item, Mark)]
    for t in np.arange(60.0, batch.frozen_pct.size, TYPED_EVERY_S):
        bath_c, mix_c = (
            round(float(truth[int(t)]) + TYPED_SD_K * float(rng.standard_normal()), 1)
            for truth in (batch.bath_c, batch.mix_c)
        )
        seen = {"bath_c": bath_c, "mix_c": mix_c} if t > batch.pour_s else {"bath_c": bath_c}
        marks.append(Mark(float(t), MarkWord.READING, By.HAND, seen))
    ranked = sorted(marks, key=lambda mark: mark.t)
    return Feed(RigSetup(), recipe_of(batch.scenario), tuple(ranked))


@dataclass(frozen=True, slots=True)
class Heard:
    """What the monitor said of a batch.

    Args:
        forecasts: of each event, in order of time.
        whole: deciles, then quartiles of the plateau's forecasts, by when they were made [s].
        alarms: run time at which each alarm first sounded [s], by its code.
        gain_pct: what two more minutes would truly have frozen at the plateau's alarm [percentage
            points]; NaN without one.
        frozen_pct: true frozen share then [%].
        fit: what the run says of its rig.
    """

    forecasts: Mapping[Event, tuple[Forecast, ...]]
    whole: Mapping[float, Sequence[float | None]]
    alarms: Mapping[str, float]
    gain_pct: float
    frozen_pct: float
    fit: RunFit | None

    @property
    def alarm_s(self) -> float | None:
        """Run time of the plateau's alarm [s]; None if it did not sound in time."""
        return self.alarms.get(PLATEAU_ALARM)

    def newest(self, event: Event, at_s: float) -> Forecast | None:
        """The newest forecast made by `at_s` [s], which stands when none is made any more."""
        made = self.forecasts.get(event, ())
        place = bisect_right(made, at_s, key=lambda one: one.at)
        return made[place - 1] if place else None

    def times(self, event: Event, at_s: float) -> Times:
        """Its times at 10, 50 and 90 % [s]."""
        made = self.newest(event, at_s)
        return (None, None, None) if made is None else (made.p10, made.p50, made.p90)

    def whole_times(self, at_s: float) -> Sequence[float | None]:
        """Deciles, then quartiles of its plateau [s]; nothing where nothing was forecast."""
        made = self.newest(Event.PLATEAU, at_s)
        return () if made is None else self.whole[made.at]


def _each_second(monitor: Monitor, item: Reading | Mark) -> Iterator[Said]:
    """What is said up to an item and of it, each second's words before the next second begins."""
    while 1.0 < item.t - monitor.clock < np.inf:
        yield from monitor.advance(monitor.clock + 1.0)
    yield from monitor.feed(item)


def heard(batch: Played, feed: Feed, until_s: float | None = None) -> Heard:
    """Feed a batch to the monitor.

    Args:
        batch: the batch.
        feed: what is given of it.
        until_s: run time to stop at [s]; None for the plateau's alarm, or the time when it counts
            as missed.
    """
    monitor = Monitor(feed.setup, feed.recipe, feed.prior)
    last_s = until_s
    if last_s is None:
        last_s = np.inf if batch.plateau_s is None else batch.plateau_s + MISSED_S
    said: dict[Event, list[Forecast]] = {}
    whole: dict[float, Sequence[float | None]] = {}
    alarms: dict[str, float] = {}
    for item in feed.items:
        if item.t > last_s or (until_s is None and PLATEAU_ALARM in alarms):
            break
        for one in _each_second(monitor, item):
            if isinstance(one, Forecast):
                said.setdefault(one.event, []).append(one)
                if one.event is Event.PLATEAU:
                    whole[one.at] = monitor.plateau_s(one.at, (*DECILES, *QUARTILES))
            elif isinstance(one, Alarm):
                alarms.setdefault(one.code, one.at)
    gain = frozen = np.nan
    if (alarm_s := alarms.get(PLATEAU_ALARM)) is not None:
        gain, frozen = batch.gain_pct(alarm_s), float(batch.frozen_pct[round(alarm_s)])
    forecasts = {event: tuple(made) for event, made in said.items()}
    return Heard(forecasts, whole, alarms, gain, frozen, monitor.fit())
