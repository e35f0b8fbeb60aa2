"""What systemd is told, and that a manager who does not listen is no trouble."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from rigmon.service.systemd import notify


@pytest.mark.parametrize("abstract", [False, True])
def test_a_state_arrives(
    private_doors: Path, monkeypatch: pytest.MonkeyPatch, abstract: bool
) -> None:
    """At a path, or at an abstract address, which systemd writes with an @."""
    name = f"rigmon-test-{os.getpid()}" if abstract else str(private_doors / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(f"\0{name}" if abstract else name)
        manager.settimeout(5.0)
        monkeypatch.setenv("NOTIFY_SOCKET", f"@{name}" if abstract else name)
        notify("READY=1")
        assert manager.recv(100) == b"READY=1"


def test_a_manager_that_is_not_there_is_no_trouble(
    private_doors: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not started by systemd, gone, or somebody's file."""
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    notify("READY=1")
    (private_doors / "file").write_text("")
    for address in (private_doors / "gone", private_doors / "file", "/" + "x" * 200):
        monkeypatch.setenv("NOTIFY_SOCKET", str(address))
        notify("READY=1")


def test_a_manager_that_does_not_read_holds_up_nobody(
    private_doors: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its queue is full, and the watching goes on."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(private_doors / "notify"))
        monkeypatch.setenv("NOTIFY_SOCKET", str(private_doors / "notify"))
        for _ in range(2000):
            notify("WATCHDOG=1")
