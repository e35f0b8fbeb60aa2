"""What sources have seen, in a sentence for the maker."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from rigmon.sources import SourceCounts

_WORDS = {
    "bad_lines": ("bad line", "bad lines"),
    "bad_checksums": ("bad checksum", "bad checksums"),
    "duplicates": ("duplicate", "duplicates"),
    "unknown": ("record unknown or too old", "records unknown or too old"),
    "reconnects": ("reconnect", "reconnects"),
}


def total(counts: Iterable[SourceCounts]) -> SourceCounts:
    """The counts of several sources as those of one."""
    all_counts = tuple(counts)
    numbers = {
        field.name: sum(getattr(one, field.name) for one in all_counts)
        for field in fields(SourceCounts)
        if field.name != "last_bad"
    }
    return SourceCounts(
        **numbers, last_bad=tuple(bad for one in all_counts for bad in one.last_bad)
    )


def heard(counts: SourceCounts) -> str:
    """What came in; of what went wrong only what did.

    >>> heard(SourceCounts(lines=12, readings=20, bad_lines=1, reconnects=2))
    'Heard 12 lines with 20 readings; 1 bad line, 2 reconnects.'
    >>> heard(SourceCounts())
    'Heard nothing.'
    """
    wrong = [
        f"{number} {words[number > 1]}"
        for name, words in _WORDS.items()
        if (number := getattr(counts, name))
    ]
    if not counts.lines and not wrong:
        return "Heard nothing."
    came = f"Heard {_number(counts.lines, 'line')} with {_number(counts.readings, 'reading')}"
    return f"{came}; {', '.join(wrong)}." if wrong else f"{came}."


def bad_lines(counts: SourceCounts) -> list[str]:
    """The last bad lines with what is wrong with each, safe to be shown."""
    if not counts.last_bad:
        return []
    shown = (
        "".join(c if c.isprintable() else ascii(c)[1:-1] for c in bad) for bad in counts.last_bad
    )
    return ["The last bad lines:", *(f"  {bad}" for bad in shown)]


def _number(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"
