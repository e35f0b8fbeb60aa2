"""Options that choose runs: by rig, day, tag, words, real or virtual."""

from __future__ import annotations

import datetime
import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

if TYPE_CHECKING:
    from rigmon.store import RunLog, RunRow
    from rigmon.store.entries import Tasting

_DAY = click.DateTime(formats=["%Y-%m-%d"])
Asked = TypeVar("Asked", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Which:
    """Which runs are meant; what is None does not choose.

    Args:
        rig: id of their rig.
        since: first day, where the maker is.
        until: last day.
        tags: tags that they all have.
        text: words in their id, recipe, tags or notes.
        virtual: True for virtual rigs, False for real ones.
    """

    rig: str | None
    since: datetime.datetime | None
    until: datetime.datetime | None
    tags: tuple[str, ...]
    text: str | None
    virtual: bool | None

    @property
    def narrows(self) -> bool:
        """Whether any run may be left out."""
        return self != Which(None, None, None, (), None, None)

    def of(self, log: RunLog, rows: Sequence[RunRow]) -> list[RunRow]:
        """Those of some runs that are meant."""
        tasted = () if self.text is None else log.tastings()
        return [row for row in rows if self._means(log, row, tasted)]

    def _means(self, log: RunLog, row: RunRow, tasted: Sequence[Tasting]) -> bool:
        from rigmon.store.upkeep import hits

        head = row.header
        day = datetime.datetime.fromtimestamp(head.started_unix, datetime.UTC).astimezone().date()
        return (
            self.rig in (None, head.rig)
            and (self.since is None or day >= self.since.date())
            and (self.until is None or day <= self.until.date())
            and set(self.tags) <= set(row.tags)
            and self.virtual in (None, head.virtual)
            and (self.text is None or bool(hits(log, row, self.text, tasted)))
        )


_OPTIONS = (
    click.option("--rig", "rig_id", metavar="ID", help="Only runs of this rig."),
    click.option("--since", type=_DAY, metavar="DAY", help="Only from this day on (2026-07-04)."),
    click.option("--until", type=_DAY, metavar="DAY", help="Only up to this day."),
    click.option("--tag", "tags", multiple=True, metavar="TAG", help="Only runs with this tag."),
    click.option("--text", metavar="WORDS", help="Only with these words in id, recipe, tag, note."),
    click.option("--virtual/--real", default=None, help="Only of virtual rigs, or of real ones."),
)


def which(asked: Asked) -> Asked:
    """Give a command the options that choose runs; it gets them as `chosen`."""

    @functools.wraps(asked)
    def with_choice(
        *words: Any,
        rig_id: str | None,
        since: datetime.datetime | None,
        until: datetime.datetime | None,
        tags: tuple[str, ...],
        text: str | None,
        virtual: bool | None,
        **others: Any,
    ) -> Any:
        chosen = Which(rig_id, since, until, tags, text, virtual)
        return asked(*words, chosen=chosen, **others)

    asked_with: Any = with_choice
    for option in reversed(_OPTIONS):
        asked_with = option(asked_with)
    return cast("Asked", asked_with)
