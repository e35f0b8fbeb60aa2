"""First contact with a serial port: what the maker is told when it cannot be opened."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from rigmon.errors import DeviceError
from rigmon.records import SerialLink
from rigmon.sources import check_link, check_port, list_ports_text
from rigmon.sources.serial_port import open_port


@pytest.fixture
def port() -> Iterator[str]:
    """A pseudo-terminal that nobody holds."""
    ends = os.openpty()
    yield os.ttyname(ends[1])
    for end in ends:
        os.close(end)


def refusal(link: SerialLink) -> str:
    """What the maker is told."""
    with pytest.raises(DeviceError) as caught:
        check_port(link)
    return str(caught.value)


def test_free_port_passes(port: str) -> None:
    """And is free again afterwards."""
    check_link(SerialLink(port))
    check_port(SerialLink(port))


def test_missing_port_lists_those_that_there_are() -> None:
    """So that the right one can be copied."""
    text = refusal(SerialLink("/dev/ttyNOSUCH"))
    assert text == f"There is no port /dev/ttyNOSUCH. {list_ports_text()}"


def test_listed_ports_stand_with_what_hangs_on_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """One a line; a machine without any is told so."""
    found = [("/dev/ttyUSB0", "USB Serial"), ("/dev/ttyACM0", "n/a")]
    infos = [type("Info", (), {"device": name, "description": text}) for name, text in found]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda **_options: infos)
    assert list_ports_text().splitlines()[1:] == ["  /dev/ttyACM0", "  /dev/ttyUSB0  USB Serial"]
    infos.clear()
    assert list_ports_text() == "There is no serial port on this machine; plug the board in."


def test_port_held_by_another_names_its_holder(port: str) -> None:
    """The process that holds it, by number and command."""
    holder = open_port(SerialLink(port))
    command = Path("/proc/self/comm").read_text().strip()
    text = refusal(SerialLink(port))
    holder.close()
    assert f"{port} is held by" in text
    assert f"{command} (process {os.getpid()})" in text


def test_forbidden_port_names_the_group_to_join(port: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The group that owns the device, and the command."""

    def forbidden(_link: SerialLink) -> serial.Serial:
        raise serial.SerialException(errno.EACCES, "could not open port: Permission denied")

    monkeypatch.setattr("rigmon.sources.serial_check.open_port", forbidden)
    group = Path(port).group()
    assert f"`sudo usermod -aG {group} $USER`" in refusal(SerialLink(port))


def test_thing_that_is_no_port_is_refused(tmp_path: Path) -> None:
    """A file or a folder, with the reason in words."""
    (tmp_path / "file").write_text("")
    assert "cannot be opened as a serial port" in refusal(SerialLink(str(tmp_path / "file")))
    assert "Is a directory" in refusal(SerialLink(str(tmp_path)))


def test_speed_that_cannot_be_is_refused(port: str) -> None:
    """A negative baud rate, say."""
    assert "cannot be set to -1 baud" in refusal(SerialLink(port, baud=-1))
