"""Figures of one run: temperatures, forecasts, ice in the mix, heat, the bath's path, its cost."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from rigmon.physics import brine
from rigmon.physics.mixside import ROOM_C
from rigmon.physics.rigparameters import PARAMETERS
from rigmon.physics.wall import beaters_w
from rigmon.records import Event, MarkWord, Stage
from rigmon.review.looks import BATH, GREY, INK, MIX, SALT, WARN
from rigmon.review.measuring import COARSENS_C
from rigmon.review.spans import P90
from rigmon.review.story import Story
from rigmon.review.told import Told

Array = NDArray[np.float64]

_LEAK_W_K = next(one.usual for one in PARAMETERS if one.name == "leak_w_k")
_AFTER_MIN, _HARDENED_H = 3.0, 24.0
_LABELLED = {
    MarkWord.POUR: "pour",
    MarkWord.RECHARGE: "recharge",
    MarkWord.SCRAPE: "scrape",
    MarkWord.BEAT_STOP: "stop",
}


class Drawing:
    """The figures of one story; each method draws one on axes.

    Args:
        story: the run.
    """

    def __init__(self, story: Story) -> None:
        self.story = story
        self.said = Told(story.units)
        self.zero_s = story.measures.poured_s or 0.0
        self._min = (story.track.times() - self.zero_s) / 60.0
        self._first = np.array(
            [one.stage in (Stage.READY, Stage.BEAT) and one.round <= 1 for one in self.samples],
            dtype=bool,
        )

    @property
    def samples(self) -> list[Any]:
        """The run at times in order."""
        return self.story.track.samples

    @property
    def has_round(self) -> bool:
        """Whether there is a first round to be drawn."""
        return self.story.measures.poured_s is not None and bool(np.sum(self._first) > 2)

    @property
    def has_core(self) -> bool:
        """Whether a tub's core was read in the freezer."""
        return sum(one.core_c is not None and one.stage is Stage.HARDEN for one in self.samples) > 2

    @property
    def has_budget(self) -> bool:
        """Whether ice and salt were weighed."""
        return bool(np.isfinite(self._of("ice_left_g")[self._first]).sum() > 2)

    def until_min(self) -> float:
        """The end of the first round, from the pour [min]."""
        return float(self._min[self._first][-1]) + _AFTER_MIN if np.any(self._first) else 1.0

    def _of(self, name: str) -> Array:
        return self.story.track.column(name)

    def temperatures(self, axes: Axes) -> None:
        """Bath and mix, with what was done."""
        limit_c = self.story.track.bath_limit_c
        for name, colour, text in (("bath_c", BATH, "bath"), ("mix_c", MIX, "mix")):
            values = self.said.degrees(self._of(name))
            before = self._min < 0.0 if name == "mix_c" else np.zeros(values.size, dtype=bool)
            values = np.where(before | (self._min > self.until_min()), np.nan, values)
            axes.plot(self._min, values, color=colour, linewidth=1.6)
            self._name(axes, values, text, colour)
        if limit_c is not None:
            self._level(axes, limit_c, f"bath limit {self.said.c(limit_c, 0)}", WARN)
        if (freezing_c := self.story.track.freezing_c) is not None:
            self._level(axes, freezing_c, f"mix freezes at {self.said.c(freezing_c)}", GREY)
        self._events(axes)
        axes.set_title(f"Bath and mix, {self.said.scale}")
        self._time(axes)
        axes.margins(y=0.1)

    def _name(self, axes: Axes, values: Array, text: str, colour: str) -> None:
        """Name a line where it ends, so that no legend is needed."""
        shown = np.flatnonzero(np.isfinite(values))
        if shown.size:
            last = shown[-1]
            axes.annotate(
                text, (self._min[last], values[last]), (4, 0), textcoords="offset points",
                color=colour, fontweight="bold", va="center", annotation_clip=False,
            )  # fmt: skip

    def _level(self, axes: Axes, c: float, text: str, colour: str) -> None:
        (y,) = self.said.degrees(np.array([c]))
        axes.axhline(y, color=colour, linestyle=(0, (4, 3)), linewidth=0.9)
        axes.annotate(
            text, (0.3, y), (0, -2), color=colour, fontsize=7.5, va="top",
            xycoords=axes.get_yaxis_transform(), textcoords="offset points",
        )  # fmt: skip

    def _events(self, axes: Axes, *, named: bool = True) -> None:
        """What was done and what was announced, as lines down the figure."""
        marks = [
            ((heard.mark.t - self.zero_s) / 60.0, _LABELLED[heard.mark.word], GREY)
            for heard in self.story.track.marks(*_LABELLED)
        ]
        after_s = self.story.measures.plateau_after_s
        if after_s is not None:
            marks.append((after_s / 60.0, "stiff: alarm", WARN))
        begin, end = self._window()
        names: list[float] = []
        level = 0
        for at_min, text, colour in sorted(marks):
            if not begin <= at_min <= end:
                continue
            axes.axvline(at_min, color=colour, linewidth=0.8, linestyle=":")
            if named:
                close = bool(names) and at_min - names[-1] < 0.09 * (end - begin)
                level = (level + 1) % 3 if close else 0
                axes.annotate(
                    text, (at_min, 1.0), (3, -3 - 10 * level), fontsize=7.5, color=colour,
                    xycoords=axes.get_xaxis_transform(), textcoords="offset points", va="top",
                )  # fmt: skip
                names.append(at_min)

    def _window(self) -> tuple[float, float]:
        begin = float(self._min[0]) if self._min.size else 0.0
        return max(begin, -30.0), self.until_min()

    def _time(self, axes: Axes) -> None:
        axes.set_xlim(*self._window())
        axes.set_xlabel("minutes from the pour")

    def forecasts(self, axes: Axes) -> None:
        """The plateau's forecasts as they were given, against when it came."""
        given = [
            line
            for line in self.story.logged.lines("forecast")
            if line["event"] == Event.PLATEAU and line["p50"] is not None
        ]
        latest = self.until_min() * 2.0
        if given:
            at = np.array([line["at"] for line in given])
            low, middle, high = (
                np.array([math.nan if line[q] is None else line[q] for line in given], dtype=float)
                for q in ("p10", "p50", "p90")
            )
            at, low, middle = ((v - self.zero_s) / 60.0 for v in (at, low, middle))
            high = np.where(np.isnan(high), latest, (high - self.zero_s) / 60.0)
            axes.fill_between(at, low, high, color=MIX, alpha=0.2, linewidth=0.0)
            axes.plot(at, middle, color=MIX, linewidth=1.5)
            axes.set_ylim(0.0, min(float(np.nanmax(high)) * 1.1, latest))
        after_s = self.story.measures.plateau_after_s
        if after_s is not None:
            axes.axhline(after_s / 60.0, color=WARN, linewidth=1.2)
            axes.text(
                0.995, after_s / 60.0, f"came at {after_s / 60.0:.0f} min", color=WARN,
                fontsize=7.5, ha="right", va="top", transform=axes.get_yaxis_transform(),
            )  # fmt: skip
        end = self.until_min()
        axes.plot([0.0, end], [0.0, end], color=GREY, linewidth=0.8, linestyle=(0, (1, 2)))
        axes.text(0.57 * end, 0.5 * end, "now", color=GREY, fontsize=7.5, va="top")
        axes.set_title("Forecast: stiff at minute …")
        self._time(axes)

    def frozen(self, axes: Axes) -> None:
        """Ice in the mix."""
        share, sd = self._of("frozen_pct"), self._of("frozen_pct_sd")
        share = np.where(self._min < 0.0, np.nan, share)
        shown = self._first & np.isfinite(share)
        t, share, sd = self._min[shown], share[shown], sd[shown]
        axes.fill_between(
            t, np.clip(share - P90 * sd, 0.0, None), share + P90 * sd,
            color=MIX, alpha=0.2, linewidth=0.0,
        )  # fmt: skip
        axes.plot(t, share, color=MIX, linewidth=1.6)
        if t.size:
            axes.annotate(
                f"{share[-1]:.0f} %", (t[-1], share[-1]), (4, 0), textcoords="offset points",
                color=MIX, fontweight="bold", va="center", annotation_clip=False,
            )  # fmt: skip
        self._events(axes, named=False)
        axes.set_ylim(bottom=0.0)
        axes.set_title("Water of the mix that is ice, %")
        self._time(axes)

    def heat(self, axes: Axes) -> None:
        """Heat out of the mix, into it, and into the bath."""
        wall, sd = self._of("cooling_w"), self._of("cooling_w_sd")
        shown = self._first & np.isfinite(wall)
        t = self._min[shown]
        axes.fill_between(
            t, (wall - P90 * sd)[shown], (wall + P90 * sd)[shown],
            color=MIX, alpha=0.2, linewidth=0.0,
        )  # fmt: skip
        lines: list[tuple[Array, str, str, Any]] = [
            (wall, "out of the mix", MIX, "-"),
            (self._beaters(), "beaters and air into it", INK, (0, (5, 2))),
            (self._leak(), "room into the bath", BATH, (0, (2, 2))),
        ]
        for values, text, colour, style in lines:
            known = shown & np.isfinite(values)
            axes.plot(self._min[known], values[known], color=colour, linewidth=1.5, linestyle=style,
                      label=text)  # fmt: skip
        axes.set_ylim(bottom=0.0)
        axes.legend(loc="upper right", fontsize=8.0)
        axes.set_title("Heat, W")
        self._time(axes)

    def _beaters(self) -> Array:
        fit, frozen = self.story.track.fit, self._of("frozen_pct")
        if fit is None:
            return np.full(frozen.size, np.nan)
        heat, rise = (math.exp(fit.mean[fit.names.index(n)]) for n in ("beater_w", "beater_rise"))
        ones = np.ones(frozen.size)
        return beaters_w(heat * ones, rise * ones, frozen)

    def _leak(self) -> Array:
        found, room_c = self.story.measures.leak_w_k, self.story.measures.room_c
        w_k = _LEAK_W_K if found is None else found.p50
        return w_k * ((ROOM_C if room_c is None else room_c) - self._of("bath_c"))

    def path(self, axes: Axes) -> None:
        """The bath over the diagram of ice, salt and brine."""
        said = self.said
        w = np.linspace(0.0, 23.3, 120)
        liquidus = said.degrees(np.asarray(brine.freezing_c(w)))
        floor = float(said.degrees(np.array([-23.5]))[0])
        axes.fill_between(w, liquidus, floor, color=BATH, alpha=0.07, linewidth=0.0)
        axes.plot(w, liquidus, color=GREY, linewidth=1.2)
        eutectic = float(liquidus[-1])
        axes.axhline(eutectic, color=GREY, linewidth=0.8, linestyle=(0, (4, 3)))
        axes.text(0.4, eutectic, "as cold as salt and ice can get", fontsize=7.5, color=GREY,
                  va="top")  # fmt: skip
        axes.text(0.8, float(said.degrees(np.array([-8.0]))[0]), "ice and brine", color=GREY,
                  fontsize=8.0, style="italic")  # fmt: skip
        axes.text(17.0, float(said.degrees(np.array([-6.0]))[0]), "brine", color=GREY,
                  fontsize=8.0, style="italic")  # fmt: skip
        self._last_ice(axes)
        work = np.array([one.in_bath and one.round <= 1 for one in self.samples], dtype=bool)
        strength, bath = self._of("brine_pct"), said.degrees(self._of("bath_c"))
        work &= np.isfinite(strength) & np.isfinite(bath)
        axes.plot(strength[work], bath[work], color=BATH, linewidth=2.2, solid_capstyle="round")
        self._stations(axes, strength, bath, work)
        axes.set_xlim(0.0, 24.0)
        axes.set_ylim(floor, float(said.degrees(np.array([1.0]))[0]))
        axes.set_xlabel("salt in the brine, % by mass")
        axes.set_title(f"The bath's path, {said.scale}")

    def _last_ice(self, axes: Axes) -> None:
        bath = self.story.measures.bath
        if bath.ice_g is None or bath.salt_g is None:
            return
        all_pct = 100.0 * bath.salt_g / (bath.ice_g + bath.water_g + bath.salt_g)
        end_c = float(brine.freezing_c(min(all_pct, 23.3)))
        (y,) = self.said.degrees(np.array([end_c]))
        axes.plot([min(all_pct, 23.3)], [y], marker="D", color=WARN, markersize=5.5)
        self._pointed(
            axes, f"last ice melts, {self.said.c(end_c)}", (min(all_pct, 23.3), y), 3, WARN
        )

    def _pointed(
        self, axes: Axes, text: str, at: tuple[float, float], row: int, colour: str
    ) -> None:
        """A word in a column of its own, with a line to what it names."""
        axes.annotate(
            text, at, (0.03, 0.5 - 0.1 * row), textcoords="axes fraction", color=colour,
            fontsize=7.5, va="center",
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.6, "shrinkB": 4.0},
        )  # fmt: skip

    def _stations(self, axes: Axes, strength: Array, bath: Array, work: Array) -> None:
        measured = self.story.measures
        ends = [held.ended_s for held in measured.stages if held.stage is Stage.BEAT]
        stations = [("pour", measured.poured_s), ("end of round 1", ends[0] if ends else None)]
        if measured.bath.best_s is not None and ends and measured.bath.best_s < ends[0] - 60.0:
            stations.append(("coldest", measured.bath.best_s))
        places = np.flatnonzero(work)
        for number, (text, at_s) in enumerate(stations):
            if at_s is None or not places.size:
                continue
            near = places[np.argmin(np.abs(self._min[places] - (at_s - self.zero_s) / 60.0))]
            axes.plot(strength[near], bath[near], "o", color=BATH, markersize=5.0)
            c = self.said.c(self.samples[near].estimate.bath_c)
            self._pointed(axes, f"{text}, {c}", (strength[near], bath[near]), number, BATH)

    def ice(self, axes: Axes) -> None:
        """Ice left, and what has melted."""
        left, sd = self._of("ice_left_g"), self._of("ice_left_g_sd")
        put = self._put("ice_g")
        self._budget(axes, left, sd, put, BATH, ("left", "melted"))
        axes.set_title(f"Ice, {self.said.weight}")

    def salt(self, axes: Axes) -> None:
        """Salt that lies undissolved, and what the brine holds."""
        pct, water, put = (self._of(n) for n in ("brine_pct", "brine_water_g", "salt_g"))
        per_water = pct / (100.0 - pct)
        dry = np.clip(put - per_water * water, 0.0, put)
        sd = per_water * np.hypot(self._of("ice_left_g_sd"), water * 0.04)
        self._budget(axes, dry, sd, put, SALT, ("undissolved", "in the brine"))
        axes.set_title(f"Salt, {self.said.weight}")

    def _put(self, name: str) -> Array:
        """What had been put in by each time [g]."""
        total = np.zeros(self._min.size)
        times = self.story.track.times()
        usual = getattr(self.story.logged.setup.bath, name) or 0.0
        for heard in self.story.track.marks(MarkWord.ICE_IN, MarkWord.RECHARGE):
            default = usual if heard.mark.word is MarkWord.ICE_IN else 0.0
            total[times >= heard.t] += float(heard.mark.detail.get(name, default))
        return total

    def _budget(
        self, axes: Axes, left: Array, sd: Array, put: Array, colour: str, names: tuple[str, str]
    ) -> None:
        shown = self._first & np.isfinite(left) & np.isfinite(put)
        t = self._min[shown]
        left, sd, put = (self.said.weights(v[shown]) for v in (left, sd, put))
        axes.fill_between(t, 0.0, left, color=colour, alpha=0.30, linewidth=0.0)
        axes.fill_between(t, left, put, color=colour, alpha=0.08, linewidth=0.0)
        axes.plot(t, left, color=colour, linewidth=1.6)
        axes.plot(t, put, color=colour, linewidth=0.9, linestyle=(0, (4, 3)))
        for side in (-P90, P90):
            axes.plot(t, np.clip(left + side * sd, 0.0, put), color=colour, linewidth=0.6)
        if t.size:
            first, last = t.size // 4, max(3 * t.size // 4, t.size // 4 + 1)
            widest = first + int(np.argmax(np.minimum(left, put - left)[first:last]))
            for y, text in (
                (0.5 * left[widest], names[0]),
                (0.5 * (left[widest] + put[widest]), names[1]),
            ):
                axes.text(t[widest], y, text, ha="center", va="center", fontsize=8.5, color=INK)
            axes.set_ylim(0.0, 1.08 * float(np.max(put)))
        self._time(axes)

    def hardening(self, axes: Axes) -> None:
        """Core and freezer over the hours after packing."""
        into = next(
            (heard.mark.t for heard in self.story.track.marks(MarkWord.HARDEN_START)), self.zero_s
        )
        hours = (self.story.track.times() - into) / 3600.0
        inside = np.array([one.stage is Stage.HARDEN for one in self.samples], dtype=bool)
        low, high = self.said.degrees(np.array(COARSENS_C))
        axes.axhspan(low, high, color=GREY, alpha=0.12, linewidth=0.0)
        axes.text(0.995, high, "crystals grow fastest", fontsize=7.5, color=GREY, ha="right",
                  va="top", transform=axes.get_yaxis_transform())  # fmt: skip
        for name, colour, text in (("core_c", MIX, "core"), ("freezer_c", BATH, "freezer")):
            values = np.array([_number(getattr(one, name)) for one in self.samples])
            shown = inside & np.isfinite(values) & (hours <= _HARDENED_H)
            if not shown.any():
                continue
            degrees = self.said.degrees(values)[shown]
            axes.plot(hours[shown], degrees, color=colour, linewidth=1.8 if text == "core" else 0.9)
            at = int(0.1 * degrees.size) if text == "core" else degrees.size - 1
            axes.annotate(
                text, (hours[shown][at], degrees[at]), (6, 3), color=colour,
                textcoords="offset points", fontweight="bold", va="bottom", annotation_clip=False,
            )  # fmt: skip
        axes.set_xlabel("hours in the freezer")
        axes.set_title(f"Hardening, {self.said.scale}")

    def panels(self) -> list[tuple[str, tuple[Callable[[Axes], None], ...]]]:
        """What there is to draw: a name, and one figure or two side by side."""
        found: list[tuple[str, tuple[Callable[[Axes], None], ...]]] = []
        if self.has_round:
            found.append(("Bath and mix", (self.temperatures,)))
            found.append(("Forecasts and ice", (self.forecasts, self.frozen)))
            found.append(("Heat and the bath's path", (self.heat, self.path)))
        if self.has_budget:
            found.append(("Ice and salt", (self.ice, self.salt)))
        if self.has_core:
            found.append(("Hardening", (self.hardening,)))
        return found


def _number(value: float | None) -> float:
    return math.nan if value is None else value
