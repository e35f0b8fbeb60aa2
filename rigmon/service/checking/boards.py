"""A board on a serial port: found, allowed, heard, answering, and understood."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace

from rigmon.errors import DeviceError
from rigmon.records import ChecksumRule, LineForm, Reading, SerialLink
from rigmon.service.checking.finding import Finding, look, ok, wrong
from rigmon.sources import BadLine, Decoder, Port, check_port, list_ports
from rigmon.sources.guess import Guess, guess
from rigmon.sources.overhear import Overheard, overhear_port

SPEEDS = (115_200, 9_600, 57_600, 38_400, 19_200, 230_400)
"""Speeds that boards have, the usual one first [bit/s]."""

SHORT_S = 3.0
"""A speed that is only tried is listened to for so long [s]."""

ENOUGH_LINES = 3


@dataclass(frozen=True, slots=True)
class Heard:
    """What came from a board.

    Args:
        link: the port, and the speed and form at which it is understood.
        guess: what the lines look like.
        overheard: the lines.
        readings: what they say, each with the time at which its line came [s, Unix].
        bad: the first lines that could not be read, and why.
        bad_lines: how many.
    """

    link: SerialLink
    guess: Guess
    overheard: Overheard
    readings: tuple[tuple[float, Reading], ...] = ()
    bad: tuple[str, ...] = ()
    bad_lines: int = 0


def ports() -> Iterator[Finding]:
    """The ports that there are, and whether this user may open each."""
    found = list_ports()
    if not found:
        yield look("ports", "There is no serial port on this machine: plug the board in.")
    for port in found:
        what = f"{port.device}{f', {port.text}' if port.text else ''}"
        if os.access(port.device, os.R_OK | os.W_OK):
            yield ok("port", f"{what}: this user may open it.")
        else:
            yield wrong(
                "port",
                f"{what}: this user may not open it. It belongs to the group {port.group}: "
                f"`sudo usermod -aG {port.group} $USER`, then log in again.",
            )


def listen(link: SerialLink, for_s: float, *, fixed: bool) -> Heard:
    """Listen to a board.

    Args:
        link: its port.
        for_s: how long [s].
        fixed: whether speed and form are configured; else they are guessed.

    Raises:
        DeviceError: the port cannot be opened.
    """
    if fixed:
        heard = overhear_port(link, for_s)
        return _understood(link, heard, _guess(heard))
    best: Heard | None = None
    for speed in SPEEDS:
        trying = replace(link, baud=speed)
        # On what is no real wire every speed sounds the same, so the first is listened out.
        heard = overhear_port(trying, for_s if best is None else SHORT_S)
        found = _guess(heard)
        this = _as_guessed(trying, heard, found)
        if found.form is not None:
            if best is not None and for_s > SHORT_S:
                heard = overhear_port(trying, for_s)
                this = _as_guessed(trying, heard, _guess(heard))
            return this
        best = best or this
        if not heard.lines and not heard.loose_bytes:
            # A board that says nothing says nothing at any speed.
            break
        if found.legible >= 0.9 and len(heard.lines) >= ENOUGH_LINES:
            break
    assert best is not None  # noqa: S101 - there is a first speed
    return best


def _guess(heard: Overheard) -> Guess:
    return guess(heard.lines, heard.answers)


def _as_guessed(link: SerialLink, heard: Overheard, found: Guess) -> Heard:
    if found.form is None:
        return Heard(link, found, heard)
    columns = found.columns if found.form is not LineForm.SENML else ()
    link = replace(link, format=found.form, columns=columns, checksum=found.checksum)
    return _understood(link, heard, found)


def _understood(link: SerialLink, heard: Overheard, found: Guess) -> Heard:
    decoder = Decoder(link.format, link.columns, link.checksum)
    readings: list[tuple[float, Reading]] = []
    bad: list[str] = []
    lines = heard.lines[1:] if len(heard.lines) > 2 else heard.lines
    bad_lines = 0
    for t, line in lines:
        try:
            decoded = decoder.line(line, t)
        except BadLine as why:
            bad_lines += 1
            if len(bad) < 3:
                bad.append(f"{why}: {line[:80].decode(errors='backslashreplace')}")
        else:
            readings += [(t, reading) for reading in decoded.readings]
    return Heard(link, found, heard, tuple(readings), tuple(bad), bad_lines)


def of_port(link: SerialLink) -> Finding:
    """Whether a configured port can be opened, and what to do if not."""
    try:
        check_port(link)
    except DeviceError as why:
        return wrong("port", str(why).replace("\n", " "))
    return ok("port", f"{link.port} can be opened.")


def of_board(heard: Heard) -> Iterator[Finding]:
    """Whether the board answers, and is understood."""
    over = heard.overheard
    if over.answers:
        names = [one for one in over.answers if not one.startswith(b"#")] or list(over.answers)
        said = names[0].decode(errors="backslashreplace")[:80]
        yield ok("board", f"It answers: {said}")
    elif over.lines or over.loose_bytes:
        yield look(
            "board",
            "It does not answer `ping`: what it is and which firmware it runs is not known, and a "
            "buzzer may not hear `cue`.",
        )
    if not over.lines and not over.loose_bytes:
        yield wrong(
            "board",
            f"Nothing comes from {heard.link.port}: look at its power and cable, and whether "
            "another port is meant. A board held in reset by DTR needs dtr = false.",
        )
        return
    yield from _of_form(heard)


def _of_form(heard: Heard) -> Iterator[Finding]:
    found, link = heard.guess, heard.link
    if found.form is None and not heard.readings:
        if found.legible < 0.9:
            yield wrong(
                "form",
                f"What comes at {link.baud} baud is no text: the speed is another. Set baud to the "
                "board's own.",
            )
        else:
            line = heard.overheard.lines[-1][1] if heard.overheard.lines else b""
            shown = line[:80].decode(errors="backslashreplace")
            yield wrong(
                "form",
                f"The lines are neither senml nor columns nor frames; the last was {shown!r}. See "
                "firmware_notes for what a board must write.",
            )
        return
    if found.form is not None and found.form is not link.format:
        yield wrong(
            "form",
            f"The lines are {found.form.value}, configured is {link.format.value}: write format = "
            f'"{found.form.value}".',
        )
        return
    total = len(heard.overheard.lines)
    share = heard.bad_lines / max(total - 1, 1)
    text = f"{link.format.value} at {link.baud} baud, {total} lines"
    if heard.bad_lines and share > 0.02:
        yield (wrong if share > 0.3 else look)(
            "form",
            f"{text}, {heard.bad_lines} of them unreadable ({heard.bad[0]}): look at cable and "
            "ground, and at other programs that write to the port.",
        )
    else:
        yield ok("form", f"{text}.")
    yield from _of_checksum(heard)


def _of_checksum(heard: Heard) -> Iterator[Finding]:
    found, link = heard.guess, heard.link
    if found.wrong_checksums:
        yield look(
            "checksum",
            f"{found.wrong_checksums} lines came with a wrong one: look at cable and ground.",
        )
    elif found.checksum is ChecksumRule.REQUIRED and link.checksum is ChecksumRule.OPTIONAL:
        yield look("checksum", 'Every line carries one: write checksum = "required".')
    elif found.checksum is ChecksumRule.REQUIRED:
        yield ok("checksum", "Every line carries a right one.")
    else:
        yield look(
            "checksum",
            "The lines carry none, so a bit lost beside a motor may change a figure unseen; the "
            "board may end each with *HH.",
        )


def port_of(found: tuple[Port, ...]) -> str | None:
    """The one port that a board is likely on; None where there is none or more than one."""
    likely = [one for one in found if one.likely]
    return likely[0].device if len(likely) == 1 else None
