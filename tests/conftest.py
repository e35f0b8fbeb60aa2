"""What holds for every test: a home of its own, no thread left behind, no deadline."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

LEAVE_WITHIN_S = 5.0
"""Threads that were told to stop are waited for this long [s]."""

# A busy machine is no fault of the program, so nothing is failed for being slow. The same examples
# each time, so that a change is judged by what it changes; others in the nightly run.
settings.register_profile(
    "rigmon",
    deadline=None,
    print_blob=True,
    derandomize=not os.environ.get("RIGMON_NIGHTLY"),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("rigmon")


@pytest.fixture(scope="session")
def private_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """An empty home directory for the whole session."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HOME", str(home))
        patch.setenv("XDG_CACHE_HOME", str(home / "cache"))
        patch.setenv("XDG_CONFIG_HOME", str(home / "config"))
        yield home


@pytest.fixture(scope="session")
def numbers() -> Iterator[int]:
    """A number for each test."""
    return count()


@pytest.fixture(autouse=True)
def private_places(private_home: Path, numbers: Iterator[int]) -> Iterator[None]:
    """No test sees the user's run log or running daemons, nor those of another test."""
    mine = private_home / str(next(numbers))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(mine / "data"))
        patch.setenv("XDG_RUNTIME_DIR", str(mine / "run"))
        for name in ("RIGMON_LOG", "NOTIFY_SOCKET"):
            patch.delenv(name, raising=False)
        yield


@pytest.fixture(autouse=True)
def no_thread_left_behind() -> Iterator[None]:
    """A test that ends while a thread which it started goes on has not stopped what it started."""
    before = set(threading.enumerate())
    yield
    patience = time.monotonic() + LEAVE_WITHIN_S
    for thread in set(threading.enumerate()) - before:
        thread.join(max(patience - time.monotonic(), 0.0))
        assert not thread.is_alive(), f"the thread {thread.name} is still running"
