"""Holds our figures to published ones, and shows them side by side at the end of `pytest -rA`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from types import MappingProxyType
from typing import Protocol

import pytest

TITLE = "How we know"
SUBJECTS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("brine", "other", "freezing", "bath"), "Ice, salt and the bath"),
        **dict.fromkeys(("solutions", "mix", "heat"), "Mixes"),
        **dict.fromkeys(("rig", "still"), "The whole rig"),
        **dict.fromkeys(("thermocouple", "converter", "fixed"), "Probes"),
        "cooling": "Curve fits",
    }
)
"""In the order of the table: the word after `test_` in the name of a file, and its heading."""

_MOST_FIGURES = 6


class Held(Protocol):
    """Fails unless ours is within a tolerance of what is published; what was held is shown."""

    def __call__(
        self, what: str, ours: float, published: float, *, within: float, unit: str, source: str
    ) -> None:
        """Hold one point.

        Args:
            what: what is compared, over which range; all points under one name make one row.
            ours: our value [unit].
            published: the published value [unit].
            within: how far they may part [unit].
            unit: of all three; "" or "1" for a plain number.
            source: who published it, with table or edition; says so if it is from memory.

        Raises:
            ValueError: the check says nothing, as with a tolerance of 0.
        """


@dataclass(frozen=True, slots=True)
class Row:
    """All points of one check, shown at the one that parts the most for its tolerance."""

    word: str
    what: str
    points: int
    ours: float
    published: float
    within: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        """Refuse what cannot be a check, or cannot be a row."""
        if not (math.isfinite(self.published) and math.isfinite(self.within) and self.within > 0):
            raise ValueError(f"{self.what}: {self.published} within {self.within} is no check")
        texts = (self.what, self.unit, self.source)
        if not (self.what and self.source) or any("|" in t or "\n" in t for t in texts):
            raise ValueError(f"{texts}: name and source are needed, on one line, without |")

    @property
    def off(self) -> float:
        """Share of its tolerance that is used, too coarse for libraries' last digits to tell."""
        used = abs(self.ours - self.published) / self.within
        return round(used, 1) if math.isfinite(used) else math.inf

    def with_another(self, other: Row) -> Row:
        """The row once another point is held."""
        if other.unit != self.unit:
            raise ValueError(f"{self.what}: its points are in {self.unit} and in {other.unit}")
        worse = other if other.off > self.off else self
        return replace(worse, points=self.points + 1)

    def told(self) -> str:
        """The row as a line of a Markdown table."""
        unit = f" {self.unit}" if self.unit not in {"", "1"} else ""
        printed = f"{self.published:.{_MOST_FIGURES}g}"
        cells = (
            self.what,
            str(self.points),
            (printed if float(printed) == self.published else self._figures(self.published)) + unit,
            f"{self.within:.2g}" + unit,
            self._figures(self.ours) + unit,
            self.source,
        )
        return f"| {' | '.join(cells)} |".replace(" -", " −")

    def _figures(self, value: float) -> str:
        """A value as finely as a fifth of the tolerance asks, and to six figures at most."""
        decimals = math.ceil(round(-math.log10(self.within / 5.0), 6))
        if math.isfinite(value) and value != 0.0:
            decimals = min(decimals, _MOST_FIGURES - 1 - math.floor(math.log10(abs(value))))
        text = f"{value:.{max(0, decimals)}f}"
        return text.lstrip("-") if float(text) == 0.0 else text


ROWS = pytest.StashKey[dict[tuple[str, str], Row]]()


def pytest_configure(config: pytest.Config) -> None:
    """Begin with no rows."""
    config.stash[ROWS] = {}


def holding(rows: dict[tuple[str, str], Row], word: str) -> Held:
    """What holds a point and keeps it among the rows, also if it fails."""

    def hold(
        what: str, ours: float, published: float, *, within: float, unit: str, source: str
    ) -> None:
        point = Row(word, what, 1, float(ours), float(published), float(within), unit, source)
        before = rows.get((what, source))
        rows[what, source] = before.with_another(point) if before else point
        off = abs(point.ours - point.published)
        assert off <= within, (
            f"{what}: ours {ours:.9g} {unit}, published {published:.9g} {unit}, "
            f"off by {off:.3g}, {within:.3g} allowed ({source})"
        )

    return hold


@pytest.fixture(scope="module")
def held(request: pytest.FixtureRequest) -> Held:
    """Holds a figure of ours to a published one."""
    word = request.path.stem.split("_")[1]
    if word not in SUBJECTS:
        raise LookupError(f"{request.path.name}: {word} needs a heading, see SUBJECTS")
    return holding(request.config.stash[ROWS], word)


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Show what was held, as Markdown, where everything is asked for with `-rA`."""
    rows = config.stash[ROWS].values()
    if not rows or "A" not in config.getoption("reportchars"):
        return
    terminalreporter.section(TITLE)
    words = list(SUBJECTS)
    in_order = sorted(rows, key=lambda row: words.index(row.word))
    for subject, of_it in groupby(in_order, key=lambda row: SUBJECTS[row.word]):
        terminalreporter.write_line(f"\n### {subject}\n")
        terminalreporter.write_line("| what | points | published | tolerance | ours | source |")
        terminalreporter.write_line("| --- | ---: | ---: | ---: | ---: | --- |")
        for row in of_it:
            terminalreporter.write_line(row.told())
