"""From a configuration file to a running daemon, and what is told when it ends."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TextIO

from rigmon.config import PageConfig
from rigmon.errors import LogError, UsageError
from rigmon.estimate.estimator import Estimator
from rigmon.outlets.base import Outlet
from rigmon.outlets.glance import Glance
from rigmon.outlets.jsonlines import JsonLines
from rigmon.outlets.plain import PlainView
from rigmon.outlets.terminal import LiveView
from rigmon.records import MqttLink, SerialLink, VirtualLink
from rigmon.run.choices import at_first
from rigmon.service import signals
from rigmon.service.calibrated import told
from rigmon.service.clock import Clock, time_of_day
from rigmon.service.daemon import Daemon
from rigmon.service.jsonstream import json_stream
from rigmon.service.logkeeper import LogKeeper, open_log
from rigmon.service.pageside import PageFlags, PageSide, announced
from rigmon.service.posts import Posts
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.service.resume import LONGEST_BREAK_S
from rigmon.service.tally import bad_lines, heard
from rigmon.service.virtual_source import VirtualSource
from rigmon.service.virtual_wires import PtyWire
from rigmon.sources import Source, check_link, list_ports_text, open_sources
from rigmon.store.archive import Archive
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.session import VirtualSession

INTERRUPTED = 130


def watch(
    config_path: Path | None,
    recipe_path: Path | None,
    rig_id: str | None,
    jsonl: str | None,
    every_s: int,
    plain: bool,
    log_path: Path | None,
    keep_log: bool,
    debug: bool = False,
    page: PageFlags | None = None,
) -> int:
    """Watch the rigs of a configuration until told to stop; returns the exit code.

    Args:
        config_path: the configuration.
        recipe_path: a recipe that goes before those that the configuration names.
        rig_id: the one rig that is meant.
        jsonl: file for JSON lines, or `-`; None for words for people.
        every_s: a state in the JSON lines every so many seconds of the run.
        plain: plain lines instead of the live view.
        log_path: the run log; None for the configured or usual place.
        keep_log: False keeps nothing.
        debug: show the last bad lines at the end.
        page: what was said of the page; None serves none.

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
                'port = ..., source = "mqtt" and broker = ..., or source = "hand" to type what a '
                f"thermometer shows\n{list_ports_text()}"
            )
        check_link(rig.link)
    clock = Clock()
    with ExitStack() as opened:
        log, kept = None, "Nothing is kept."
        if keep_log:
            advice = "Give another place with --log, or keep nothing: --no-log."
            log = open_log(log_path or config.log.path, config.log.synchronous, advice)
            kept = f"Log: {log.path}."
            for sentence in corrected(log, rigs):
                print(sentence, file=sys.stderr)
        keeper = LogKeeper(log)
        opened.callback(keeper.close)
        stream = opened.enter_context(json_stream(jsonl))
        sources = sources_of(rigs, clock, marks=config.outlets.homie is None)
        for source in sources:
            opened.callback(source.stop)
        makers = [source for source in sources if isinstance(source, VirtualSource)]
        invented = [f"{rig.setup.id} is a virtual rig, no kitchen." for rig in rigs if rig.virtual]
        noted = opened.enter_context(signals.noting())
        print(*invented, kept, "Ctrl-C stops.", file=sys.stderr)
        side = page_of(rigs, page, config.page)
        opened.callback(side.close)
        outlet = choose_outlet(rigs, stream, every_s, plain)
        posts = Posts(config.outlets, rigs)
        opened.callback(posts.close)
        daemon = Daemon(
            rigs, sources, [outlet], keeper, clock, makers=makers, posts=posts, page=side
        )
        begin(outlet, daemon)
        return run_to_end(daemon, noted, debug)


def page_of(
    rigs: Sequence[Rig], flags: PageFlags | None, config: PageConfig | None = None
) -> PageSide:
    """The page that is wanted, its addresses told.

    Raises:
        DeviceError: the port that is meant cannot be had.
    """
    wanted = (flags or PageFlags(off=True)).over(config or PageConfig())
    page = PageSide(rigs, wanted)
    announced(page, sys.stderr)
    return page


def begin(outlet: Outlet, daemon: Daemon) -> None:
    """Show the live view, whose keys set marks as the socket does."""
    if isinstance(outlet, LiveView):
        outlet.open(daemon.ask)


def run_to_end(daemon: Daemon, noted: Sequence[bool], debug: bool = False) -> int:
    """Run a daemon, unless asked to end before, and tell how it went; returns the exit code."""
    daemon.run(noted)
    counts = daemon.counts()
    words = (
        heard(counts),
        *(bad_lines(counts) if debug else ()),
        *(_still_open(started) for started in daemon.open_runs),
        *(f"rigmon: {fault}" for fault in daemon.faults),
    )
    for word in words:
        print(word, file=sys.stderr)
    if daemon.faults:
        return 1
    return INTERRUPTED if daemon.interrupted else 0


def corrected(log: Archive, rigs: Sequence[Rig]) -> list[str]:
    """What is said at the start of how calibrations correct the probes."""
    try:
        return [sentence for rig in rigs for sentence in told(log, rig, time.time())]
    except LogError as error:
        return [f"The calibrations cannot be read: {error}."]


def _still_open(started_unix: float) -> str:
    hours = LONGEST_BREAK_S / 3600.0
    return (
        f"The run begun at {time_of_day(started_unix)} is still open: the next `rigmon watch` "
        f"within {hours:.0f} hours goes on with it. A run is ended by `rigmon mark end` while "
        "rigmon watches."
    )


def choose_outlet(
    rigs: Sequence[Rig],
    stream: TextIO | None = None,
    every_s: int = 1,
    plain: bool = False,
) -> Outlet:
    """JSON lines if asked for, else the live view where there is a terminal, else plain lines."""
    if stream is not None:
        heads: dict[str, dict[str, object]] = {}
        for rig in rigs:
            name: dict[str, object] = {"rig": rig.setup.id} if len(rigs) > 1 else {}
            heads[rig.setup.id] = name | ({"virtual": True} if rig.virtual else {})
        return JsonLines(stream, every_s, heads)
    glances = {
        rig.setup.id: Glance(
            rig.setup.id,
            rig.virtual,
            _limit_c(rig),
            rig.speech,
            at_first(rig.setup, rig.recipe, rig.speech),
        )
        for rig in rigs
    }
    # A terminal that cannot move its cursor, as an editor's, has lines.
    if plain or not sys.stdout.isatty() or os.environ.get("TERM", "dumb") == "dumb":
        return PlainView(sys.stdout, glances)
    typed = sys.stdin is not None and sys.stdin.isatty()
    return LiveView(glances, terminal=sys.stdin.fileno() if typed else None)


def _limit_c(rig: Rig) -> float | None:
    return Estimator(rig.recipe, rig.setup, rig.prior, rig.seed).bath_limit_c


def sources_of(rigs: Sequence[Rig], clock: Clock, *, marks: bool = True) -> list[Source]:
    """The sources of real and virtual rigs, not yet started; `marks` has them take marks."""
    real = {rig.setup.id: rig.link for rig in rigs if isinstance(rig.link, SerialLink | MqttLink)}
    virtual = [
        virtual_source(rig.setup.id, rig.link, clock)
        for rig in rigs
        if isinstance(rig.link, VirtualLink)
    ]
    return [*open_sources(real, marks=marks), *virtual]


def virtual_source(rig_id: str, link: VirtualLink, clock: Clock) -> VirtualSource:
    """The virtual rig of a configuration: the demo's batch, at the speed of life."""
    session = VirtualSession(demo_scenario(whole=True), link.seed)
    return VirtualSource(rig_id, session, PtyWire(rig_id, session.board.setup), clock)
