"""Whether the process that wrote a run is still there, so that a run broken off is told apart."""

from __future__ import annotations

from pathlib import Path

_PROC = Path("/proc")


def process_name(pid: int) -> str:
    """A name that no other process has had: the machine's start, the number, the start time.

    Args:
        pid: number of the process.

    Gives "" where there is no such process, or the system does not say.

    >>> process_name(0)
    ''
    """
    try:
        machine = (_PROC / "sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        status = (_PROC / str(pid) / "stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    # Fields 3 and 22 of proc(5); the name in field 2 may hold blanks and brackets itself.
    fields = status.rpartition(")")[2].split()
    ended = fields[0] in ("Z", "X")
    return "" if ended else f"{machine} {pid} {fields[19]}"


def is_alive(name: str) -> bool:
    """Whether the process of that name is running."""
    parts = name.split()
    return len(parts) == 3 and process_name(int(parts[1])) == name
