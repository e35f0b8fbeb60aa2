"""One log with a watched run and one that nobody watched, for all tests that only read."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from rigmon.review import story
from rigmon.review.measures import Measures
from rigmon.review.story import Story
from rigmon.store import RunLog
from tests.review.logs import put, recorded, slip, watched


@pytest.fixture(scope="session")
def log(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunLog]:
    """A log with two runs of one rig; the first was recharged, and is the older one."""
    with RunLog(tmp_path_factory.mktemp("review") / "runs.sqlite") as opened:
        watched(opened, "slip-custard-6to1-recharge", "barley-custard")
        rig = slip("sorrel-cream")
        put(opened, recorded("slip-cream-3.3to1-noisy", rig.setup), rig.setup, rig.recipe)
        yield opened


@pytest.fixture(scope="session")
def recharged(log: RunLog) -> Story:
    """The story of the run that was watched."""
    return story.of(log, next(row.header.id for row in log.runs() if row.header.virtual))


@pytest.fixture(scope="session")
def unwatched(log: RunLog) -> Story:
    """The story of the run that nobody watched."""
    return story.of(log, next(row.header.id for row in log.runs() if not row.header.virtual))


@pytest.fixture(scope="session")
def both(recharged: Story, unwatched: Story) -> tuple[Measures, Measures]:
    """The measures of both."""
    return recharged.measures, unwatched.measures
