"""Virtual batches as run files: `python -m rigmon.virtual.record FOLDER` writes the demo's."""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rigmon.records import Mark, Place, Reading, format_detail
from rigmon.virtual.catalogue import RECORDED
from rigmon.virtual.scenario import Channel, Scenario
from rigmon.virtual.session import VirtualSession

LONGEST_S = 40 * 3600.0


@dataclass(frozen=True, slots=True)
class Recording:
    """A batch played to its end.

    Args:
        items: readings and marks in order of time.
        session: the session after it, which knows the truth.
    """

    items: tuple[Reading | Mark, ...]
    session: VirtualSession


def record_run(scenario: Scenario, seed: int, to_s: float = LONGEST_S) -> Recording:
    """Play a batch without a wire and without anyone listening.

    Args:
        scenario: what is played.
        seed: all chance in it.
        to_s: run time at which to stop at the latest [s].
    """
    session = VirtualSession(scenario, seed)
    return Recording(tuple(session.items(to_s)), session)


def column_names(channels: Sequence[Channel]) -> dict[str, str]:
    """Column of a run file for each probe, named by what it sits in.

    >>> column_names((Channel("a", Place.BATH), Channel("b", Place.BATH)))
    {'a': 'bath_c', 'b': 'bath_2_c'}
    """
    names: dict[str, str] = {}
    for channel in channels:
        unit = "w" if channel.place is Place.MIXER else "c"
        ranked = (
            f"{channel.place}_{unit}" if n == 1 else f"{channel.place}_{n}_{unit}"
            for n in range(1, len(channels) + 1)
        )
        names[channel.name] = next(name for name in ranked if name not in names.values())
    return names


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def run_file(scenario: Scenario, seed: int, items: Iterable[Reading | Mark]) -> str:
    """A recorded batch as the text of a run file."""
    columns = column_names(scenario.channels)
    rows: dict[float, dict[str, str]] = {}
    marks: list[tuple[float, Mark]] = []
    for item in items:
        if isinstance(item, Mark):
            marks.append((item.t, item))
        elif item.value is not None:
            rows.setdefault(item.t, {})[columns[item.probe]] = _number(item.value)
        else:
            rows.setdefault(item.t, {})
    # A mark stands before the readings of its own moment, since what it tells had begun by then.
    lines = [(t, 0, _mark_row(mark)) for t, mark in marks]
    lines += [(t, 1, row) for t, row in rows.items()]
    text = io.StringIO()
    text.write(f"# invented: recorded from rigmon's virtual rig, seed {seed}, {scenario.name}\n")
    text.write(f"# {scenario.about}\n")
    text.write(f"# recipe: recipes/{scenario.recipe}.toml, rig: rigs/{scenario.rig}.toml\n")
    fields = ["time_s", *columns.values(), "mark", "by", "detail"]
    writer = csv.DictWriter(text, fields, restval="", lineterminator="\n")
    writer.writeheader()
    for t, _, row in sorted(lines, key=lambda line: line[:2]):
        writer.writerow({"time_s": _number(t), **row})
    return text.getvalue()


def _mark_row(mark: Mark) -> dict[str, str]:
    return {"mark": mark.word.value, "by": mark.by.value, "detail": format_detail(mark.detail)}


def write_all(folder: Path) -> list[Path]:
    """Write every recorded run of the demonstration into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, (scenario, seed) in RECORDED.items():
        path = folder / f"{name}.csv"
        text = run_file(scenario, seed, record_run(scenario, seed).items)
        path.write_text(text, encoding="utf-8", newline="\n")
        written.append(path)
    return written


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="where the run files go")
    for path in write_all(parser.parse_args().folder):
        print(path)


if __name__ == "__main__":
    main()
