"""The demo: the invented scenario's rig, watched by the very daemon that watches real ones."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from rigmon.records import Mark, MarkWord
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.prepare import read_config, rigs_of
from rigmon.service.virtual_source import VirtualSource
from rigmon.service.virtual_wires import BrokerWire, PtyWire, Wire
from rigmon.service.watching import INTERRUPTED, choose_outlet
from rigmon.store.log import RunLog, default_log_path
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
) -> int:
    """Watch the virtual rig through a real wire; returns the exit code.

    Args:
        speed: run seconds a second.
        whole: go on through rest, round 2 and hardening.
        plain: one line a second instead of the live view.
        via: the wire.
        seed: seed of the virtual batch.
        log_path: the run log; None for the usual place.

    Raises:
        DeviceError: the wire cannot be laid.
        LogError: the log cannot be opened.
    """
    (rig,) = rigs_of(read_config(data_folder() / "rigs" / "demo.toml"), None)
    session = VirtualSession(demo_scenario(whole=whole), seed)
    wire = lay_wire(via, rig.setup.id, session)
    log = RunLog(log_path or default_log_path())
    clock = Clock(speed)

    def hear_mark(mark: Mark) -> None:
        if mark.word in _HASTE:
            clock.run_at(min(speed * _HASTE[mark.word], max(speed, _FASTEST)))

    source = VirtualSource(rig.setup.id, session, wire, clock, hear_mark)
    outlet = choose_outlet([rig], rig.units, None, 1, plain)
    print(
        f"A virtual rig writes to {wire.where}; nothing here is a real kitchen. "
        f"{speed:g} times as fast as life. Ctrl-C stops.",
        file=sys.stderr,
    )
    daemon = Daemon([rig], [source], [outlet, source], log, clock, once=True)
    daemon.run()
    if daemon.interrupted:
        return INTERRUPTED
    print(f"\nThe run lies in {log.path}. Look at it:\n  rigmon runs{_log_option(log_path)}")
    print(f"  rigmon export last demo.csv{_log_option(log_path)}")
    print("  rigmon replay demo.csv --config demo.toml")
    return 0


def lay_wire(via: Literal["serial", "mqtt"], rig_id: str, session: VirtualSession) -> Wire:
    """The wire between the virtual board and the program."""
    if via == "mqtt":
        return BrokerWire(rig_id)
    return PtyWire(rig_id, session.board.setup)


def _log_option(log_path: Path | None) -> str:
    return f" --log {log_path}" if log_path is not None else ""
