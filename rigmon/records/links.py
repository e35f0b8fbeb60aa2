"""How readings arrive: the settings of a serial port, a broker, or the virtual rig."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class LineForm(StrEnum):
    """Form of the lines that a board writes."""

    SENML = "senml"
    COLUMNS = "columns"
    FRAMES = "frames"


class ChecksumRule(StrEnum):
    """Whether a line must end in a checksum; one that is there is always checked."""

    OPTIONAL = "optional"
    REQUIRED = "required"


@dataclass(frozen=True, slots=True)
class SerialLink:
    """A board on a serial port.

    Args:
        port: device path.
        baud: speed [bit/s].
        format: form of its lines.
        columns: names of the numbers in a line, for `columns` and `frames`; `ms` and `s` are the
            board's own time, `-` is passed over.
        checksum: whether every line must carry one.
        dtr: False keeps the DTR line low, so that opening the port does not reset the board.
    """

    port: str
    baud: int = 115_200
    format: LineForm = LineForm.SENML
    columns: tuple[str, ...] = ()
    checksum: ChecksumRule = ChecksumRule.OPTIONAL
    dtr: bool = True


@dataclass(frozen=True, slots=True)
class MqttLink:
    """A board behind an MQTT broker.

    Args:
        host: name or address of the broker.
        port: TCP port.
        prefix: what the reading topics begin with.
        user: user name, or "".
        password: password, or ""; never shown.
        tls: encrypt the connection.
        ca_file: certificates to trust, or "" for the system's.
        cert_file: the client's certificate, or "".
        key_file: its key, or "".
        keepalive_s: MQTT keep-alive [s].
    """

    host: str
    port: int = 1883
    prefix: str = "rigs"
    user: str = ""
    password: str = field(default="", repr=False)
    tls: bool = False
    ca_file: str = ""
    cert_file: str = ""
    key_file: str = ""
    keepalive_s: int = 20


@dataclass(frozen=True, slots=True)
class VirtualLink:
    """The virtual rig.

    Args:
        seed: seed of its random numbers.
    """

    seed: int = 1


@dataclass(frozen=True, slots=True)
class HandLink:
    """No board: readings are taken by a thermometer in the hand, and typed."""


Link = SerialLink | MqttLink | VirtualLink | HandLink
"""How one rig's readings arrive."""
