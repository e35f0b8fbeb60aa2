"""Kinds of value that a file may hold, each with its sentence for a value that cannot be."""

from __future__ import annotations

import datetime
import ipaddress
import math
import re
from collections.abc import Callable
from typing import NamedTuple, TypeVar
from urllib.parse import urlsplit

from rigmon.config.places import printable

Word = TypeVar("Word", bound=str)

_BROKER = re.compile(
    r"(?P<scheme>mqtts?://)?"
    r"(?:\[(?P<ipv6>[0-9A-Fa-f:.]+)\]|(?P<host>[A-Za-z0-9_.-]+))"
    r"(?::(?P<port>[0-9]{1,5}))?"
)
_MAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9.-]+")
_LARGEST_SHOWN = 10**30


def shown(value: object) -> str:
    """A value as it is quoted back to the maker.

    >>> shown("Q"), shown(True), shown(2.5), shown([1])
    ('"Q"', 'true', '2.5', 'a list')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{printable(value)}"'
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, int) and abs(value) > _LARGEST_SHOWN:
        return "a very large number"
    return str(value)


def number(
    low: float, high: float, unit: str = "", *, above: bool = False
) -> Callable[[object], float]:
    """A number from `low` to `high` [unit]; `above` leaves `low` itself out.

    >>> number(0.5, 1.5)(1)
    1.0
    """
    ends = f"above {low:.10g} and up to {high:.10g}" if above else f"from {low:.10g} to {high:.10g}"
    allowed = f"a number {ends} {unit}".rstrip()
    # A share that was computed may pass 100 % by a rounding error.
    highest = high + 1e-9 * abs(high)

    def check(value: object) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            at_or_over = value > low if above else value >= low
            if at_or_over and value <= highest:
                return float(value)
        hint = ", without quotation marks" if isinstance(value, str) else ""
        raise ValueError(f"found {shown(value)}, allowed is {allowed}{hint}")

    return check


def whole(low: int, high: int, unit: str = "") -> Callable[[object], int]:
    """A whole number from `low` to `high` [unit].

    >>> whole(1, 10)(3)
    3
    """
    allowed = f"a whole number from {low} to {high} {unit}".rstrip()

    def check(value: object) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        hint = ", without quotation marks" if isinstance(value, str) else ""
        raise ValueError(f"found {shown(value)}, allowed is {allowed}{hint}")

    return check


def finite(value: object) -> float:
    """Any number that is one."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        try:
            if math.isfinite(value):
                return float(value)
        except OverflowError:
            pass
    raise ValueError(f"found {shown(value)}, allowed is a finite number")


def one_of(*words: Word) -> Callable[[object], Word]:
    """One of a few words.

    >>> one_of("C", "F")("C")
    'C'
    """
    known = {str(word): word for word in words}

    def check(value: object) -> Word:
        if isinstance(value, str) and value in known:
            return known[value]
        raise ValueError(f"found {shown(value)}, allowed are {', '.join(known)}")

    return check


def text(most: int = 200, least: int = 1) -> Callable[[object], str]:
    """A line of text without control characters."""

    def check(value: object) -> str:
        if isinstance(value, str):
            if value.isprintable() and least <= len(value) <= most:
                return value
            allowed = f"one line of {least} to {most} characters"
        else:
            allowed = "text in quotation marks"
        raise ValueError(f"found {shown(value)}, allowed is {allowed}")

    return check


def switch(value: object) -> bool:
    """True or false."""
    if isinstance(value, bool):
        return value
    raise ValueError(f"found {shown(value)}, allowed are true and false")


_DEPTH = number(0, 1000, "mm", above=True)
_VOLUME = number(0, 100_000, "ml", above=True)


def depth_table(value: object) -> tuple[tuple[float, float], ...]:
    """Points of depth [mm] and volume [ml], rising from an empty bowl.

    >>> depth_table([[40, 900], [80, 2400]])
    ((40.0, 900.0), (80.0, 2400.0))
    """
    allowed = "a list of [depth in mm, ml] from shallow to full, as in [[40, 900], [80, 2400]]"
    if not isinstance(value, list) or len(value) < 2:
        found = "a list of one" if isinstance(value, list) and value else shown(value)
        raise ValueError(f"found {found}, allowed is {allowed}")
    points = [(0.0, 0.0)]
    for place, point in enumerate(value, start=1):
        if not isinstance(point, list) or len(point) != 2:
            raise ValueError(f"point {place} is no [depth in mm, ml], allowed is {allowed}")
        try:
            depth_mm, ml = _DEPTH(point[0]), _VOLUME(point[1])
        except ValueError as error:
            raise ValueError(f"point {place}: {error}") from None
        if depth_mm <= points[-1][0] or ml <= points[-1][1]:
            raise ValueError(
                f"point {place} does not rise over the one before it; each must be deeper and "
                "hold more"
            )
        points.append((depth_mm, ml))
    return tuple(points[1:])


def instant(value: object) -> datetime.datetime:
    """A date and time that says its offset."""
    if isinstance(value, datetime.datetime) and value.tzinfo is not None:
        return value
    raise ValueError(
        f"found {shown(value)}, allowed is a time as in 2026-02-14T18:30:00Z, "
        "without quotation marks"
    )


class Broker(NamedTuple):
    """Where an MQTT broker listens."""

    host: str
    port: int
    tls: bool


def broker_address(value: object) -> Broker:
    """A broker as `host`, `host:1883`, `mqtt://host:1883` or `mqtts://host:8883`.

    >>> broker_address("mqtts://barn.example")
    Broker(host='barn.example', port=8883, tls=True)
    """
    allowed = '"host", "host:1883" or, encrypted, "mqtts://host:8883"'
    address = text()(value)
    if "@" in address:
        # What stands before the @ may be a password: it is not shown.
        raise ValueError(
            f"a user and password do not belong in the broker's address, allowed is {allowed}; "
            "give user and password_file"
        )
    match = _BROKER.fullmatch(address)
    if match:
        tls = match["scheme"] == "mqtts://"
        port = int(match["port"] or (8883 if tls else 1883))
        if 1 <= port <= 65_535:
            return Broker(match["host"] or match["ipv6"], port, tls)
    raise ValueError(f"found {shown(value)}, allowed is {allowed}")


def web_address(value: object) -> str:
    """An address on the web; it may hold a secret, so no fault shows it.

    >>> web_address("https://barn.example/alarms")
    'https://barn.example/alarms'
    """
    allowed = 'allowed is an address as in "https://barn.example/alarms"'
    if not isinstance(value, str) or len(value) > 2000:
        raise ValueError(f"this is no address of up to 2000 characters, {allowed}")
    try:
        parts = urlsplit(value)
        found = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError:
        found = False
    if not found or not (value.isascii() and value.isprintable()) or " " in value:
        raise ValueError(f"this is no address on the web, {allowed}")
    if parts.username is not None or parts.fragment:
        raise ValueError(
            f"a user, a password or a # does not belong in the address, {allowed}; "
            "give an Authorization header in a headers_file"
        )
    return value


def ip_address(value: object) -> str:
    """An address of this machine in figures, as in `0.0.0.0` for every one that it has.

    >>> ip_address("kitchen.local")
    Traceback (most recent call last):
    ValueError: found "kitchen.local", allowed is an address in figures, as in "0.0.0.0"
    """
    address = text()(value)
    try:
        return str(ipaddress.ip_address(address))
    except ValueError:
        raise ValueError(
            f'found {shown(address)}, allowed is an address in figures, as in "0.0.0.0"'
        ) from None


def host_name(value: object) -> str:
    """A name of this machine, as it stands in an address.

    >>> host_name("Kitchen.local")
    'kitchen.local'
    """
    name = text(most=253)(value).lower()
    if not re.fullmatch(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?", name):
        raise ValueError(
            f'found {shown(name)}, allowed is a name without port and path, as in "kitchen.local"'
        )
    return name


def mail_address(value: object) -> str:
    """The address of one mailbox.

    >>> mail_address("ada@barn.example")
    'ada@barn.example'
    """
    address = text()(value)
    if not _MAIL.fullmatch(address):
        raise ValueError(f'found {shown(value)}, allowed is one address as in "ada@barn.example"')
    return address
