"""Faults between the keys of one outlet: what must stand together, and what must not."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from rigmon.config.faults import Fault, nearest
from rigmon.config.places import KeyPath
from rigmon.config.raw import Raw, table_of, text_of
from rigmon.config.rig_checks import security_faults

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_NEED = {"to": "an address", "run": "a program"}


def outlet_faults(outlets: Raw, alarm_codes: Collection[str] | None) -> Iterator[Fault]:
    """Faults between the keys of `[outlets]`, without those of its passwords and headers."""
    yield from security_faults(table_of(outlets, "homie"), ("outlets", "homie"))
    for kind in ("webhook", "command", "mail"):
        for name, outlet in table_of(outlets, kind).items():
            at = ("outlets", kind, name)
            if not isinstance(outlet, dict):
                continue
            if not _NAME.fullmatch(name):
                yield Fault(at, "this cannot be an outlet's name, allowed are a-z, 0-9 and -")
            yield from _alarm_faults(outlet, at, alarm_codes)
            if kind == "mail":
                yield from _mail_faults(outlet, at)


def _alarm_faults(outlet: Raw, at: KeyPath, codes: Collection[str] | None) -> Iterator[Fault]:
    listed = outlet.get("codes")
    for index, code in enumerate(listed if isinstance(listed, list) else []):
        if isinstance(code, str) and codes is not None and code not in codes:
            hint = nearest(code, sorted(codes))
            yield Fault((*at, "codes", index), f"unknown alarm, {hint}")
    for key, wanted in {"codes": "a code", "priorities": "a priority", **_NEED}.items():
        if outlet.get(key) == []:
            yield Fault((*at, key), f"an empty list, name at least {wanted}")
    if isinstance(run := outlet.get("run"), list) and run[:1] == [""]:
        yield Fault((*at, "run", 0), "an empty text, allowed is the name or path of a program")


def _mail_faults(outlet: Raw, at: KeyPath) -> Iterator[Fault]:
    yield from security_faults(outlet, at)
    user = text_of(outlet, "user")
    if user is None:
        return
    if outlet.get("tls") == "none":
        yield Fault((*at, "tls"), 'a password is not sent in the open, use "starttls" or "ssl"')
    if "password_file" not in outlet and "password_env" not in outlet:
        yield Fault((*at, "user"), "a user goes with a password; add password_file")
