"""Faults between the keys of the two bowls: what each shape needs, and what must agree."""

from __future__ import annotations

from collections.abc import Iterator

from rigmon.config.faults import Fault
from rigmon.config.fields import depth_table, finite, shown
from rigmon.config.places import KeyPath
from rigmon.config.raw import Raw
from rigmon.records import BowlSetup, BowlShape

_ROUNDING_ML = 0.5
"""Table and volume may part by what a reader of a measuring jug rounds off [ml]."""

_NEEDS = {BowlShape.FRUSTUM: ("rim_mm", "base_mm"), BowlShape.MEASURED: ("table",)}
_EXAMPLES = {"rim_mm": "240", "base_mm": "120", "table": "[[40, 900], [80, 2400]]"}


def bowl_faults(bowls: Raw, at: KeyPath) -> Iterator[Fault]:
    """Faults between the keys of the two bowls."""
    sizes = [bowls.get(key, getattr(BowlSetup(), key)) for key in ("inner_ml", "outer_ml")]
    if all(isinstance(size, int | float) for size in sizes) and sizes[0] >= sizes[1]:
        yield Fault(
            (*at, "inner_ml" if "inner_ml" in bowls else "outer_ml"),
            f"the inner bowl holds {shown(sizes[0])} ml and the outer {shown(sizes[1])} ml; "
            "the outer must hold more",
        )
    for which, ml in zip(("inner", "outer"), sizes, strict=True):
        yield from _shape_faults(bowls, at, which)
        yield from _frustum_faults(bowls, at, which)
        yield from _table_faults(bowls, at, which, ml)


def _shape_faults(bowls: Raw, at: KeyPath, which: str) -> Iterator[Fault]:
    shape = bowls.get(f"{which}_shape", BowlShape.HEMISPHERE.value)
    if shape not in list(BowlShape):
        return
    for owner, keys in _NEEDS.items():
        for key in (f"{which}_{key}" for key in keys):
            if shape == owner and key not in bowls:
                example = _EXAMPLES[key.removeprefix(f"{which}_")]
                yield Fault(
                    (*at, f"{which}_shape"),
                    f'with "{shape}" the key {key} is needed, as in {key} = {example}',
                )
            elif shape != owner and key in bowls:
                yield Fault(
                    (*at, key),
                    f'this goes with {which}_shape = "{owner}", found {which}_shape = "{shape}"',
                )


def _frustum_faults(bowls: Raw, at: KeyPath, which: str) -> Iterator[Fault]:
    rim, base = bowls.get(f"{which}_rim_mm"), bowls.get(f"{which}_base_mm")
    if isinstance(rim, int | float) and isinstance(base, int | float) and base > rim:
        yield Fault(
            (*at, f"{which}_base_mm"),
            f"the base is {shown(base)} mm wide and the rim {shown(rim)} mm; "
            "the rim must be as wide or wider, exchange them",
        )


def _table_faults(bowls: Raw, at: KeyPath, which: str, ml: object) -> Iterator[Fault]:
    try:
        full, holds = depth_table(bowls.get(f"{which}_table"))[-1][1], finite(ml)
    except ValueError:
        return
    if abs(full - holds) > _ROUNDING_ML:
        yield Fault(
            (*at, f"{which}_table"),
            f"the table ends at {full:.10g} ml and the bowl holds {holds:.10g} ml to its rim; "
            f"measure up to the rim and set {which}_ml to that",
        )
