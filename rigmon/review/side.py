"""Several runs side by side: as they were, brought to common conditions, and what differed."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rigmon.errors import RigmonError
from rigmon.records import Composition
from rigmon.review.adjust import MOST_RUNS, Adjusted, Common, adjusted, common_of
from rigmon.review.kept import Unmeasured
from rigmon.review.logged import read
from rigmon.review.measures import Measures, Span, as_data
from rigmon.review.memory import Kept, recall
from rigmon.review.told import Told
from rigmon.store.archive import Archive
from rigmon.units import clock

WIDTH = 80
_COLUMNS = 4
"""So many runs stand beside each other in columns; more become the rows of a table."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Runs side by side.

    Args:
        runs: the runs, in the order asked for.
        unmeasured: those that could not be measured.
        common: what they were brought to; None where they were not.
        times: of each run, its time to the common share; empty where there is none.
    """

    runs: tuple[Measures, ...]
    unmeasured: tuple[Unmeasured, ...]
    common: Common | None
    times: tuple[Adjusted, ...]


def beside(log: Archive, found: Sequence[Measures | Unmeasured]) -> Beside:
    """Runs side by side, brought to common conditions if they are not too many.

    Raises:
        LogError: the log cannot be read.
    """
    runs = tuple(one for one in found if isinstance(one, Measures))
    failed = tuple(one for one in found if isinstance(one, Unmeasured))
    common = common_of(runs) if 2 <= len(runs) <= MOST_RUNS else None
    if common is None:
        return Beside(runs, failed, None, ())
    mixes: dict[str, Composition] = {}
    for run in runs:
        recipe = read_recipe(log, run.run)
        if recipe is not None:
            mixes[run.run] = recipe
    keys = {(run.rig, run.virtual) for run in runs}
    memories = {key: recall(log, Kept(*key)) for key in keys}
    return Beside(runs, failed, common, tuple(adjusted(runs, common, mixes, memories)))


def read_recipe(log: Archive, run_id: str) -> Composition | None:
    """What the mix of a run was made of; None if nobody said or it cannot be read any more."""
    try:
        recipe = read(log, run_id, items=False).recipe
    except RigmonError:
        return None
    return recipe.composition if recipe is not None else None


def lines(side: Beside, said: Told) -> Iterator[str]:
    """Runs side by side in lines of up to 80 columns."""
    if len(side.runs) <= _COLUMNS:
        yield from _columns(side, said)
    else:
        yield from _rows(side, said)
    yield ""
    yield from _wrapped(
        "Differed: " + ("; ".join(differed(side.runs, said)) or "nothing told") + "."
    )
    yield from _wrapped(adjustment(side, said))
    for run, one in zip(side.runs, side.times, strict=False):
        if one.why:
            yield from _wrapped(f"{run.run} is not brought to it: {one.why}.")
    for failed in side.unmeasured:
        yield from _wrapped(f"{failed.run} could not be measured: {failed.why}")


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ")


def adjustment(side: Beside, said: Told) -> str:
    """What the runs were brought to, or why they were not, in a sentence."""
    common = side.common
    if common is None:
        if len(side.runs) > MOST_RUNS:
            return f"Shown as they were: name up to {MOST_RUNS} runs to bring them to one footing."
        return "Shown as they were: too few have mix, ice and salt weighed and enough frozen."
    start = common.start
    return (
        f"Adjusted: the time to {common.frozen_pct:.0f} % frozen, brought to {said.g(start.mix_g)} "
        f"of {common.recipe or 'the mix'} at {said.c(start.mix_c)}, {clock(start.wait_s)} from ice "
        f"to pour, {start.ice_kind} ice, {start.salt_kind} salt and a room of "
        f"{said.c(start.room_c, 0)}, by the model of the rig as the log has learned it. Ratio and "
        "mass of the ice are each run's own. Ranges hold what days of one rig differ by."
    )


def differed(runs: Sequence[Measures], said: Told) -> Iterator[str]:
    """In what the runs differed before anything came of them."""
    numbers: list[tuple[str, Callable[[Measures], float | None], Callable[[float], str], float]] = [
        ("ratio", lambda run: run.bath.ratio, lambda v: f"{v:.1f}", 0.1),
        ("ice", lambda run: run.bath.ice_g, said.g, 50.0),
        ("mix", lambda run: run.mix_g, said.g, 20.0),
        ("mix at", lambda run: run.mix_c, said.c, 0.5),
        ("bath at the pour", lambda run: run.bath.at_pour_c, said.c, 1.0),
        ("ice to pour", lambda run: run.bath.wait_s, clock, 30.0),
        ("room", lambda run: run.room_c, said.c, 1.0),
    ]
    for name, of, words, least in numbers:
        values = [value for run in runs if (value := of(run)) is not None]
        if values and max(values) - min(values) >= least:
            yield f"{name} {words(min(values))} to {words(max(values))}"
        if values and len(values) < len(runs):
            yield f"{name} not known of {len(runs) - len(values)}"
    kinds: list[tuple[str, Callable[[Measures], str]]] = [
        ("ice", lambda run: run.bath.ice_kind.value),
        ("salt", lambda run: run.bath.salt_kind.value),
        ("rig", lambda run: run.rig),
        ("recipe", lambda run: run.recipe or "none"),
    ]
    for name, kind in kinds:
        several = list(dict.fromkeys(kind(run) for run in runs))
        if len(several) > 1:
            some = ", ".join(several[:3]) + (" …" if len(several) > 3 else "")
            yield f"{name} {some}"


def _day(run: Measures) -> str:
    moment = datetime.datetime.fromtimestamp(run.started_unix, datetime.UTC).astimezone()
    return f"{moment:%m-%d %H:%M}"


def _middle(span: Span | None, digits: int = 0) -> str:
    return "–" if span is None else f"{span.p50:.{digits}f}".replace("-", "−")


def _minutes(seconds: float | None) -> str:
    return "–" if seconds is None else clock(seconds)


def _columns(side: Beside, said: Told) -> Iterator[str]:
    runs, times = side.runs, side.times or tuple(Adjusted() for _ in side.runs)
    width = (WIDTH - 20) // max(len(runs), 1)
    share = "" if side.common is None else f" {side.common.frozen_pct:.0f} %"
    rows: list[tuple[str, Callable[[Measures, Adjusted], str]]] = [
        ("", lambda run, _: run.rig),
        ("", lambda run, _: _day(run)),
        ("mix", lambda run, _: "–" if run.mix_g is None else said.g(run.mix_g)),
        ("mix at", lambda run, _: said.c(run.mix_c)),
        ("ice", lambda run, _: "–" if run.bath.ice_g is None else said.g(run.bath.ice_g)),
        ("salt", lambda run, _: "–" if run.bath.salt_g is None else said.g(run.bath.salt_g)),
        ("ratio", lambda run, _: "–" if run.bath.ratio is None else f"{run.bath.ratio:.1f}"),
        ("ice, salt", lambda run, _: f"{run.bath.ice_kind}, {run.bath.salt_kind}"),
        ("bath at the pour", lambda run, _: said.c(run.bath.at_pour_c)),
        ("bath at best", lambda run, _: said.c(run.bath.best_c)),
        ("freezing after", lambda run, _: _minutes(_of(run.freezing_after_s))),
        ("stiff after", lambda run, _: _minutes(run.plateau_after_s)),
        ("beaten for", lambda run, _: _minutes(run.first_round_s)),
        ("frozen, %", lambda run, _: _frozen(run)),
        (f"to{share} frozen" if share else "", lambda _, one: _minutes(one.took_s)),
        ("  adjusted", lambda _, one: _minutes(_of(one.common_s))),
        ("  eight in ten", lambda _, one: _range(one.common_s)),
        ("heat out, kJ", lambda run, _: _middle(run.heat_kj)),
        ("wall, W/K", lambda run, _: _middle(run.ua_w_k, 1)),
        ("beaters, W", lambda run, _: _middle(run.beater_w)),
        ("ice spent", lambda run, _: _mass(run.bath.ice_spent_g, said)),
        ("salt left", lambda run, _: _mass(run.bath.salt_left_g, said)),
        ("texture", lambda run, _: _texture(run)),
    ]
    for name, of in rows:
        cells = [of(run, one) for run, one in zip(runs, times, strict=True)]
        if name and all(cell in ("–", "") for cell in cells):
            continue
        shown = "".join(f"{cell[: width - 2]:>{width}}" for cell in cells)
        yield f"{name:<20}{shown}".rstrip()


def _of(span: Span | None) -> float | None:
    return None if span is None else span.p50


def _range(span: Span | None) -> str:
    return "–" if span is None else f"{clock(span.p10)}–{clock(span.p90)}"


def _mass(span: Span | None, said: Told) -> str:
    return "–" if span is None else said.tens(span.p50)


def _texture(run: Measures) -> str:
    if run.tasted is None or run.tasted.texture is None:
        return "–"
    return str(run.tasted.texture)


def _frozen(run: Measures) -> str:
    share = next((one.frozen_pct for one in run.stages if one.stage == "beat"), None)
    return _middle(share)


def _rows(side: Beside, said: Told) -> Iterator[str]:
    times = side.times or tuple(Adjusted() for _ in side.runs)
    heads = ("run", "rig", "mix", "ratio", "ice", "pour", "stiff", "frozen", "wall", "adj.", "tex")
    table: list[tuple[str, ...]] = [heads]
    for run, one in zip(side.runs, times, strict=True):
        table.append(
            (
                _day(run),
                run.rig[:9],
                "–" if run.mix_g is None else said.g(run.mix_g).removesuffix(" g"),
                "–" if run.bath.ratio is None else f"{run.bath.ratio:.1f}",
                "–" if run.bath.ice_g is None else said.g(run.bath.ice_g).removesuffix(" g"),
                said.c(run.bath.at_pour_c).removesuffix(f" {said.scale}"),
                _minutes(run.plateau_after_s),
                _frozen(run),
                _middle(run.ua_w_k, 1),
                _minutes(_of(one.common_s)),
                _texture(run),
            )
        )
    if not side.times:
        table = [(*line[:9], line[10]) for line in table]
    widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
    for line in table:
        cells = [
            cell.ljust(width) if i < 2 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()
    yield ""
    yield from _wrapped(
        f"mix and ice in {said.weight}, pour: bath at the pour in {said.scale}, stiff: from the "
        "pour to the alarm, frozen: % of the water as round 1 ended, wall: W/K, tex: texture"
        + (", adj.: to the common share, adjusted." if side.times else ".")
    )


def as_object(side: Beside) -> dict[str, Any]:
    """Runs side by side as plain data."""
    common = side.common
    start = None if common is None else common.start
    return {
        "runs": [
            {
                **as_data(run),
                "adjusted": None
                if not side.times
                else {
                    "took_s": side.times[place].took_s,
                    "common_s": _span(side.times[place].common_s),
                    "why": side.times[place].why or None,
                },
            }
            for place, run in enumerate(side.runs)
        ],
        "common": None
        if common is None or start is None
        else {
            "frozen_pct": common.frozen_pct,
            "recipe": common.recipe,
            "mix_g": start.mix_g,
            "mix_c": start.mix_c,
            "wait_s": start.wait_s,
            "room_c": start.room_c,
            "ice_c": start.ice_c,
            "ice_kind": start.ice_kind,
            "salt_kind": start.salt_kind,
        },
        "unmeasured": [{"run": one.run, "why": one.why} for one in side.unmeasured],
    }


def _span(span: Span | None) -> dict[str, float] | None:
    return None if span is None else {"p10": span.p10, "p50": span.p50, "p90": span.p90}
