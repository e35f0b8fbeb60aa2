"""How the commands below `rigmon runs` tell: tables, numbers of runs, lists of them."""

from __future__ import annotations

from collections.abc import Sequence

import click


def told(table: Sequence[Sequence[str]]) -> None:
    """Print a table, its columns lined up."""
    widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
    for line in table:
        click.echo("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip())


def runs(number: int) -> str:
    """A number of runs in words.

    >>> runs(1), runs(3)
    ('1 run', '3 runs')
    """
    return f"{number} run{'' if number == 1 else 's'}"


def several(names: Sequence[str], most: int = 5) -> str:
    """The first of some names, and how many more there are.

    >>> several(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
