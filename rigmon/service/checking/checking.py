"""The whole check, in the order in which a reading travels: port, board, probes, log, forecast."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from rigmon.config import PageConfig
from rigmon.errors import DeviceError, LogError, UsageError
from rigmon.outlets.page.server import DEFAULT_PORT
from rigmon.probes.fingerprint import Sight
from rigmon.records import (
    Converter,
    HandLink,
    LineForm,
    MqttLink,
    RigSetup,
    SerialLink,
    VirtualLink,
)
from rigmon.service.calibrated import Standing, points_of
from rigmon.service.checking import boards, brokers, home
from rigmon.service.checking.finding import Finding, Level, look, ok, wrong
from rigmon.service.checking.probes import (
    Came,
    of_converters,
    of_mixer,
    of_probes,
    probes_in,
)
from rigmon.service.checking.writing import table
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.sources import list_ports
from rigmon.store.log import RunLog, default_log_path

Tell = Callable[[Finding], None]
Pause = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be checked.

    Args:
        config_path: the configuration; None for a first look at what is plugged in.
        rig_id: the one rig that is meant.
        port: without a configuration, the port to listen to; None for all likely ones.
        for_s: how long to listen [s].
        mixer: whether to listen again while the mixer runs.
        in_bath_c: temperature of a bath that all probes sit in, if the maker says so [°C].
        log_path: the run log; None for the configured or usual place.
    """

    config_path: Path | None = None
    rig_id: str | None = None
    port: str | None = None
    for_s: float = 10.0
    mixer: bool = False
    in_bath_c: float | None = None
    log_path: Path | None = None


def check(wanted: Wanted, tell: Tell, pause: Pause) -> int:
    """Check everything there is; returns 0, or 1 where something is wrong.

    Args:
        wanted: what.
        tell: takes each finding as it is made.
        pause: asks the maker to do something, and waits.

    Raises:
        UsageError: no such rig.
        ConfigError: the configuration or a recipe cannot be read.
    """
    levels: set[Level] = set()

    def told(found: Iterator[Finding]) -> None:
        for finding in found:
            levels.add(finding.level)
            tell(finding)

    if wanted.config_path is None:
        told(_first_look(wanted))
        told(home.of_disk(wanted.log_path))
        told(iter([home.of_page(PageConfig(), DEFAULT_PORT)]))
        return 1 if Level.WRONG in levels else 0
    if wanted.port is not None:
        raise UsageError("--port is for a first look: with --config the port stands in the file")
    config = read_config(wanted.config_path)
    rigs = rigs_of(config, None, wanted.rig_id)
    log_path = wanted.log_path or config.log.path
    for rig in rigs:
        if len(rigs) > 1:
            told(iter([ok("rig", f"{rig.setup.id}:")]))
        told(_of_rig(rig, wanted, log_path, pause))
        told(home.of_calibrations(log_path, rig))
        told(home.of_forecast(rig))
    told(home.of_disk(log_path))
    told(iter([home.of_page(config.page, DEFAULT_PORT)]))
    return 1 if Level.WRONG in levels else 0


def _of_rig(rig: Rig, wanted: Wanted, log_path: Path | None, pause: Pause) -> Iterator[Finding]:
    link = rig.link
    if isinstance(link, VirtualLink):
        yield ok("source", f"{rig.setup.id} is a virtual rig: nothing is plugged in.")
        return
    if isinstance(link, SerialLink):
        opened = boards.of_port(link)
        yield opened
        if opened.level is Level.WRONG:
            return
    elif isinstance(link, HandLink):
        yield ok("source", f"{rig.setup.id} is read by hand: nothing is plugged in.")
        return
    elif not isinstance(link, MqttLink):
        yield wrong("source", "None is configured: write source and port, or source and broker.")
        yield from boards.ports()
        return
    try:
        came, found = _came(link, rig.setup, wanted.for_s)
        yield from found
        if not came:
            return
        yield from of_probes(rig.setup, came, wanted.for_s)
        points = _points(log_path, rig)
        yield from of_converters(probes_in(rig.setup, came), wanted.in_bath_c, points)
        if wanted.mixer:
            pause("Switch the mixer on, then press Enter.")
            beside, _ = _came(link, rig.setup, wanted.for_s)
            yield from of_mixer(came, beside, rig.setup)
            pause("Switch it off again, then press Enter.")
        else:
            yield ok("mixer", "Not asked for: `--mixer` listens again while it runs.")
    except DeviceError as why:
        yield wrong("board", str(why).replace("\n", " "))


def _came(
    link: SerialLink | MqttLink, setup: RigSetup, for_s: float
) -> tuple[Came, Sequence[Finding]]:
    """What comes from a rig within `for_s` [s], and what is to be said of how it comes."""
    if isinstance(link, SerialLink):
        heard = boards.listen(link, for_s, fixed=True)
        return heard.readings, list(boards.of_board(heard))
    said, messages = brokers.listen(link, for_s)
    found = [said]
    if said.level is Level.WRONG:
        return (), found
    found += brokers.of_topics(messages, link, setup.id)
    readings, bad = brokers.readings_of(messages, link, setup.id)
    if bad:
        found.append(look("form", f"{len(bad)} messages could not be read, the first: {bad[0]}."))
    return readings, found


def _points(log_path: Path | None, rig: Rig) -> Mapping[str, Sequence[Sight]]:
    """What each probe read at known temperatures, where its board's own figures are known."""
    path = log_path or default_log_path()
    if not path.exists():
        return {}
    found: dict[str, list[Sight]] = {}
    try:
        with RunLog(path, create=False) as log:
            for probe in rig.setup.probes:
                if probe.converter is Converter.LINEARISED:
                    found[probe.name] = [
                        Sight(one.point.read_c, one.point.true_c)
                        for one in points_of(log, rig.setup.id, probe)
                        if one.standing is Standing.COUNTS and one.point is not None
                    ]
    except LogError:
        return {}
    return found


def _first_look(wanted: Wanted) -> Iterator[Finding]:
    """What is plugged in, and the configuration that would read it."""
    if wanted.port is None:
        yield from boards.ports()
        likely = [one.device for one in list_ports() if one.likely]
        if not likely:
            yield wrong(
                "board",
                "No board was found on USB: plug it in, say where it is with --port, or check a "
                "rig behind a broker with --config.",
            )
    else:
        likely = [wanted.port]
    for port in likely:
        link = SerialLink(port)
        opened = boards.of_port(link)
        if wanted.port is not None or opened.level is Level.WRONG:
            yield opened
        if opened.level is Level.WRONG:
            continue
        try:
            heard = boards.listen(link, wanted.for_s, fixed=False)
        except DeviceError as why:
            yield wrong("board", str(why).replace("\n", " "))
            continue
        yield from boards.of_board(heard)
        if heard.readings:
            setup = RigSetup(id="kitchen")
            # What a chip's words need to become temperatures is not known yet.
            yield from of_probes(setup, _bare(heard.readings), wanted.for_s)
            if heard.link.format is LineForm.FRAMES:
                yield look(
                    "converter",
                    "Frames come from a chip that takes the wire for a straight line: the figures "
                    "above are the chip's own, and become right once its type is configured.",
                )
            written = "\n".join(f"  {line}" for line in table("kitchen", heard.link))
            yield look("configure", f"`rigmon check --write RIG.toml` writes\n{written}")


def _bare(came: Came) -> Came:
    return [(t, replace(reading, cj_c=None)) for t, reading in came]
