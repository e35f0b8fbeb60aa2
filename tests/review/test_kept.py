"""Measures are got once, kept, and got again when something has changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigmon.review import kept
from rigmon.review.kept import Unmeasured, measures, tastings
from rigmon.review.measures import Measures
from rigmon.review.measuring import measure
from rigmon.store import RunLog
from rigmon.store.afterwards import taste
from rigmon.store.archive import Archive
from rigmon.store.entries import Tasting
from tests.review.logs import put, recorded, slip


@pytest.fixture
def short(tmp_path: Path) -> RunLog:
    """A log with five minutes of a run."""
    rig = slip("barley-custard")
    log = RunLog(tmp_path / "a.sqlite")
    put(log, recorded("slip-custard-4to1", rig.setup)[:500], rig.setup, rig.recipe)
    return log


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The runs that were measured, in order."""
    found: list[str] = []

    def counted(log: Archive, run_id: str) -> Measures:
        found.append(run_id)
        return measure(log, run_id)

    monkeypatch.setattr(kept, "measure", counted)
    return found


def test_a_run_is_measured_once(short: RunLog, asked: list[str]) -> None:
    """The second time the measures come out of the log, the same."""
    with short as log:
        first = measures(log, log.runs())
        again = measures(log, log.runs())
    assert asked == [row.run for row in first]
    assert first == again


def test_another_version_measures_anew(
    short: RunLog, asked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another version of the measures, the model or the program got is not trusted."""
    with short as log:
        measures(log, log.runs())
        monkeypatch.setattr(kept, "MADE_BY", "another")
        measures(log, log.runs())
        measures(log, log.runs())
    assert len(asked) == 2


def test_a_run_that_grew_is_measured_anew(tmp_path: Path, asked: list[str]) -> None:
    """A run that was broken off and gone on with is another one."""
    rig = slip("barley-custard")
    items = recorded("slip-custard-4to1", rig.setup)
    with RunLog(tmp_path / "a.sqlite") as log:
        run_id = put(log, items[:300], rig.setup, rig.recipe)
        measures(log, log.runs())
        log.add(run_id, items[300], items[299].t)
        log.commit()
        measures(log, log.runs())
    assert len(asked) == 2


def test_a_run_that_goes_on_is_not_kept(tmp_path: Path, asked: list[str]) -> None:
    """It is measured each time, since there will be more of it."""
    rig = slip("barley-custard")
    items = recorded("slip-custard-4to1", rig.setup)
    with RunLog(tmp_path / "a.sqlite") as log:
        put(log, items[:300], rig.setup, rig.recipe, ended=False)
        measures(log, log.runs())
        measures(log, log.runs())
    assert len(asked) == 2


def test_a_run_that_cannot_be_read_is_told_and_the_others_stand(
    short: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a newer program wrote costs its own run alone, in a sentence."""
    with short as log:
        log._db.execute("UPDATE run SET document = 'rigs = 3'")
        (found,) = measures(log, log.runs())
    assert isinstance(found, Unmeasured)
    assert found.why.endswith(".")


def test_many_are_shared_among_the_cores(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Measured by helpers the figures are the same as alone, in the order asked for."""
    rig = slip("barley-custard")
    items = recorded("slip-custard-4to1", rig.setup)
    with RunLog(tmp_path / "a.sqlite") as log:
        for day in range(3):
            put(log, items[: 100 + 20 * day], rig.setup, rig.recipe, day)
        rows = log.runs()
        alone = [kept._one(log, row.header.id) for row in rows]
        monkeypatch.setattr(kept, "_WORTH_A_HELPER", 1)
        monkeypatch.setattr("os.cpu_count", lambda: 2)
        told: list[tuple[int, int]] = []
        shared = measures(log, rows, lambda done, of: told.append((done, of)))
    assert shared == alone
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_the_last_score_and_the_last_note_stand(short: RunLog) -> None:
    """A note without a score leaves the score as it was, and neither touches what was fed."""
    with short as log:
        run_id = log.runs()[0].header.id
        before = list(log.items(run_id))
        taste(log, Tasting(run_id, 1.0, 2, "icy at the edge"))
        taste(log, Tasting(run_id, 2.0, 4, ""))
        taste(log, Tasting(run_id, 3.0, None, "better the day after"))
        found = tastings(log)[run_id]
        (measured,) = measures(log, log.runs())
        assert list(log.items(run_id)) == before
    assert (found.texture, found.note) == (4, "better the day after")
    assert isinstance(measured, Measures)
    assert measured.tasted == found
