"""`rigmon check` on boards at pseudo-terminals and at real brokers."""

from __future__ import annotations

import gc
import json
import os
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from rigmon.config import load_config
from rigmon.errors import UsageError
from rigmon.records import LineForm, MqttLink, Reading, SerialLink
from rigmon.service.checking.checking import Wanted, check
from rigmon.service.checking.finding import Finding, Level
from rigmon.service.checking.writing import Answers, write
from rigmon.sources.overhear import overhear_broker, overhear_port
from rigmon.virtual.board import Board as Firmware
from rigmon.virtual.board import BoardSetup

if TYPE_CHECKING:
    from tests.system.conftest import Board, Broker, MakeBroker

HOST = "127.0.0.1"
LISTEN_S = 0.8
RIG = """
[rigs.kitchen]
{source}
[[rigs.kitchen.probe]]
name = "bath"
type = "T"
[[rigs.kitchen.probe]]
name = "mix"
type = "T"
[page]
enabled = false
[log]
path = "runs.sqlite"
"""


class Talking:
    """A board that writes sixteen lines a second, in any form, and answers `ping`."""

    def __init__(self, board: Board, setup: BoardSetup, values: Mapping[str, float]) -> None:
        self.values = dict(values)
        self.scatter_k = 0.05
        self._board, self._firmware = board, Firmware(setup)
        self._rng = np.random.default_rng(2)
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._talk)

    def start(self) -> None:
        """Begin."""
        self._board.never_wait()
        self._thread.start()

    def _talk(self) -> None:
        begun = time.monotonic()
        while not self._ended.wait(0.06):
            lines: list[bytes] = []
            with suppress(BlockingIOError):
                if b"ping" in os.read(self._board._ends[0], 4096):
                    lines += self._firmware.hear(b"ping")
            readings = [
                Reading(0.0, name, round(16.0 * (c + self._scatter())) / 16.0)
                for name, c in self.values.items()
            ]
            lines += self._firmware.lines(time.monotonic() - begun, readings)
            with suppress(BlockingIOError):
                self._board.send(b"".join(lines))

    def _scatter(self) -> float:
        return float(self._rng.normal(0.0, self.scatter_k))

    def stop(self) -> None:
        """Write no more."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(5.0)


Talk = Callable[..., Talking]


@pytest.fixture
def talk(board: Board) -> Iterator[Talk]:
    """Has the board talk until the test is over."""
    talking: list[Talking] = []

    def begin(form: LineForm = LineForm.SENML, **values: float) -> Talking:
        columns = {LineForm.COLUMNS: ("ms", "bath", "mix"), LineForm.FRAMES: ("bath", "mix")}
        setup = BoardSetup("rig-a", form, columns.get(form, ()), checksum=form is LineForm.COLUMNS)
        talking.append(Talking(board, setup, values or {"bath": -15.0, "mix": 3.5}))
        talking[-1].start()
        return talking[-1]

    yield begin
    for one in talking:
        one.stop()


@pytest.fixture
def configured(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a configuration with this source."""

    def make(source: str) -> Path:
        path = tmp_path / "rig.toml"
        path.write_text(RIG.format(source=source))
        return path

    return make


def found_by(wanted: Wanted) -> tuple[int, list[Finding]]:
    """The exit code of a check and what it found; the mixer is louder once it is asked for."""
    found: list[Finding] = []
    code = check(wanted, found.append, lambda _request: None)
    return code, found


def of(found: list[Finding], subject: str) -> list[Finding]:
    """All findings on a subject."""
    return [one for one in found if one.subject == subject]


def test_a_good_board_passes(board: Board, talk: Talk, configured: Callable[[str], Path]) -> None:
    """Port, answer, form, probes, places, clock and forecast; nothing is wrong."""
    talk()
    path = configured(f'source = "serial"\nport = "{board.port}"')
    code, found = found_by(Wanted(path, for_s=LISTEN_S))
    assert code == 0, [one.line for one in found]
    assert "rigmon-board rig-a" in of(found, "board")[0].text
    assert {one.level for one in of(found, "probe")} == {Level.OK}
    assert of(found, "places")[0].level is Level.OK
    assert "a second" in of(found, "probe")[0].text
    assert of(found, "forecast")[0].level is Level.OK
    assert all("\n" not in one.line for one in found)


def test_swapped_probes_and_a_form_set_wrong_are_told(
    board: Board, talk: Talk, configured: Callable[[str], Path]
) -> None:
    """Each with what to do, and exit code 1."""
    talk(bath=3.5, mix=-15.0)
    port = f'source = "serial"\nport = "{board.port}"'
    code, found = found_by(Wanted(configured(port), for_s=LISTEN_S))
    assert code == 1
    assert "swapped" in of(found, "places")[0].text
    wrong_form = f'{port}\nformat = "columns"\ncolumns = ["bath", "mix"]'
    code, found = found_by(Wanted(configured(wrong_form), for_s=LISTEN_S))
    assert code == 1
    assert 'write format = "senml"' in of(found, "form")[0].text


def test_the_mixer_is_heard_when_it_is_asked_for(
    board: Board, talk: Talk, configured: Callable[[str], Path]
) -> None:
    """Scatter beside the running mixer is set against that at rest."""
    talking = talk()
    path = configured(f'source = "serial"\nport = "{board.port}"')
    found: list[Finding] = []

    def switch(_request: str) -> None:
        talking.scatter_k = 1.4

    code = check(Wanted(path, for_s=LISTEN_S, mixer=True), found.append, switch)
    assert code == 1
    mixer = of(found, "mixer")
    assert {one.level for one in mixer} == {Level.WRONG}
    assert "at rest" in mixer[0].text
    assert "ferrite" in mixer[0].text


def test_a_straight_line_chip_is_recognised_in_ice(
    board: Board, talk: Talk, configured: Callable[[str], Path]
) -> None:
    """Type T at 6 °C in ice and water; told apart from a probe that is right."""
    talking = talk(bath=6.0, mix=0.25)
    path = configured(f'source = "serial"\nport = "{board.port}"')
    code, found = found_by(Wanted(path, for_s=LISTEN_S, in_bath_c=0.0))
    assert code == 1
    levels = {one.text.split()[0]: one.level for one in of(found, "converter")}
    assert levels == {"bath": Level.WRONG, "mix": Level.OK}
    talking.stop()


def test_a_silent_board_and_a_missing_port_are_told(
    board: Board, configured: Callable[[str], Path]
) -> None:
    """Nothing comes; there is no such port."""
    code, found = found_by(
        Wanted(configured(f'source = "serial"\nport = "{board.port}"'), for_s=1.0)
    )
    assert code == 1
    assert "Nothing comes" in of(found, "board")[0].text
    code, found = found_by(Wanted(configured('source = "serial"\nport = "/dev/ttyNOSUCH"')))
    assert code == 1
    assert "There is no port" in of(found, "port")[0].text


@pytest.mark.parametrize("form", list(LineForm))
def test_the_first_look_says_what_to_configure(board: Board, talk: Talk, form: LineForm) -> None:
    """Form, columns and checksum, guessed from what arrives."""
    talk(form)
    _, found = found_by(Wanted(port=board.port, for_s=LISTEN_S))
    said = of(found, "configure")[0].text
    assert f'format = "{form.value}"' in said
    assert f'port = "{board.port}"' in said
    assert ('checksum = "required"' in said) is (form is LineForm.COLUMNS)
    if form is LineForm.COLUMNS:
        assert 'columns = ["ms", "bath", "mix"]' in said


@pytest.mark.parametrize("form", list(LineForm))
def test_what_is_written_loads_and_reads_the_board(
    board: Board, talk: Talk, tmp_path: Path, form: LineForm
) -> None:
    """The first configuration is made without an answer, checks well, and is never overwritten."""
    talk(form)
    path = tmp_path / "first.toml"
    found: list[Finding] = []
    answers = Answers(port=board.port, kind="T", for_s=LISTEN_S)
    write(path, answers, lambda _q, _choices, suggested: suggested, found.append, "2026-07-04")
    (rig,) = load_config(path).rigs
    assert isinstance(rig.link, SerialLink)
    assert rig.link.format is form
    assert [probe.name for probe in rig.setup.probes] == ["bath", "mix"]
    _, checked = found_by(Wanted(path, for_s=LISTEN_S))
    assert {one.level for one in of(checked, "form")} == {Level.OK}
    with pytest.raises(UsageError, match="is there already"):
        write(path, answers, lambda _q, _c, s: s, found.append, "2026-07-04")
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".first")] == []


def test_probes_of_other_names_are_placed_by_answers(
    board: Board, talk: Talk, tmp_path: Path
) -> None:
    """By option, by an answer, or left out."""
    talk(tc1=-15.0, tc2=3.5, tc3=21.0)
    asked: list[str] = []

    def ask(question: str, _choices: object, suggested: str) -> str:
        asked.append(question)
        return "mix" if "'tc2'" in question else suggested

    answers = Answers("barn", board.port, kind="K", places=(("tc1", "bath"),), for_s=LISTEN_S)
    path = tmp_path / "barn.toml"
    write(path, answers, ask, lambda _finding: None, "2026-07-04")
    (rig,) = load_config(path).rigs
    assert rig.setup.id == "barn"
    assert [(p.name, p.sits_in.value, p.type) for p in rig.setup.probes] == [
        ("tc1", "bath", "K"),
        ("tc2", "mix", "K"),
    ]
    assert any("which reads 3.5 °C" in question for question in asked)


def test_a_port_is_overheard_byte_by_byte(board: Board) -> None:
    """Lines with their times, answers apart, and what is no whole line is counted."""

    def answer() -> None:
        assert board.heard(b"ping")
        board.send(b"# hello\n1,2\n3,")

    thread = threading.Thread(target=answer)
    thread.start()
    heard = overhear_port(SerialLink(board.port), 0.7)
    thread.join(5.0)
    assert [line for _, line in heard.lines] == [b"1,2"]
    assert heard.answers == (b"# hello",)
    assert heard.loose_bytes == 2


@pytest.fixture
def swept() -> Iterator[None]:
    """What amqtt leaves of connections that end while messages run is swept up with the test."""
    yield
    gc.collect()


LEFTOVERS = pytest.mark.filterwarnings(
    "ignore:Exception ignored in:pytest.PytestUnraisableExceptionWarning"
)
"""amqtt drops such connections without closing them; with mosquitto there are none."""


@pytest.fixture
def publishing(broker: Broker) -> Iterator[None]:
    """A board of rig `barn` that publishes sixteen packs a second."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect(HOST, broker.port)
    client.loop_start()
    client.publish("rigs/barn/status", "online", qos=1, retain=True)
    ended = threading.Event()

    def publish() -> None:
        n = 0
        while not ended.wait(0.06):
            n += 1
            values = {"bath": -15.0 + 0.0625 * (n % 2), "mix": 3.5 + 0.0625 * (n % 3)}
            pack = [{"n": name, "u": "Cel", "v": value} for name, value in values.items()]
            client.publish("rigs/barn/readings", json.dumps(pack), qos=0)

    thread = threading.Thread(target=publish)
    thread.start()
    yield
    ended.set()
    thread.join(5.0)
    gone = threading.Event()
    client.on_disconnect = lambda *_: gone.set()
    client.disconnect()
    assert gone.wait(5.0)
    client.loop_stop()


@LEFTOVERS
def test_a_rig_behind_a_broker_is_found_and_written(
    swept: None, broker: Broker, publishing: None, tmp_path: Path, configured: Callable[[str], Path]
) -> None:
    """Its topics are listed; a rig of another name is told; what is written checks well."""
    topics = {m.topic for m in overhear_broker(MqttLink(HOST, broker.port), 0.5)}
    assert topics == {"rigs/barn/readings", "rigs/barn/status"}
    source = f'source = "mqtt"\nbroker = "{HOST}:{broker.port}"'
    code, found = found_by(Wanted(configured(source), for_s=LISTEN_S))
    assert code == 1
    assert of(found, "broker")[0].level is Level.OK
    assert "Readings come for barn" in of(found, "topics")[0].text
    path = tmp_path / "barn.toml"
    answers = Answers(broker=f"{HOST}:{broker.port}", kind="T", for_s=LISTEN_S)
    write(path, answers, lambda _q, _c, s: s, lambda _finding: None, "2026-07-04")
    code, found = found_by(Wanted(path, for_s=LISTEN_S, log_path=tmp_path / "a.sqlite"))
    assert of(found, "status")[0].level is Level.OK
    assert of(found, "topics")[0].level is Level.OK
    assert {one.level for one in of(found, "probe")} == {Level.OK}


@LEFTOVERS
def test_a_broker_that_asks_for_a_password(
    swept: None, make_broker: MakeBroker, configured: Callable[[str], Path], tmp_path: Path
) -> None:
    """The right one lets us in; the wrong one is told, with where to look."""
    broker = make_broker(secured=True)
    secret = tmp_path / "secret"
    secret.touch(0o600)
    source = f'source = "mqtt"\nbroker = "{HOST}:{broker.port}"\nuser = "rigs"\n'
    path = configured(source + 'password_file = "secret"')
    for word, level, subject, text in (
        ("sesame", Level.OK, "topics", "Nothing arrives"),
        ("wrong", Level.WRONG, "broker", "Check the user, its password"),
    ):
        secret.write_text(word)
        code, found = found_by(Wanted(path, for_s=0.5))
        assert code == 1
        assert of(found, "broker")[0].level is level
        assert text in of(found, subject)[0].text
