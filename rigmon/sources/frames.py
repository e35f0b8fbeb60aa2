"""Raw words of a converter chip as readings: the board adds nothing, the host undoes the chip."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rigmon.records import Fault, Reading
from rigmon.sources.columns import Use, columns_of, number, split
from rigmon.sources.decoded import BadLine, Decoded

_WORD = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{8})")
_RESERVED = 1 << 17 | 1 << 3
_FAULT = 1 << 16
_FAULTS = {1: Fault.OPEN, 2: Fault.SHORT_GND, 4: Fault.SHORT_VCC}
_NOTHING_THERE = {0x0000_0000, 0xFFFF_FFFF}


def _signed(bits: int, width: int) -> int:
    return bits - (1 << width) if bits >> (width - 1) else bits


def decode_word(word: int) -> tuple[float | None, float, Fault | None]:
    """The probe's temperature [°C], the cold junction's [°C] and the fault in one 32-bit word.

    Layout of the MAX31855 data sheet, "Memory map": bits 31 to 18 the thermocouple's temperature,
    signed, 0.25 °C a count; bit 16 set on any fault; bits 15 to 4 the chip's own temperature,
    signed, 0.0625 °C a count; bits 2, 1 and 0 short to VCC, short to GND, open circuit; bits 17 and
    3 always 0. The temperature is the chip's straight line, not corrected here.

    Raises:
        BadLine: no chip sends this word.

    >>> decode_word(0xFFC41900)
    (-3.75, 25.0, None)
    """
    if word in _NOTHING_THERE:
        raise BadLine("a word of equal bits: is the chip connected?")
    if word & _RESERVED or bool(word & _FAULT) != bool(word & 7):
        raise BadLine("a word that the chip does not send: is the bus clean?")
    chip_c = _signed(word >> 4 & 0xFFF, 12) * 0.0625
    if word & _FAULT:
        return None, chip_c, next(fault for bit, fault in _FAULTS.items() if word & bit)
    return _signed(word >> 18, 14) * 0.25, chip_c, None


class FramesForm:
    """Decodes lines of words, one a channel."""

    def __init__(self, names: Sequence[str]) -> None:
        self._columns = columns_of(names)

    def decode(self, text: str, now: float) -> Decoded:
        """The readings of one line that arrived at `now` [s, Unix].

        A word that no chip sends costs its own channel only, unless no channel is left.

        Raises:
            BadLine: the line has other columns, or a field is no word.
        """
        board_s = None
        readings: list[Reading] = []
        faults: list[str] = []
        fields = split(text, self._columns)
        for column, field in zip(self._columns, fields, strict=True):
            if column.use is Use.CLOCK:
                count = number(field)
                board_s = None if count is None else count / column.per_s
        for column, field in zip(self._columns, fields, strict=True):
            if column.use is not Use.VALUE:
                continue
            word = _WORD.fullmatch(field.strip())
            if word is None:
                raise BadLine("a field is not a word of 8 hex digits")
            try:
                value, cj_c, fault = decode_word(int(word[1], 16))
            except BadLine as why:
                faults.append(f"{column.probe}: {why}")
                continue
            readings.append(
                Reading(now, column.probe, value, cj_c=cj_c, fault=fault, board_s=board_s)
            )
        if not readings:
            raise BadLine(faults[0])
        return Decoded(tuple(readings), tuple(faults))
