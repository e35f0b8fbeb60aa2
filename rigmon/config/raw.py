"""The file's own tables, read warily: a value of the wrong kind counts as not there.

Its model has its own fault for such a value.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Raw = Mapping[str, Any]


def table_of(raw: Raw, key: str) -> Raw:
    """The table under a key; an empty one if there is none."""
    value = raw.get(key)
    return value if isinstance(value, dict) else {}


def tables_of(raw: Raw, key: str) -> Iterator[tuple[int, Raw]]:
    """The tables of an array, each with its index."""
    value = raw.get(key)
    for index, item in enumerate(value if isinstance(value, list) else []):
        if isinstance(item, dict):
            yield index, item


def text_of(raw: Raw, key: str) -> str | None:
    """The text under a key."""
    value = raw.get(key)
    return value if isinstance(value, str) else None
