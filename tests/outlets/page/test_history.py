"""The trend keeps a whole run in little memory, and who was away misses nothing."""

from __future__ import annotations

import time
from itertools import pairwise

import pytest

from rigmon.outlets.page.history import (
    COLUMNS,
    FIGURES,
    MOST_OLDER,
    OLDER_STEP_S,
    RECENT_S,
    Counter,
    History,
)


def row(at: float, **values: float) -> dict[str, float | None]:
    """A row with nothing but what is given."""
    return {**dict.fromkeys(COLUMNS), "at": at, **values}


@pytest.fixture(scope="module")
def day() -> History:
    """24 h at a row a second, the bath warming by a thousandth a second."""
    history = History(Counter())
    for t in range(86_400):
        history.add(row(float(t), bath=-20.0 + t / 10_000.0))
    return history


def test_a_day_is_kept_whole_but_thinned(day: History) -> None:
    """The newest four hours are there second by second, what is older one row in ten seconds."""
    times = [at for at in day.columns().as_dict()["at"] if at is not None]
    steps = [b - a for a, b in pairwise(times)]

    assert times[0] == 0.0
    assert times[-1] == 86_399.0
    assert set(steps) == {1.0, OLDER_STEP_S}
    recent = [at for at in times if at >= 86_399.0 - RECENT_S]
    assert len(recent) == RECENT_S + 1
    assert len(times) < 14_400 + 600 + 7_300


def test_every_column_is_as_long(day: History) -> None:
    """What was not measured is None there, and numbers have the decimals of a kitchen."""
    columns = day.columns().as_dict()

    assert {len(column) for column in columns.values()} == {len(day)}
    assert set(columns["mix"]) == {None}
    assert columns["bath"][-1] == round(-20.0 + 8.6399, FIGURES["bath"])


def test_rows_since_a_number_come_once_each_and_in_order(day: History) -> None:
    """A page that was away gets in pieces exactly what a page that stayed has."""
    seq, got = 0, list[float | None]()
    while True:
        seq, rows = day.since(seq, 500)
        if not rows:
            break
        assert len(rows) <= 500
        got += [one["at"] for one in rows]

    assert got == day.columns().as_dict()["at"]
    assert seq == day.newest_seq


def test_who_has_the_newest_gets_nothing(day: History) -> None:
    """Nothing is sent twice."""
    assert day.since(day.newest_seq, 500) == (day.newest_seq, [])


def test_a_week_is_the_most(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory is bounded however long nobody ends the run."""
    monkeypatch.setattr("rigmon.outlets.page.history.MOST_OLDER", 100)
    history = History(Counter())
    for t in range(0, 40_000, 5):
        history.add(row(float(t)))

    assert MOST_OLDER * OLDER_STEP_S == 7 * 86_400
    assert len(history) <= 100 + RECENT_S / 5 + 700


def test_numbers_grow_over_runs_and_restarts(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a restart a page's last number lies below all new ones, so it gets them all."""
    first = History(Counter())
    last = [first.add(row(float(t))) for t in range(50)][-1]
    first.clear()
    assert first.add(row(0.0)) > last
    now = time.time()
    monkeypatch.setattr("rigmon.outlets.page.history.time.time", lambda: now + 1.0)
    second = History(Counter())
    second.add(row(0.0))

    assert len(second.since(last, 500)[1]) == 1


def test_a_copy_is_not_touched_by_what_comes_later() -> None:
    """The server's thread reads while the daemon's thread adds."""
    history = History(Counter())
    history.add(row(1.0))
    copy = history.columns()
    history.add(row(2.0))

    assert copy.as_dict()["at"] == [1.0]
