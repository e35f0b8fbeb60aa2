"""`rigmon outlets`: how it last went with each outlet, and a test message through each."""

from __future__ import annotations

import datetime
import json
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from rigmon.config import Config
from rigmon.errors import DeviceError, LogError, RigmonError, UsageError
from rigmon.outlets.homie_device import HomieSender
from rigmon.outlets.message import VIRTUAL, Sender, trial
from rigmon.records import VirtualLink
from rigmon.service.doors import ask_outlets
from rigmon.service.posts import senders
from rigmon.store.log import RunLog, default_log_path

_RUNS_LOOKED_AT = 5
"""An outlet that none of so many newest runs used has no last result."""


def all_senders(config: Config) -> list[Sender]:
    """Every outlet of a configuration, each ready for a test message."""
    link = config.outlets.homie
    homie = [HomieSender(link, rig.setup.id) for rig in config.rigs] if link is not None else []
    return [*homie, *senders(config.outlets)]


def listed(config: Config, log_path: Path | None) -> Iterator[str]:
    """A line for each outlet: its name, and how it last went."""
    names = [sender.name for sender in all_senders(config)]
    if not names:
        yield "The configuration has no outlets: add a table such as [outlets.homie]."
        return
    last = last_results(log_path or config.log.path or default_log_path())
    width = max(map(len, names))
    for name in names:
        yield f"{name.ljust(width)}  {_told(last.get(name))}"


def last_results(log_path: Path) -> dict[str, Mapping[str, Any]]:
    """The last result of each outlet: of the running daemons, else of the log's newest runs."""
    found: dict[str, Mapping[str, Any]] = {told["outlet"]: told for told in ask_outlets()}
    if found or not log_path.is_file():
        return found
    try:
        with RunLog(log_path, create=False) as log:
            for row in log.runs()[:_RUNS_LOOKED_AT]:
                for name, told in _in_run(log, row.header.id).items():
                    found.setdefault(name, told)
    except LogError:
        return {}
    return found


def _in_run(log: RunLog, run_id: str) -> dict[str, Mapping[str, Any]]:
    told = (json.loads(line) for line in log.said(run_id) if '"type":"outlet"' in line)
    return {one["outlet"]: one for one in told if one["type"] == "outlet"}


def _told(result: Mapping[str, Any] | None) -> str:
    if result is None:
        return "nothing sent yet"
    moment = datetime.datetime.fromtimestamp(result["at_unix"], datetime.UTC).astimezone()
    return f"{moment:%Y-%m-%d %H:%M}  {'' if result['ok'] else 'failed: '}{result['text']}"


def tried(config: Config, name: str | None) -> Iterator[tuple[int, str]]:
    """Send a test message through each outlet; gives an exit code and a sentence for each.

    Args:
        config: the configuration.
        name: the one outlet that is meant, by its kind, its name, or both; None for all.

    Raises:
        UsageError: there is no such outlet, or none at all.
    """
    every = all_senders(config)
    meant = [one for one in every if name in (None, one.name, *one.name.split())]
    if not every:
        raise UsageError("The configuration has no outlets: add a table such as [outlets.homie]")
    if not meant:
        names = ", ".join(repr(one.name) for one in every)
        raise UsageError(f"There is no outlet {name!r} in the configuration; there are {names}")
    if not config.rigs:
        raise UsageError("The configuration has no rig: add a table [rigs.kitchen] with its source")
    for sender in meant:
        yield _try(sender, config)


def _try(sender: Sender, config: Config) -> tuple[int, str]:
    rig = next((one for one in config.rigs if sender.name == f"homie {one.setup.id}"), None)
    rig = rig or config.rigs[0]
    virtual = isinstance(rig.link, VirtualLink)
    began = time.monotonic()
    code = 0
    try:
        said = f"{sender.send(trial(rig.setup.id, virtual=virtual))}."
    except (DeviceError, RigmonError) as why:
        code, said = why.exit_code, str(why)
    took_s = time.monotonic() - began
    head = f"{sender.name}, {VIRTUAL}" if virtual else sender.name
    return code, f"{head}, {took_s:.1f} s: {said}"
