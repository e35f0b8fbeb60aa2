"""Tables are read as the spreadsheets of many countries write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.store.table import number, quoted, rows


def cells(text: str) -> list[tuple[str, ...]]:
    """The cells of a table that has no faults."""
    found = list(rows(text))
    assert [row.fault for row in found] == [""] * len(found)
    return [row.cells for row in found]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_separators_and_line_ends_are_found_out(separator: str, end: str) -> None:
    """Comma, semicolon and tab separate; all three line ends of history end a line."""
    text = end.join(["# a, b; c", separator.join("ab"), "", separator.join(" 1")])
    assert cells(text) == [("a", "b"), ("", "1")]


def test_a_comment_needs_no_partner_for_its_quotation_marks() -> None:
    """A comment is passed over before anything in it is looked at."""
    assert cells('a,b\n#,"never closed\n1,2\n') == [("a", "b"), ("1", "2")]


def test_a_quoted_cell_may_hold_lines_that_look_like_comments() -> None:
    """A line inside a quoted cell belongs to the cell, whatever it begins with."""
    assert cells('a,b\n1,"two\n# and ""three"""\n4,5\n') == [
        ("a", "b"),
        ("1", 'two\n# and "three"'),
        ("4", "5"),
    ]


def test_what_stands_in_quotation_marks_does_not_decide_on_the_separator() -> None:
    """A heading may hold a semicolon, a tab or a line end."""
    assert cells('"a;b","c\td\r;e"\n1,2\n') == [("a;b", "c\td\r;e"), ("1", "2")]


def test_a_lost_quotation_mark_costs_one_row() -> None:
    """The rows behind one whose quotation mark is never closed are read all the same."""
    found = list(rows('a,b\n1,"x\n2,3\n4,5\n'))
    assert [row.line for row in found if row.fault] == [2]
    assert [row.cells for row in found if not row.fault] == [("a", "b"), ("2", "3"), ("4", "5")]


@pytest.mark.parametrize(
    ("text", "comma", "value"),
    [
        ("-14.5", False, -14.5),
        ("-14,5", True, -14.5),
        ("-14.5", True, -14.5),
        ("−14,5", True, -14.5),
        ("1e-3", False, 0.001),
    ],
)
def test_numbers_are_read_as_people_write_them(text: str, comma: bool, value: float) -> None:
    """A decimal comma counts where the separator leaves it free; a printed minus is a minus."""
    assert number(text, comma=comma) == value


@pytest.mark.parametrize("text", ["", "-14,5", "1_0", "inf", "nan", "1 2", "0x10", "1,2,3"])
def test_what_is_no_finite_number_is_refused(text: str) -> None:
    """Nothing is guessed from half a number."""
    with pytest.raises(ValueError, match="a number is needed"):
        number(text)


@given(st.lists(st.text(), min_size=2, max_size=5))
def test_any_text_written_as_a_cell_is_read_back(texts: list[str]) -> None:
    """Quoting is undone by reading, but for blanks around a cell."""
    line = ",".join(quoted(text) for text in ["a", *texts])
    assert cells(line + "\n") == [("a", *(text.strip() for text in texts))]
