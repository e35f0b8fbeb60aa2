"""`rigmon rig`: what has been learned of a rig, and what was changed on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigmon.service.memory import Kept
    from rigmon.store.log import RunLog


@click.group("rig", short_help="Show what has been learned of a rig; say what was changed.")
def command() -> None:
    """What the run log has learned of a rig over its runs, and what was changed on it.

    Each run starts from what the runs before it taught.
    """


@command.command("show", short_help="Say what has been learned of a rig.")
@click.argument("rig_id", metavar="[RIG]", required=False)
@options.log
def show(rig_id: str | None, log_path: Path | None) -> None:
    """Say in words and figures what has been learned of RIG, or of every rig in the log.

    With how it changed from run to run, how its mix probe reads by the mixes' freezing points, how
    forecasts fared, and which runs were left out. Ranges hold in eight of ten cases. A virtual rig
    has a memory of its own.
    """
    from rigmon.review import rigs
    from rigmon.service.memory import Changed, recall, story
    from rigmon.service.rigwords import changes, lines

    with _log(log_path) as log:
        seen = _rigs(log)
        for kept in _meant(log, seen, rig_id):
            changed = [one for one in story(log, kept) if isinstance(one, Changed)]
            name = f"{kept.rig}, virtual rig" if kept.virtual else kept.rig
            memory = recall(log, kept)
            for line in lines(name, memory, seen[kept], []):
                click.echo(line)
            for line in rigs.lines(rigs.told(log, kept)) if memory.runs else ():
                click.echo(line)
            for line in changes(changed):
                click.echo(line)


@command.command("changed", short_help="Say that a bowl, a mixer or a probe is another one now.")
@click.argument("part", type=click.Choice(["bowl", "mixer", "probe"]))
@click.argument("rig_id", metavar="[RIG]", required=False)
@options.log
def changed(part: str, rig_id: str | None, log_path: Path | None) -> None:
    r"""Say that RIG's bowl, mixer or probe is another one, before its first run with it.

    What was learned of the old one counts for less from then on: of a bowl, how its wall conducts;
    of a mixer, the heat of its beaters. Calibrations of the rig's probes no longer count.

    \b
      rigmon rig changed bowl
      rigmon rig changed mixer kitchen
    """
    import time

    from rigmon.errors import UsageError
    from rigmon.estimate.memory import RigPart
    from rigmon.service.memory import Changed, change

    with _log(log_path) as log:
        meant = _meant(log, _rigs(log), rig_id)
        names = sorted({kept.rig for kept in meant})
        if len(names) > 1:
            raise UsageError(f"The log holds several rigs ({', '.join(names)}): say which")
        # Where a virtual rig has the name of a real one, the real one is what can be touched.
        kept = min(meant, key=lambda one: one.virtual)
        change(log, kept, Changed(RigPart(part), time.time()))
    click.echo(f"{kept.rig}: {_EFFECT[part]}")


_EFFECT = {
    "bowl": "another bowl. What was learned of the wall counts for less from now on.",
    "mixer": "another mixer. What was learned of the beaters' heat counts for less from now on.",
    "probe": "another probe, noted. Calibrations from before no longer count.",
}


def _log(path: Path | None) -> RunLog:
    from rigmon.store.log import RunLog, default_log_path

    return RunLog(path or default_log_path(), create=False)


def _rigs(log: RunLog) -> Mapping[Kept, int]:
    """The rigs in a log, with the number of their runs."""
    from collections import Counter

    from rigmon.service.memory import Kept

    return Counter(Kept(row.header.rig, row.header.virtual) for row in log.runs())


def _meant(log: RunLog, seen: Mapping[Kept, int], rig_id: str | None) -> list[Kept]:
    from rigmon.errors import UsageError

    meant = [kept for kept in seen if rig_id in (None, kept.rig)]
    if meant:
        return sorted(meant, key=lambda one: (one.rig, one.virtual))
    if not seen:
        raise UsageError(f"The log {log.path} holds no run yet")
    names = ", ".join(sorted({kept.rig for kept in seen}))
    raise UsageError(f"The log {log.path} holds no run of a rig {rig_id!r}; there are: {names}")
