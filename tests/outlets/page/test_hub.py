"""Every page gets the newest picture and all rows, however slow it is, and nobody waits for it."""

from __future__ import annotations

import socket
import time
from typing import TYPE_CHECKING, Any

from rigmon.outlets.page.hub import BEAT_S, PICTURE_S, ROWS_S
from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    MarkHeard,
    MarkWord,
    Place,
    Priority,
    ProbeSeen,
)
from tests.waiting import until

if TYPE_CHECKING:
    from tests.outlets.page.conftest import MakeFull, Serve, Stream

STOP = Alarm(313.0, "plateau-reached", Priority.HIGH, AlarmState.UNACKNOWLEDGED, "Stop. It is.")
ACK = MarkHeard(320.0, MarkWord.ACK, By.MAKER, {}, "Acknowledged.")


def rows_of(stream: Stream, last_at: float) -> list[float]:
    """Run times of the rows that come, up to one."""
    times: list[float] = []
    for name, data in stream:
        if name == "row":
            times += [row["at"] for row in data["rows"]]
            if times[-1] >= last_at:
                break
    return times


def test_a_page_is_shown_at_once_how_things_stand(serve: Serve, full_state: MakeFull) -> None:
    """Who joins late gets a picture with the first bytes, and rows as they come."""
    page = serve()
    page.tell(full_state())
    stream = page.stream()
    began = time.monotonic()
    picture = stream.next("picture")
    assert picture["at"] == 312.0
    assert time.monotonic() - began < 0.5
    page.tell(full_state(313.0))
    row = stream.next("row")

    assert row["rig"] == "rig-a"
    assert row["rows"] == [
        {
            "at": 313.0,
            "bath": -16.75,
            "bath_fit": -16.8,
            "mix": -2.6,
            "mix_fit": -2.61,
            "frozen": 6.5,
            "core": None,
            "room": None,
            "freezer": None,
        }
    ]


def test_a_picture_a_second_but_an_alarm_at_once(serve: Serve, full_state: MakeFull) -> None:
    """However many states there are a second a page gets a picture a second; alarms do not wait."""
    page = serve()
    page.tell(full_state(0.0))
    stream = page.stream()
    stream.next("picture")
    began, pictures = time.monotonic(), list[tuple[float, Any]]()
    for i in range(60):
        page.tell(full_state(1.0 + i))
        time.sleep(0.02)
    page.tell(STOP)
    told = time.monotonic() - began
    for name, data in stream:
        if name == "picture":
            pictures.append((time.monotonic() - began, data))
            if data["alarms"]:
                break

    assert len(pictures) <= 1 + told / PICTURE_S + 1
    assert pictures[-1][0] - told < 0.5
    assert pictures[-1][1]["verb"] == "Stop"


def test_a_reading_is_sent_at_once_but_ten_times_a_second_at_most(
    serve: Serve, full_state: MakeFull
) -> None:
    """Whoever listens has it in a blink; of a hundred a second the newest, ten times."""
    page = serve(rigs=("rig-a", "rig-b"))
    page.tell(full_state())
    page.hub.read("rig-a", "bath", ProbeSeen(Place.BATH, -16.0, 311.0))
    stream, other = page.stream(), page.stream("/api/v1/stream?rig=rig-b")
    stream.next("picture")
    time.sleep(2 * ROWS_S)
    began = time.monotonic()
    page.hub.read("rig-a", "mix", ProbeSeen(Place.MIX, -2.614, 312.5))
    told = {"rig": "rig-a", "probe": "mix", "place": "mix", "c": -2.61, "at": 312.5}
    assert stream.next("reading") == told
    assert time.monotonic() - began < 0.15

    began, last = time.monotonic(), 313.0
    for i in range(100):
        for probe, place in (("bath", Place.BATH), ("mix", Place.MIX)):
            page.hub.read("rig-a", probe, ProbeSeen(place, -i / 100.0, last + i / 100.0))
        time.sleep(0.005)
    took = time.monotonic() - began
    came = [stream.next("reading")]
    while (came[-1]["probe"], came[-1]["at"]) != ("mix", 313.99):
        came.append(stream.next("reading"))
    for probe in ("bath", "mix"):
        times = [one["at"] for one in came if one["probe"] == probe]
        assert times == sorted(set(times))
        assert times[-1] == 313.99
        assert len(times) <= took / ROWS_S + 2
    assert {name for name, _ in up_to(other, "beat")} <= {"picture", "beat"}


def up_to(stream: Stream, last: str) -> list[tuple[str, Any]]:
    """Events up to one of a name."""
    found: list[tuple[str, Any]] = []
    for event in stream:
        found.append(event)
        if event[0] == last:
            break
    return found


def test_an_answer_of_another_page_reaches_this_one(serve: Serve, full_state: MakeFull) -> None:
    """Acknowledged on one phone, an alarm is silent on all of them at once."""
    page = serve()
    page.tell(full_state(), STOP)
    streams = [page.stream() for _ in range(3)]
    assert [one.next("picture")["alarms"][0]["state"] for one in streams] == ["unacknowledged"] * 3
    page.tell(Alarm(320.0, STOP.code, STOP.priority, AlarmState.ACKNOWLEDGED, STOP.text), ACK)
    began = time.monotonic()

    states = [one.next("picture")["alarms"][0]["state"] for one in streams]
    assert states == ["acknowledged"] * 3
    assert time.monotonic() - began < 0.5


def test_who_was_away_gets_what_it_missed(serve: Serve, full_state: MakeFull) -> None:
    """With its last number a page gets every row since, none twice, and then goes on."""
    page = serve()
    first = page.stream()
    first.next("picture")
    for at in range(5):
        page.tell(full_state(float(at)))
    assert rows_of(first, 4.0) == [0.0, 1.0, 2.0, 3.0, 4.0]
    first.close()
    for at in range(5, 1505):
        page.tell(full_state(float(at)))
    again = page.stream(last_event_id=first.last_id)
    by_address = page.stream(f"/api/v1/stream?since={first.last_id}")

    assert rows_of(again, 1504.0) == [float(at) for at in range(5, 1505)]
    assert rows_of(by_address, 1504.0) == [float(at) for at in range(5, 1505)]
    page.tell(full_state(1505.0))
    assert rows_of(again, 1505.0) == [1505.0]


def test_the_trend_and_the_stream_join_without_a_gap(serve: Serve, full_state: MakeFull) -> None:
    """A page that reads the whole run and then listens from its number has all of it."""
    page = serve()
    for at in range(50):
        page.tell(full_state(float(at)))
    trend = page.json("/api/v1/rigs/rig-a/trend")
    page.tell(full_state(50.0))
    stream = page.stream(f"/api/v1/stream?since={trend['seq']}")

    assert trend["columns"]["at"] == [float(at) for at in range(50)]
    assert rows_of(stream, 50.0) == [50.0]


def test_a_number_covers_all_rigs(serve: Serve, full_state: MakeFull) -> None:
    """A break in the middle of what was sent of two rigs loses no row of either."""
    page = serve(rigs=("rig-a", "rig-b"))
    for at in range(20):
        page.tell(full_state(float(at)), rig="rig-a")
        page.tell(full_state(float(at)), rig="rig-b", run="rig-b-1")
    stream = page.stream("/api/v1/stream?since=0")
    got = {"rig-a": set[float](), "rig-b": set[float]()}
    for name, data in stream:
        if name == "row":
            got[data["rig"]] |= {row["at"] for row in data["rows"]}
            break  # Cut off after the first rig's rows.
    stream.close()
    again = page.stream(last_event_id=stream.last_id)
    for name, data in again:
        if name == "row":
            got[data["rig"]] |= {row["at"] for row in data["rows"]}
        if all(len(times) == 20 for times in got.values()):
            break

    assert got["rig-a"] == got["rig-b"] == {float(at) for at in range(20)}


def test_only_one_rig_if_only_one_is_wanted(serve: Serve, full_state: MakeFull) -> None:
    """The others' pictures are not sent."""
    page = serve(rigs=("rig-a", "rig-b"))
    page.tell(full_state(), rig="rig-a")
    page.tell(full_state(), rig="rig-b")
    stream = page.stream("/api/v1/stream?rig=rig-b")

    assert stream.next("picture")["rig"] == "rig-b"
    assert stream.next("beat") == {}


def test_while_nothing_is_said_it_says_that_it_lives(serve: Serve) -> None:
    """A page knows within three seconds that the program has gone."""
    page = serve()
    stream = page.stream()
    stream.next("picture")
    began = time.monotonic()
    stream.next("beat")
    stream.next("beat")

    assert time.monotonic() - began < 2 * BEAT_S + 0.8


def test_it_says_goodbye(serve: Serve) -> None:
    """When the program ends every page is told, rather than left to find out."""
    page = serve()
    stream = page.stream()
    stream.next("picture")
    page.hub.close()

    assert stream.next("bye") == {}
    assert list(stream) == []


def test_a_page_that_takes_nothing_costs_nobody_anything(
    serve: Serve, full_state: MakeFull
) -> None:
    """Nothing waits for it and nothing is heaped up for it; the others are told in time."""
    page = serve()
    stuck = socket.create_connection(("127.0.0.1", page.port))
    stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    stuck.sendall(b"GET /api/v1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
    stream = page.stream()
    stream.next("picture")
    slowest = 0.0
    for at in range(3000):
        began = time.monotonic()
        page.tell(full_state(float(at)))
        slowest = max(slowest, time.monotonic() - began)

    assert rows_of(stream, 2999.0)[-1] == 2999.0
    assert slowest < 0.2
    stuck.close()


def test_a_page_that_goes_is_forgotten(serve: Serve, full_state: MakeFull) -> None:
    """Phones come and go all evening."""
    page = serve()
    page.tell(full_state())
    streams = [page.stream() for _ in range(20)]
    for one in streams:
        one.next("picture")
    assert page.hub.streams == 20
    for one in streams:
        one.close()

    until(lambda: page.hub.streams == 0)


def test_too_many_pages_are_told_so(serve: Serve, full_state: MakeFull, monkeypatch: Any) -> None:
    """A bounded number listens; one more gets a sentence, not a hanging connection."""
    monkeypatch.setattr("rigmon.outlets.page.app.MOST_STREAMS", 2)
    page = serve()
    page.tell(full_state())
    for one in [page.stream() for _ in range(2)]:
        one.next("picture")
    status, headers, body = page.ask("/api/v1/stream")

    assert (status, headers["retry-after"]) == (503, "5")
    assert b"close one" in body


def test_what_is_old_is_shown_but_hurries_nobody(serve: Serve, full_state: MakeFull) -> None:
    """A run that is taken up fills the trend without a picture for each of its seconds."""
    page = serve()
    stream = page.stream()
    stream.next("picture")
    for at in range(100):
        page.hub.tell("rig-a", "rig-a-1", full_state(float(at)), old=True)
    page.tell(full_state(100.0), run="rig-a-1")

    assert rows_of(stream, 100.0) == [float(at) for at in range(101)]
