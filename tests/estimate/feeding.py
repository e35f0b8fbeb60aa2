"""Feeding an estimator, and finding what it says of one event."""

from __future__ import annotations

from collections.abc import Iterable

from rigmon.estimate.estimator import Estimator
from rigmon.records import Event, Forecast, Mark, Reading


def fed(estimator: Estimator, items: Iterable[Reading | Mark]) -> Estimator:
    """The same estimator with items fed."""
    for item in items:
        estimator.feed(item)
    return estimator


def of_event(forecasts: Iterable[Forecast], event: Event) -> Forecast | None:
    """The forecast of one event."""
    return next((f for f in forecasts if f.event is event), None)
