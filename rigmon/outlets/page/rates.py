"""How often a client may do something: so many at once, and so many a second after that."""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict
from collections.abc import Callable

MOST_CLIENTS = 1024
"""Clients that are kept count of; the one that was quiet for longest is forgotten beyond that."""


class Rate:
    """A bucket of tokens for each client.

    Args:
        at_once: so many at once.
        a_second: so many more a second.
        clock: seconds that only go forward [s].

    >>> rate = Rate(2, 1.0, clock=iter([0.0, 0.0, 0.0, 1.0]).__next__)
    >>> [rate.allows("192.0.2.7") for _ in range(4)]
    [True, True, False, True]
    """

    def __init__(
        self, at_once: int, a_second: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._at_once = float(at_once)
        self._a_second = a_second
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, client: str, *, take: bool = True) -> bool:
        """Whether a client may do it once more; counted, unless it is only asked for."""
        now = self._clock()
        who = neighbourhood(client)
        left, since = self._left.pop(who, (self._at_once, now))
        left = min(left + (now - since) * self._a_second, self._at_once)
        allowed = left >= 1.0
        self._left[who] = (left - 1.0 if allowed and take else left), now
        if len(self._left) > MOST_CLIENTS:
            self._left.popitem(last=False)
        return allowed


def neighbourhood(client: str) -> str:
    """Who counts as one client: an IPv4 address, or all of an IPv6 network.

    >>> neighbourhood("192.0.2.7"), neighbourhood("2001:db8::1:2"), neighbourhood("somebody")
    ('192.0.2.7', '2001:db8::/64', 'somebody')
    """
    try:
        address = ipaddress.ip_address(client.partition("%")[0])
    except ValueError:
        return client
    if address.version == 4:
        return client
    return str(ipaddress.ip_network((address, 64), strict=False))
