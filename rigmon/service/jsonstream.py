"""Where JSON lines go: a file, or standard output."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from rigmon.errors import UsageError


@contextmanager
def json_stream(name: str | None) -> Iterator[TextIO | None]:
    """The stream that a maker means by a file's name, or by `-`; None for None.

    Raises:
        UsageError: the file cannot be written.
    """
    if name is None:
        yield None
        return
    if name == "-":
        if isinstance(sys.stdout, io.TextIOWrapper):
            sys.stdout.reconfigure(encoding="utf-8")
        yield sys.stdout
        return
    try:
        stream = Path(name).open("w", encoding="utf-8")  # noqa: SIM115 - closed below
    except OSError as why:
        raise UsageError(
            f"{name} cannot be written ({why.strerror}): name another file, or - for the terminal."
        ) from None
    try:
        yield stream
    finally:
        # A full disk has been told of by then.
        with suppress(OSError):
            stream.close()
