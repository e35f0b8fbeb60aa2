"""The demo: the invented scenario's rig, watched by the very daemon that watches real ones."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping
from contextlib import ExitStack
from itertools import count
from pathlib import Path
from typing import Literal

from rigmon.records import Mark, MarkWord
from rigmon.service import signals
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.logkeeper import LogKeeper, open_log
from rigmon.service.pageside import PageFlags
from rigmon.service.prepare import read_config, rigs_of
from rigmon.service.virtual_source import VirtualSource
from rigmon.service.virtual_wires import BrokerWire, PtyWire, Wire
from rigmon.service.watching import INTERRUPTED, begin, choose_outlet, page_of, run_to_end
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.scenario import data_folder
from rigmon.virtual.session import VirtualSession

_HASTE: Mapping[MarkWord, float] = {
    MarkWord.REST_START: 10.0,
    MarkWord.REST_STOP: 1.0,
    MarkWord.PACK: 10.0,
    MarkWord.HARDEN_START: 120.0,
}
"""How much faster than its usual speed the demo goes on after a mark ..."""
_FASTEST = 2400.0
"""... as far as one core can follow."""


def demo(
    speed: float,
    whole: bool,
    plain: bool,
    via: Literal["serial", "mqtt"],
    seed: int,
    log_path: Path | None,
    debug: bool = False,
    page: PageFlags | None = None,
) -> int:
    """Watch the virtual rig through a real wire; returns the exit code.

    Args:
        speed: run seconds a second.
        whole: go on through rest, round 2 and hardening.
        plain: one line a second instead of the live view.
        via: the wire.
        seed: seed of the virtual batch.
        log_path: the run log; None for the usual place.
        debug: show the last bad lines at the end.
        page: what was said of the page; None serves none.

    Raises:
        DeviceError: the wire cannot be laid.
        LogError: the log cannot be opened.
    """
    (rig,) = rigs_of(read_config(data_folder() / "rigs" / "demo.toml"), None)
    clock = Clock(speed)

    def hear_mark(mark: Mark) -> None:
        if mark.word in _HASTE:
            clock.run_at(min(speed * _HASTE[mark.word], max(speed, _FASTEST)))

    with ExitStack() as opened:
        log = open_log(log_path, advice="Give another place with --log.")
        keeper = LogKeeper(log)
        opened.callback(keeper.close)
        session = VirtualSession(demo_scenario(whole=whole), seed)
        wire = lay_wire(via, rig.setup.id, session)
        source = VirtualSource(rig.setup.id, session, wire, clock, hear_mark)
        opened.callback(source.stop)
        noted = opened.enter_context(signals.noting())
        print(
            f"A virtual rig writes to {wire.where}; nothing here is a real kitchen. "
            f"{speed:g} times as fast as life. Ctrl-C stops.",
            file=sys.stderr,
        )
        side = page_of([rig], page)
        opened.callback(side.close)
        outlet = choose_outlet([rig], plain=plain)
        daemon = Daemon(
            [rig], [source], [outlet], keeper, clock, makers=[source], page=side, once=True
        )
        begin(outlet, daemon)
        code = run_to_end(daemon, noted, debug)
        if code == INTERRUPTED and daemon.ended:
            code = 0
    if code == 0:
        print(f"\nThe run lies in {log.path}. Look at it:")
        for command in next_commands(log_path):
            print(f"  {command}")
    elif code == INTERRUPTED:
        print(f"The run so far lies in {log.path}.")
    return code


def lay_wire(via: Literal["serial", "mqtt"], rig_id: str, session: VirtualSession) -> Wire:
    """The wire between the virtual board and the program."""
    if via == "mqtt":
        return BrokerWire(rig_id)
    return PtyWire(rig_id, session.board.setup)


def next_commands(log_path: Path | None) -> tuple[str, ...]:
    """What to try after the demo; the files named are not there yet."""
    where = f" --log {shlex.quote(str(log_path))}" if log_path is not None else ""
    names = ("demo" if n == 1 else f"demo-{n}" for n in count(1))
    name = next(
        name
        for name in names
        if not any(Path(name).with_suffix(ending).exists() for ending in (".csv", ".toml"))
    )
    return (
        f"rigmon runs{where}",
        f"rigmon export last {name}.csv{where}",
        f"rigmon replay {name}.csv --config {name}.toml",
    )
