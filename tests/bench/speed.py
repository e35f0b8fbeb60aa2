"""How long the estimator takes for what it does every five seconds, inside the monitor."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

from batches import Feed, Played
from rigmon.estimate.cloud import Cloud
from rigmon.records import Forecast
from rigmon.run.monitor import Monitor


@dataclass(slots=True)
class Spent:
    """Time spent somewhere [s]."""

    s: float = 0.0


@contextmanager
def timed(spent: Spent, kind: type, *names: str) -> Iterator[None]:
    """Time the methods of a class that have these names."""

    def around(method: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any) -> Any:
            begun = time.perf_counter()
            try:
                return method(*arguments)
            finally:
                spent.s += time.perf_counter() - begun

        return call

    patches = [patch.object(kind, name, around(getattr(kind, name))) for name in names]
    for one in patches:
        one.start()
    try:
        yield
    finally:
        for one in patches:
            one.stop()


def times_ms(batch: Played, feed: Feed) -> tuple[Sequence[float], Sequence[float]]:
    """Of each 5 s from freezing to the plateau: its readings taken in, and all that is said [ms].

    What is said is the full set of forecasts, the five states between, and the alarms.
    """
    monitor = Monitor(feed.setup, feed.recipe, feed.prior)
    cloud = Spent()
    blocks, words = [], []
    read_s = said_s = 0.0
    begun_at = float((batch.frozen_pct > 0.0).argmax())
    with timed(cloud, Cloud, "carry", "see", "see_wall", "see_power"):
        for item in feed.items:
            if batch.plateau_s is not None and item.t > batch.plateau_s:
                break
            begun = time.perf_counter()
            said = monitor.feed(item)
            taken = time.perf_counter() - begun
            if said:
                said_s += taken
            else:
                read_s += taken
            if not any(isinstance(one, Forecast) for one in said):
                continue
            if item.t > begun_at:
                blocks.append(1000.0 * (read_s + cloud.s))
                words.append(1000.0 * (said_s - cloud.s))
            read_s = said_s = cloud.s = 0.0
    return blocks, words
