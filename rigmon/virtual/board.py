"""The board between the probes and the host: readings out as lines, short commands in."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from rigmon.probes.converter import straight_line_c
from rigmon.records import Fault, LineForm, Reading, Unit

FIRMWARE = "virtual 1.0"

_NO_CHIP = "00000000"
_FAULT_BITS = {Fault.OPEN: 1, Fault.SHORT_GND: 2, Fault.SHORT_VCC: 4}


def frame_word(value_c: float | None, board_c: float, fault: Fault | None = None) -> int:
    """The 32-bit word of a converter chip (MAX31855 data sheet, "Memory map").

    Args:
        value_c: what the chip's straight line gives [°C]; None with a fault.
        board_c: temperature of the chip [°C].
        fault: what is wrong with the circuit.

    >>> f"{frame_word(-3.75, 25.0):08X}", f"{frame_word(None, 25.0, Fault.OPEN):08X}"
    ('FFC41900', '00011901')
    """
    counts = 0 if value_c is None else round(value_c / 0.25) & 0x3FFF
    word = counts << 18 | (round(board_c / 0.0625) & 0xFFF) << 4
    return word if fault is None else word | 1 << 16 | _FAULT_BITS[fault]


def with_checksum(text: str) -> str:
    """A line with the XOR of its bytes behind it, as NMEA 0183 does.

    >>> with_checksum("1,2")
    '1,2*2F'
    """
    total = 0
    for byte in text.encode():
        total ^= byte
    return f"{text}*{total:02X}"


@dataclass(frozen=True, slots=True)
class BoardSetup:
    """How a board writes.

    Args:
        name: what it calls itself; also the base name of its SenML records.
        form: form of its lines.
        columns: names of the numbers in a line of `columns` or `frames`, `ms` among them.
        checksum: whether a checksum ends each line.
        batch: SenML only: readings of so many samples go into one line, each with its age.
        kind: thermocouple letter, for `frames`.
        board_c: temperature of the board [°C].
    """

    name: str = "rig-a"
    form: LineForm = LineForm.SENML
    columns: tuple[str, ...] = ()
    checksum: bool = False
    batch: int = 1
    kind: str = "T"
    board_c: float = 24.0


class Board:
    """A board: it samples, writes lines, and answers `ping`.

    Args:
        setup: how it writes.
    """

    def __init__(self, setup: BoardSetup) -> None:
        self.setup = setup
        self.cues: list[str] = []
        self._held: list[Sequence[Reading]] = []

    def banner(self) -> list[bytes]:
        """What the board writes when it starts."""
        return [self._hello()]

    def hear(self, line: bytes) -> list[bytes]:
        """Take a line from the host; returns what the board answers."""
        text = line.decode(errors="replace").strip()
        if text == "ping":
            return [self._hello()]
        if text.startswith("cue "):
            self.cues.append(text.removeprefix("cue "))
        return []

    def lines(self, t: float, readings: Sequence[Reading]) -> list[bytes]:
        """The lines that one sample makes; none while a batch fills up.

        Args:
            t: time since the board started [s].
            readings: one for each channel that has something to say.
        """
        if self.setup.form is LineForm.SENML:
            self._held.append(readings)
            if len(self._held) < self.setup.batch:
                return []
            text = self._senml(t)
            self._held = []
            if not text:
                return []
        elif self.setup.form is LineForm.COLUMNS:
            text = ",".join(self._column(name, t, readings) for name in self.setup.columns)
        else:
            text = ",".join(self._frame(name, t, readings) for name in self.setup.columns)
        if self.setup.checksum:
            text = with_checksum(text)
        return [f"{text}\n".encode()]

    def _hello(self) -> bytes:
        return f"rigmon-board {self.setup.name} {FIRMWARE}\n".encode()

    def _senml(self, t: float) -> str:
        records: list[dict[str, object]] = []
        for sample in self._held:
            for reading in sample:
                record: dict[str, object] = {"n": reading.probe}
                if self.setup.batch > 1 and reading.t < t:
                    record["t"] = round(reading.t - t, 3)
                if reading.unit is not Unit.CELSIUS:
                    record["u"] = reading.unit.value
                if reading.fault is not None:
                    record["vs"] = reading.fault.value
                else:
                    record["v"] = round(reading.value or 0.0, 4)
                records.append(record)
        if not records:
            return ""
        records[0] = {"bn": f"{self.setup.name}/", "bu": Unit.CELSIUS.value, **records[0]}
        return json.dumps(records, separators=(",", ":"))

    def _column(self, name: str, t: float, readings: Sequence[Reading]) -> str:
        if name == "ms":
            return str(round(1000.0 * t))
        value = next((r.value for r in readings if r.probe == name.removesuffix("_w")), None)
        return "nan" if value is None else f"{value:.4f}".rstrip("0").rstrip(".")

    def _frame(self, name: str, t: float, readings: Sequence[Reading]) -> str:
        if name == "ms":
            return str(round(1000.0 * t))
        reading = next((r for r in readings if r.probe == name), None)
        board_c = self.setup.board_c
        if reading is None:
            return _NO_CHIP
        chip_c = None
        if reading.value is not None:
            chip_c = straight_line_c(reading.value, board_c, self.setup.kind)
        return f"{frame_word(chip_c, board_c, reading.fault):08X}"
