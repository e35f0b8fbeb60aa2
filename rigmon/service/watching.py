"""From a configuration file to a running daemon."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from rigmon.config import Units
from rigmon.errors import UsageError
from rigmon.estimate.estimator import Estimator
from rigmon.outlets.base import Outlet
from rigmon.outlets.glance import Glance
from rigmon.outlets.jsonlines import JsonLines
from rigmon.outlets.plain import PlainView
from rigmon.outlets.terminal import LiveView
from rigmon.records import MqttLink, SerialLink, VirtualLink
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.service.virtual_source import VirtualSource
from rigmon.service.virtual_wires import PtyWire
from rigmon.sources import Source, check_link, list_ports_text, open_sources
from rigmon.store.log import RunLog, default_log_path
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.session import VirtualSession

INTERRUPTED = 130


def watch(
    config_path: Path | None,
    recipe_path: Path | None,
    rig_id: str | None,
    jsonl: TextIO | None,
    every_s: int,
    plain: bool,
    log_path: Path | None,
    keep_log: bool,
) -> int:
    """Watch the rigs of a configuration until told to stop; returns the exit code.

    Raises:
        UsageError: no configuration, or a rig without a source.
        ConfigError: the configuration or a recipe cannot be read.
        DeviceError: a port or broker cannot be reached.
        LogError: the run log cannot be opened.
    """
    if config_path is None:
        raise UsageError(
            f"watch needs a rig: give --config RIG.toml, or try `rigmon demo`.\n{list_ports_text()}"
        )
    config = read_config(config_path)
    rigs = rigs_of(config, recipe_path, rig_id)
    for rig in rigs:
        if rig.link is None:
            raise UsageError(
                f'{config_path}: rigs.{rig.setup.id} has no source: write source = "serial" and '
                f'port = ..., or source = "mqtt" and broker = ...\n{list_ports_text()}'
            )
        check_link(rig.link)
    clock = Clock()
    outlet = choose_outlet(rigs, config.units, jsonl, every_s, plain)
    log = None
    if keep_log:
        log = RunLog(log_path or config.log.path or default_log_path(), config.log.synchronous)
        print(f"Log: {log.path}. Ctrl-C stops.", file=sys.stderr)
    sources = sources_of(rigs, clock)
    makers = [source for source in sources if isinstance(source, VirtualSource)]
    daemon = Daemon(rigs, sources, [outlet, *makers], log, clock)
    daemon.run()
    if daemon.log_lost:
        print(f"rigmon: {daemon.log_lost}", file=sys.stderr)
        return 1
    return INTERRUPTED if daemon.interrupted else 0


def choose_outlet(
    rigs: Sequence[Rig], units: Units, jsonl: TextIO | None, every_s: int, plain: bool
) -> Outlet:
    """JSON lines if asked for, else the live view where there is a terminal, else plain lines."""
    if jsonl is not None:
        heads: dict[str, dict[str, object]] = {}
        for rig in rigs:
            name: dict[str, object] = {"rig": rig.setup.id} if len(rigs) > 1 else {}
            heads[rig.setup.id] = name | ({"virtual": True} if rig.virtual else {})
        return JsonLines(jsonl, every_s, heads)
    glances = {rig.setup.id: Glance(rig.setup.id, rig.virtual, _limit_c(rig)) for rig in rigs}
    if plain or not sys.stdout.isatty():
        return PlainView(
            sys.stdout, glances, temperature_unit=units.temperature, mass_unit=units.mass
        )
    return LiveView(glances, units.temperature, units.mass)


def _limit_c(rig: Rig) -> float | None:
    return Estimator(rig.recipe, rig.setup, rig.prior, rig.seed).bath_limit_c


def sources_of(rigs: Sequence[Rig], clock: Clock) -> list[Source]:
    """The sources of real and virtual rigs, not yet started."""
    real = {rig.setup.id: rig.link for rig in rigs if isinstance(rig.link, SerialLink | MqttLink)}
    virtual = [
        virtual_source(rig.setup.id, rig.link, clock)
        for rig in rigs
        if isinstance(rig.link, VirtualLink)
    ]
    return [*open_sources(real), *virtual]


def virtual_source(rig_id: str, link: VirtualLink, clock: Clock) -> VirtualSource:
    """The virtual rig of a configuration: the demo's batch, at the speed of life."""
    session = VirtualSession(demo_scenario(whole=True), link.seed)
    return VirtualSource(rig_id, session, PtyWire(rig_id, session.board.setup), clock)
