"""The first configuration: from what a board says and a few answers to a file that loads."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from rigmon.config import load_config
from rigmon.errors import ConfigError, UsageError
from rigmon.records import (
    ChecksumRule,
    LineForm,
    MqttLink,
    Place,
    Reading,
    SerialLink,
    Unit,
    place_of,
)
from rigmon.service.checking import boards, brokers
from rigmon.service.checking.finding import Finding, Level, look, ok
from rigmon.service.prepare import read_recipe
from rigmon.sources import list_ports
from rigmon.units import temperature

Ask = Callable[[str, Sequence[str], str], str]
"""A question, the answers that there are (none for any), and the answer that is suggested."""

TYPES = ("T", "K", "J", "E", "N", "other")
PLACES = ("bath", "mix", "wall", "core", "room", "freezer", "none")
_ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")


@dataclass(frozen=True, slots=True)
class Answers:
    """What was answered beforehand; None is asked for.

    Args:
        rig_id: id of the rig.
        port: its port.
        broker: its broker, as `HOST` or `HOST:PORT`, instead of a port.
        kind: type of its wires.
        places: where probes sit, by name.
        recipe: its recipe.
        for_s: how long to listen [s].
    """

    rig_id: str | None = None
    port: str | None = None
    broker: str | None = None
    kind: str | None = None
    places: tuple[tuple[str, str], ...] = ()
    recipe: Path | None = None
    for_s: float = 10.0


def quoted(text: str) -> str:
    r"""Text as TOML holds it.

    >>> quoted('a "b"\\c')
    '"a \\"b\\"\\\\c"'
    """
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def table(rig_id: str, link: SerialLink | MqttLink) -> list[str]:
    """The table of a rig, line by line, without its probes; what is usual is left out."""
    lines = [f"[rigs.{rig_id}]"]
    if isinstance(link, MqttLink):
        return [*lines, 'source = "mqtt"', f"broker = {quoted(f'{link.host}:{link.port}')}"]
    lines += ['source = "serial"', f"port = {quoted(link.port)}"]
    if link.baud != SerialLink("").baud:
        lines.append(f"baud = {link.baud}")
    lines.append(f"format = {quoted(link.format.value)}")
    if link.format is not LineForm.SENML:
        lines.append(f"columns = [{', '.join(map(quoted, link.columns))}]")
    if link.checksum is ChecksumRule.REQUIRED:
        lines.append('checksum = "required"')
    return lines


def write(
    path: Path, answers: Answers, ask: Ask, tell: Callable[[Finding], None], today: str
) -> None:
    """Make the first configuration.

    Args:
        path: the file; it must not be there yet.
        answers: what is known already.
        ask: asks for the rest.
        tell: takes what is found on the way.
        today: the date, for the file's first line.

    Raises:
        UsageError: the file is there, nothing that can be read comes, or an answer cannot be.
        ConfigError: the recipe cannot be read.
        DeviceError: port or broker cannot be reached.
    """
    if path.exists() or path.is_symlink():
        raise UsageError(f"{path} is there already: name another file, or move it away")
    if not path.parent.is_dir():
        raise UsageError(f"{path}: there is no folder {path.parent}")
    if answers.port is not None and answers.broker is not None:
        raise UsageError("a rig has a port or a broker: give one of --port and --broker")
    if answers.recipe is not None:
        read_recipe(answers.recipe)
    rig_id = _rig_id(answers, ask)
    if answers.broker is not None:
        rig_id, lines, came = _behind_broker(answers, rig_id, ask, tell)
    else:
        lines, came = _on_port(answers, rig_id, ask, tell)
    if answers.recipe is not None:
        recipe = os.path.relpath(answers.recipe.resolve(), path.parent.resolve())
        lines.append(f"recipe = {quoted(recipe)}")
    lines += _probes(rig_id, answers, came, ask, tell)
    text = "\n".join([f"# Made by `rigmon check --write`, {today}.", "", *lines, ""])
    _create(path, text)
    tell(ok("written", f"{path}. Next: `rigmon check --config {path}`."))


def _rig_id(answers: Answers, ask: Ask) -> str:
    rig_id = answers.rig_id or ask("What is the rig called (a-z, 0-9, -)?", (), "kitchen")
    if not _ID.fullmatch(rig_id):
        raise UsageError(f"a rig cannot be called {rig_id!r}: allowed are a-z, 0-9 and - inside")
    return rig_id


def _on_port(
    answers: Answers, rig_id: str, ask: Ask, tell: Callable[[Finding], None]
) -> tuple[list[str], Sequence[tuple[float, Reading]]]:
    port = answers.port
    if port is None:
        found = list_ports()
        port = boards.port_of(found)
        if port is None:
            devices = [one.device for one in found]
            likely = [one.device for one in found if one.likely]
            if not likely:
                raise UsageError(
                    "No board was found on USB: plug it in, or say where it is with --port or "
                    "--broker"
                )
            port = ask("Which port is the board on?", devices, likely[0])
    heard = boards.listen(SerialLink(port), answers.for_s, fixed=False)
    for finding in boards.of_board(heard):
        tell(finding)
        if finding.level is Level.WRONG:
            raise UsageError("No configuration is written, since nothing can be read yet")
    if heard.link.format is not LineForm.SENML and not heard.guess.named:
        tell(
            look(
                "columns",
                f"Which column is which is guessed: {', '.join(heard.link.columns)}. Hold a probe "
                "in your hand and see which rises.",
            )
        )
    return table(rig_id, heard.link), heard.readings


def _behind_broker(
    answers: Answers, rig_id: str, ask: Ask, tell: Callable[[Finding], None]
) -> tuple[str, list[str], Sequence[tuple[float, Reading]]]:
    host, _, port = (answers.broker or "").removeprefix("mqtt://").rpartition(":")
    if not host:
        host, port = port, "1883"
    if not port.isdigit() or not 0 < int(port) < 65_536:
        raise UsageError(f"--broker {answers.broker!r} is not understood: write HOST or HOST:PORT")
    link = MqttLink(host, int(port))
    said, messages = brokers.listen(link, answers.for_s)
    tell(said)
    if said.level is Level.WRONG:
        raise UsageError(
            "No configuration is written. Where the broker asks for a user, write one by hand "
            "from data/rigs/loft.toml, with user and password_file"
        )
    heard = brokers.rigs_heard(messages, link.prefix)
    if rig_id not in heard:
        if not heard:
            raise UsageError(
                f"No readings arrive under {link.prefix}/+/readings, so that nothing is written"
            )
        if answers.rig_id is not None:
            raise UsageError(f"No readings of {rig_id} arrive; there are: {', '.join(heard)}")
        rig_id = ask("Which rig is yours?", list(heard), next(iter(heard)))
    readings, _ = brokers.readings_of(messages, link, rig_id)
    return rig_id, table(rig_id, link), readings


def _probes(
    rig_id: str,
    answers: Answers,
    came: Sequence[tuple[float, Reading]],
    ask: Ask,
    tell: Callable[[Finding], None],
) -> list[str]:
    said = dict(answers.places)
    heard = dict.fromkeys(reading.probe for _, reading in came)
    for name in said:
        if name not in heard:
            raise UsageError(
                f"--probe {name}: no such probe is heard; there are: {', '.join(heard)}"
            )
    lines: list[str] = []
    kind = answers.kind
    for name in heard:
        own = [reading for _, reading in came if reading.probe == name]
        if own[0].unit is Unit.WATT:
            continue
        place = said.get(name) or _place(name, own, ask)
        if place == "none":
            continue
        if kind is None:
            kind = ask("Which wires are the probes (other: no thermocouple)?", TYPES, "T")
            tell(look("type", f"Type {kind} is taken for every probe; change what is not so."))
        lines += ["", f"[[rigs.{rig_id}.probe]]", f"name = {quoted(name)}"]
        lines += [f"sits_in = {quoted(place)}", f"type = {quoted(kind)}"]
    return lines


def _place(name: str, own: Sequence[Reading], ask: Ask) -> str:
    known = place_of(name)
    if known is not None and known is not Place.MIXER:
        return known.value
    values = [reading.value for reading in own if reading.value is not None]
    reads = f", which reads {temperature(median(values))}" if values else ""
    return ask(f"What does {name!r}{reads} sit in?", PLACES, "none")


def _create(path: Path, text: str) -> None:
    """Write a file that loads, or none."""
    trial = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        trial.write_text(text, encoding="utf-8")
        load_config(trial)
        # A link, unlike a rename, refuses a file that has come into being meanwhile.
        os.link(trial, path)
    except ConfigError as why:
        raise UsageError(
            f"What was answered makes no configuration: {str(why).replace(str(trial), str(path))}"
        ) from None
    except FileExistsError:
        raise UsageError(f"{path} is there already: name another file, or move it away") from None
    except OSError as why:
        raise UsageError(f"{path} cannot be written: {why.strerror or why}") from None
    finally:
        with contextlib.suppress(OSError):
            trial.unlink()
