"""Logs and run headers that the tests of the store share."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rigmon.store import RunHeader, RunLog

MakeHeader = Callable[..., RunHeader]


@pytest.fixture
def header() -> MakeHeader:
    """Headers of runs of one invented rig."""

    def make(
        name: str = "porch-20260704T140000Z", started_unix: float = 1_783_173_600.0
    ) -> RunHeader:
        return RunHeader(
            id=name,
            rig="porch",
            started_unix=started_unix,
            recipe="plain",
            document='id = "porch"\n',
            virtual=False,
            version="0.0.0",
        )

    return make


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """A new log."""
    with RunLog(tmp_path / "runs.sqlite") as opened:
        yield opened
