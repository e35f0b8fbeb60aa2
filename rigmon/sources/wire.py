"""One line of a board, in any of the three forms, as readings."""

from __future__ import annotations

import functools
import operator
import re
from collections.abc import Sequence

from rigmon.records import ChecksumRule, Fault, LineForm, Reading
from rigmon.sources.columns import ColumnsForm, number
from rigmon.sources.decoded import BadChecksum, BadLine, Decoded
from rigmon.sources.frames import FramesForm
from rigmon.sources.senml import SenmlForm

MAX_LINE_BYTES = 1024

_CHECKSUM = re.compile(rb"\*([0-9A-Fa-f]{2})\Z")


def checksum(body: bytes) -> int:
    """The XOR of all bytes, as NMEA 0183 sentences carry it.

    >>> f"*{checksum(b'812,-14.25,3.50'):02X}"
    '*22'
    """
    return functools.reduce(operator.xor, body, 0)


class Decoder:
    """Decodes the lines of one board.

    Args:
        form: form of the lines.
        columns: names of the numbers, for `columns` and `frames`.
        rule: whether every line must carry a checksum.
        max_bytes: longest line that is read.
    """

    def __init__(
        self,
        form: LineForm = LineForm.SENML,
        columns: Sequence[str] = (),
        rule: ChecksumRule = ChecksumRule.OPTIONAL,
        max_bytes: int = MAX_LINE_BYTES,
    ) -> None:
        self._required = rule is ChecksumRule.REQUIRED
        self._max_bytes = max_bytes
        self._form: SenmlForm | ColumnsForm | FramesForm
        if form is LineForm.SENML:
            self._form = SenmlForm()
        elif form is LineForm.COLUMNS:
            self._form = ColumnsForm(columns)
        else:
            self._form = FramesForm(columns)

    def line(self, raw: bytes, now: float) -> Decoded:
        r"""The readings of a line, with or without its line end, that arrived at `now` [s, Unix].

        Raises:
            BadLine: it cannot be read.

        >>> line = b'[{"bn":"rig-a/","bu":"Cel","n":"bath","v":-14.25},{"n":"mix","v":3.5}]\r\n'
        >>> [(r.probe, r.value) for r in Decoder().line(line, now=1000.0).readings]
        [('bath', -14.25), ('mix', 3.5)]
        """
        body = raw.rstrip(b"\r\n ")
        if len(body) > self._max_bytes:
            raise BadLine(f"longer than {self._max_bytes} bytes")
        found = _CHECKSUM.search(body)
        if found:
            body = body[: found.start()]
            if checksum(body) != int(found[1], 16):
                raise BadChecksum("the checksum is wrong")
        elif self._required:
            raise BadChecksum("the checksum is missing")
        try:
            text = body.decode()
        except UnicodeDecodeError:
            raise BadLine("not UTF-8 text") from None
        return self._form.decode(text, now)


def decode_plain(raw: bytes, probe: str, now: float) -> Decoded:
    """The reading of a message that is one number [°C] and nothing else, or a fault's word.

    Raises:
        BadLine: it is neither.

    >>> decode_plain(b"-14.25", "bath", 1000.0).readings[0].value
    -14.25
    """
    try:
        text = raw.decode().strip()
    except UnicodeDecodeError:
        raise BadLine("not UTF-8 text") from None
    if text in set(Fault):
        return Decoded((Reading(now, probe, None, fault=Fault(text)),))
    value = number(text)
    return Decoded() if value is None else Decoded((Reading(now, probe, value),))
