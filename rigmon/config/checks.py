"""Faults between the tables of a configuration file."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from rigmon.config.faults import Fault, nearest
from rigmon.config.fields import shown
from rigmon.config.outlet_checks import outlet_faults
from rigmon.config.places import printable
from rigmon.config.raw import Raw, table_of, text_of
from rigmon.config.recipes import recipe_faults
from rigmon.config.rig_checks import rig_faults

_RIG_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


def config_faults(raw: Raw, alarm_codes: Collection[str] | None) -> Iterator[Fault]:
    """Faults between the keys of a configuration file, without those of its links."""
    rigs = table_of(raw, "rigs")
    for rig_id, rig in rigs.items():
        if not _RIG_ID.fullmatch(rig_id):
            yield Fault(
                ("rigs", rig_id),
                "this cannot be a rig's name, allowed are up to 40 of a-z, 0-9 and -, "
                "a letter or digit first",
            )
        if isinstance(rig, dict):
            yield from rig_faults(rig, ("rigs", rig_id))
    yield from _shared_ports(rigs)
    for code in table_of(raw, "alarms"):
        if alarm_codes is not None and code not in alarm_codes:
            yield Fault(("alarms", code), f"unknown alarm, {nearest(code, sorted(alarm_codes))}")
    if "homie" in table_of(raw, "outlets"):
        for rig_id in rigs:
            if rig_id.endswith("-"):
                yield Fault(("rigs", rig_id), "Homie knows no name with a - at its end, rename it")
    yield from outlet_faults(table_of(raw, "outlets"), alarm_codes)
    yield from _recorded_faults(raw)


def _shared_ports(rigs: Raw) -> Iterator[Fault]:
    owners: dict[str, str] = {}
    for rig_id, rig in rigs.items():
        port = text_of(rig, "port") if isinstance(rig, dict) else None
        if port is None:
            continue
        if port in owners:
            yield Fault(
                ("rigs", rig_id, "port"),
                f"{shown(port)} is the port of the rig {printable(owners[port])} already; "
                "each needs its own",
            )
        owners.setdefault(port, rig_id)


def _recorded_faults(raw: Raw) -> Iterator[Fault]:
    together = ("recorded", "prior")
    given = [key for key in together if key in raw]
    if len(given) == 1:
        other = together[1 - together.index(given[0])]
        yield Fault((given[0],), f"found without [{other}]; an exported run has both")
    recipe = raw.get("recipe")
    if isinstance(recipe, str) or (recipe is not None and not given):
        yield Fault(
            ("recipe",),
            "only an exported run has its recipe in the same file; write the recipe into a "
            'file of its own and name it in the rig, as in recipe = "quince.toml"',
        )
    if not given:
        return
    if isinstance(recipe, dict):
        yield from recipe_faults(recipe, ("recipe",))
    rigs = table_of(raw, "rigs")
    if len(rigs) != 1:
        yield Fault(("recorded",), f"found {len(rigs)} rigs, an exported run has exactly one")
    yield from _prior_faults(table_of(raw, "prior"))


def _prior_faults(prior: Raw) -> Iterator[Fault]:
    names = prior.get("names")
    if not isinstance(names, list):
        return
    for key in ("transforms", "mean", "covariance"):
        value = prior.get(key)
        if isinstance(value, list) and len(value) != len(names):
            yield Fault(("prior", key), f"found {len(value)} of them, there are {len(names)} names")
    rows = prior.get("covariance")
    for index, row in enumerate(rows if isinstance(rows, list) else []):
        if not isinstance(row, list):
            continue
        here = ("prior", "covariance", index)
        if len(row) != len(names):
            yield Fault(here, f"found {len(row)} of them, there are {len(names)} names")
        elif index < len(row) and isinstance(row[index], int | float) and row[index] < 0:
            yield Fault((*here, index), f"found {shown(row[index])}, a variance is never negative")
