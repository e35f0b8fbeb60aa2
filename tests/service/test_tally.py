"""What sources have seen, in words."""

from __future__ import annotations

from rigmon.service.tally import bad_lines, heard, total
from rigmon.sources import SourceCounts


def test_the_counts_of_all_sources_are_told_as_one() -> None:
    """What is not zero is named, in the number that it has."""
    counts = total(
        [
            SourceCounts(lines=10, readings=19, bad_lines=1, last_bad=("a: x",)),
            SourceCounts(lines=1, readings=2, bad_checksums=2, duplicates=1, last_bad=("b: y",)),
            SourceCounts(unknown=3, reconnects=1),
        ]
    )
    assert heard(counts) == (
        "Heard 11 lines with 21 readings; 1 bad line, 2 bad checksums, 1 duplicate, "
        "3 records unknown or too old, 1 reconnect."
    )
    assert bad_lines(counts) == ["The last bad lines:", "  a: x", "  b: y"]
    assert heard(total([])) == "Heard nothing."
    assert bad_lines(total([])) == []


def test_a_bad_line_cannot_take_over_the_terminal() -> None:
    """What a board sends is shown, not obeyed."""
    counts = SourceCounts(last_bad=("not JSON: \x1b[2J\x07 5 °C",))
    assert bad_lines(counts)[1] == "  not JSON: \\x1b[2J\\x07 5 °C"
