"""Packs of measurements in SenML (RFC 8428, JSON) as readings of a rig's probes."""

from __future__ import annotations

import json
import math
import re
from typing import NamedTuple

from rigmon.records import Fault, Reading, Unit
from rigmon.sources.decoded import OLDEST_S, BadLine, Decoded
from rigmon.units import KELVIN_AT_0_C

VERSION = 10
"""The version of SenML that RFC 8428 section 4.4 defines; a pack of a later one is refused."""

ABSOLUTE_FROM_S = 2**28
"""Times below this are relative to now, others are Unix time (RFC 8428 section 4.5.3)."""

_BASE_FIELDS = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_FIELDS = _BASE_FIELDS | {"n", "u", "v", "vs", "vb", "vd", "s", "t", "ut"}
_UNITS = {
    "Cel": (Unit.CELSIUS, 0.0),
    "K": (Unit.CELSIUS, -KELVIN_AT_0_C),
    "mV": (Unit.MILLIVOLT, 0.0),
    "W": (Unit.WATT, 0.0),
}
_FAULTS = {fault.value: fault for fault in Fault}
_NAME = re.compile(r"[A-Za-z0-9][-A-Za-z0-9:./_]*")
_COLD_JUNCTION = "cj"
_NAMES_KEPT = 256


class _Sample(NamedTuple):
    probe: str
    clock_s: float
    value: float | None
    unit: Unit
    fault: Fault | None


def _number(record: dict[str, object], key: str) -> float:
    value = record[key]
    if type(value) is float or type(value) is int:
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if math.isfinite(number):
            return number
    raise BadLine(f"{key} must be a finite number")


def _text(record: dict[str, object], key: str) -> str:
    value = record[key]
    if isinstance(value, str):
        return value
    raise BadLine(f"{key} must be text")


def probe_of(name: str) -> tuple[str, bool]:
    """The probe that a SenML name means, and whether it is the probe's cold junction.

    The probe is the last part of the name, where `/` and `:` part it; a last part `cj` is the cold
    junction of the part before.

    Raises:
        BadLine: the name has characters that RFC 8428 section 4.5.1 does not allow.

    >>> probe_of("rig-a/bath"), probe_of("rig-a/bath/cj"), probe_of("urn:dev:ow:10e2073a:mix")
    (('bath', False), ('bath', True), ('mix', False))
    """
    if not _NAME.fullmatch(name):
        raise BadLine("a record has no name" if not name else "a name has characters not allowed")
    parts = [part for part in re.split("[/:]", name) if part]
    if len(parts) > 1 and parts[-1] == _COLD_JUNCTION:
        return parts[-2], True
    return parts[-1], False


class SenmlForm:
    """Decodes packs; keeps what the names it has met mean."""

    def __init__(self) -> None:
        self._names: dict[str, tuple[str, bool]] = {}

    def decode(self, text: str, now: float) -> Decoded:
        """The readings of one pack that arrived at `now` [s, Unix].

        Raises:
            BadLine: the text is not a SenML pack, or a later version of one.
        """
        try:
            pack = json.loads(text)
        except (ValueError, RecursionError):
            raise BadLine("not JSON") from None
        if not isinstance(pack, list):
            raise BadLine("not a SenML pack: a list of records is needed")
        samples: list[_Sample] = []
        junctions: dict[str, list[_Sample]] = {}
        faults: list[str] = []
        base_name, base_unit, base_s, base_value = "", "", 0.0, 0.0
        for record in pack:
            if not isinstance(record, dict):
                raise BadLine("not a SenML pack: each record must be an object")
            keys = record.keys()
            if not keys <= _FIELDS and any(key.endswith("_") for key in keys):
                raise BadLine("a field that must be understood is not")
            if not keys.isdisjoint(_BASE_FIELDS):
                if "bver" in keys and _number(record, "bver") > VERSION:
                    raise BadLine(f"SenML of a version after {VERSION}")
                base_name = _text(record, "bn") if "bn" in keys else base_name
                base_unit = _text(record, "bu") if "bu" in keys else base_unit
                base_s = _number(record, "bt") if "bt" in keys else base_s
                base_value = _number(record, "bv") if "bv" in keys else base_value
                if keys <= _BASE_FIELDS and "bv" not in keys:
                    continue
            name = base_name + _text(record, "n") if "n" in keys else base_name
            probe, junction = self._probe(name)
            unit = _text(record, "u") if "u" in keys else base_unit
            clock_s = base_s + _number(record, "t") if "t" in keys else base_s
            if math.isinf(clock_s):
                raise BadLine("a time is out of range")
            sample = _sample(record, probe, unit, clock_s, base_value)
            if isinstance(sample, str):
                if sample:
                    faults.append(sample)
            elif junction:
                junctions.setdefault(probe, []).append(sample)
            else:
                samples.append(sample)
        return _stamped(samples, junctions, faults, now)

    def _probe(self, name: str) -> tuple[str, bool]:
        known = self._names.get(name)
        if known is None:
            known = probe_of(name)
            if len(self._names) < _NAMES_KEPT:
                self._names[name] = known
        return known


def _sample(
    record: dict[str, object], probe: str, unit: str, clock_s: float, base_value: float
) -> _Sample | str:
    """One record, or the sentence why it is no reading; empty for a record of a sum alone."""
    has_value = "v" in record
    values = has_value + ("vs" in record) + ("vb" in record) + ("vd" in record)
    if values > 1:
        raise BadLine("a record has more than one value")
    if "vs" in record:
        fault = _FAULTS.get(_text(record, "vs"))
        if fault is None:
            return f"{probe} has a text that is not {', '.join(_FAULTS)}"
        return _Sample(probe, clock_s, None, _UNITS.get(unit, _UNITS["Cel"])[0], fault)
    if not has_value:
        if values:
            return f"{probe} is not a number"
        if "s" in record:
            return ""
        if "bv" not in record and not base_value:
            raise BadLine("a record has no value")
    if unit not in _UNITS:
        found = f"the unit {unit[:20]!r}" if unit else "no unit"
        return f"{probe} has {found}; understood are {', '.join(_UNITS)}"
    if has_value and _is_missing(record["v"]):
        return f"{probe} has no value"
    kind, offset = _UNITS[unit]
    value = base_value + (_number(record, "v") if has_value else 0.0) + offset
    if math.isinf(value):
        raise BadLine("a value is out of range")
    return _Sample(probe, clock_s, value, kind, None)


def _is_missing(value: object) -> bool:
    """Whether a board wrote a reading that failed: null, or the NaN that some libraries write."""
    return value is None or (isinstance(value, float) and math.isnan(value))


def _stamped(
    samples: list[_Sample], junctions: dict[str, list[_Sample]], faults: list[str], now: float
) -> Decoded:
    """Samples as readings at their times.

    A pack whose newest time lies ahead of us or more than a day back comes from a board whose clock
    was never set: its newest sample is stamped on arrival, the others before it by that clock.
    """
    newest_s = max((sample.clock_s for sample in samples), default=0.0)
    trusted = newest_s >= ABSOLUTE_FROM_S and now - OLDEST_S <= newest_s <= now
    readings = []
    for sample in samples:
        probe, clock_s, value, unit, fault = sample
        if clock_s <= 0.0:
            t = now + clock_s
        elif trusted:
            t = clock_s
        else:
            t = now - (newest_s - clock_s)
        if now - t > OLDEST_S:
            faults.append(f"{probe} was measured more than a day ago")
            continue
        cj_c = _nearest(junctions[probe], clock_s) if probe in junctions else None
        board_s = clock_s if clock_s > 0.0 else None
        readings.append(Reading(t, probe, value, unit, cj_c, fault, board_s))
    return Decoded(tuple(readings), tuple(faults))


def _nearest(junctions: list[_Sample], clock_s: float) -> float | None:
    return min(junctions, key=lambda junction: abs(junction.clock_s - clock_s)).value
