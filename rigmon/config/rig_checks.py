"""Faults between the keys of one rig: what must stand together, and what must not.

These look at the file's own tables, so that they speak even while other keys are still wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rigmon.config.bowl_checks import bowl_faults
from rigmon.config.faults import Fault
from rigmon.config.fields import shown
from rigmon.config.places import KeyPath, printable
from rigmon.config.raw import Raw, table_of, tables_of, text_of
from rigmon.records import Converter, LineForm, Place, place_of

SOURCE_KEYS: Mapping[str, tuple[str, ...]] = {
    "serial": ("port", "baud", "format", "columns", "checksum", "dtr"),
    "mqtt": (
        "broker",
        "prefix",
        "user",
        "password_file",
        "password_env",
        "ca_file",
        "cert_file",
        "key_file",
        "keepalive_s",
    ),
    "virtual": ("seed",),
    "hand": (),
}
"""Which keys of a rig go with which source; of the first two the first one is needed."""

_FIRST_KEY = {
    "serial": 'port is needed, as in port = "/dev/ttyUSB0"',
    "mqtt": 'broker is needed, as in broker = "localhost:1883"',
}
_NO_PROBE = ("ms", "s", "-")


def rig_faults(rig: Raw, at: KeyPath) -> Iterator[Fault]:
    """Faults between the keys of one rig."""
    yield from _source_faults(rig, at)
    yield from security_faults(rig, at)
    yield from _probe_faults(rig, at)
    yield from _column_faults(rig, at)
    yield from bowl_faults(table_of(rig, "bowls"), (*at, "bowls"))


def _source_faults(rig: Raw, at: KeyPath) -> Iterator[Fault]:
    source = rig.get("source")
    for owner, keys in SOURCE_KEYS.items():
        given = [key for key in keys if key in rig]
        if source is None and given:
            yield Fault((*at, "source"), f'missing; {", ".join(given)} need source = "{owner}"')
        elif source in list(SOURCE_KEYS) and source != owner:
            for key in given:
                yield Fault(
                    (*at, key), f'this goes with source = "{owner}", found source = "{source}"'
                )
    if source in list(_FIRST_KEY) and SOURCE_KEYS[source][0] not in rig:
        yield Fault((*at, "source"), f'with "{source}" the key {_FIRST_KEY[source]}')


def security_faults(rig: Raw, at: KeyPath) -> Iterator[Fault]:
    """Faults between the keys that secure a connection, of a rig or of an outlet."""
    broker = text_of(rig, "broker")
    if broker is not None and not broker.startswith("mqtts://"):
        for key in ("ca_file", "cert_file", "key_file"):
            if key in rig:
                yield Fault(
                    (*at, key),
                    'this needs an encrypted broker, as in broker = "mqtts://host:8883"',
                )
    if "key_file" in rig and "cert_file" not in rig:
        yield Fault((*at, "key_file"), "this needs cert_file, the certificate of the key")
    if "password_file" in rig and "password_env" in rig:
        yield Fault((*at, "password_env"), "found beside password_file, keep one of them")
    for key in ("password_file", "password_env"):
        if key in rig and "user" not in rig:
            yield Fault((*at, key), "a password goes with a user; add user")


def _probe_faults(rig: Raw, at: KeyPath) -> Iterator[Fault]:
    names: set[str] = set()
    usual = Converter.STRAIGHT_LINE if rig.get("format") == LineForm.FRAMES else None
    for index, probe in tables_of(rig, "probe"):
        here = (*at, "probe", index)
        name = text_of(probe, "name")
        if name in names:
            yield Fault((*here, "name"), f"found {shown(name)} a second time; names must differ")
        if name is not None:
            names.add(name)
            if "sits_in" not in probe and place_of(name) is None:
                yield Fault(
                    (*here, "name"),
                    f"the name {shown(name)} does not say where the probe sits; "
                    f"add sits_in, allowed are {', '.join(Place)}",
                )
        converter = text_of(probe, "converter") or usual
        if probe.get("type") == "other" and converter in {Converter.STRAIGHT_LINE, Converter.EMF}:
            yield Fault(
                (*here, "type"),
                f'found "other", converter = "{converter}" needs a thermocouple: T, K, J, E, N',
            )


def _column_faults(rig: Raw, at: KeyPath) -> Iterator[Fault]:
    form = text_of(rig, "format") or LineForm.SENML.value
    columns = rig.get("columns")
    if columns is None:
        if form in {LineForm.COLUMNS, LineForm.FRAMES}:
            yield Fault(
                (*at, "format"),
                f'with "{form}" the key columns is needed, as in columns = ["ms", "bath", "mix"]',
            )
        return
    if form == LineForm.SENML:
        yield Fault((*at, "columns"), 'this needs format = "columns" or format = "frames"')
    if not isinstance(columns, list):
        return
    probes = (text_of(probe, "name") for _, probe in tables_of(rig, "probe"))
    names = list(dict.fromkeys(name for name in probes if name))
    seen: set[str] = set()
    for index, column in enumerate(columns):
        if not isinstance(column, str):
            continue
        here = (*at, "columns", index)
        if column in seen:
            yield Fault(here, f"found {shown(column)} a second time; names must differ")
        if column != "-":
            seen.add(column)
        if column in _NO_PROBE or column in names or (not names and place_of(column)):
            continue
        if names:
            known = f"the name of a probe ({', '.join(map(printable, names))})"
        else:
            known = f"a name that begins with {', '.join(Place)}"
        yield Fault(
            here,
            f"found {shown(column)}, allowed is {known}, "
            "ms or s (the board's own time), or - (passed over)",
        )
    if not seen - set(_NO_PROBE):
        yield Fault((*at, "columns"), "names no probe, at least one is needed")
