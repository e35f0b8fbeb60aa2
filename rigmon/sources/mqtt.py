"""Boards behind an MQTT broker: readings, board states and marks in, cues out."""

from __future__ import annotations

import threading
from collections.abc import Mapping

from paho.mqtt.client import Client, MQTTMessage

from rigmon.records import MqttLink
from rigmon.sources.base import Now, Put, SourceCounts
from rigmon.sources.broker import Call, reason
from rigmon.sources.decoded import BadLine, Decoded
from rigmon.sources.ledger import NEWS_EVERY_S, Cues, Ledger
from rigmon.sources.senml import probe_of
from rigmon.sources.wire import Decoder, decode_plain
from rigmon.texts import Sentence, marked

HOMIE = "homie/5"
MARKS = "run/mark/set"
MAX_PAYLOAD_BYTES = 16 * 1024
KEPT_FOR_DUPLICATES = 4096
FIRST_RETRY_S = 0.5
LAST_RETRY_S = 5.0
STOP_WITHIN_S = 0.9
_TRYING = marked("{rig}: {why} Trying again until it is there.")
_LISTENING = marked("{rig}: listening at the broker {where}.")
_LISTENING_BUT = marked("{rig}: listening at the broker {where}. It does not let us read {topics}.")
_NO_RIG = marked("{topic!r} names no rig that is configured; those are {rigs}.")
_ONLINE = marked("{rig}: the board is online.")
_OFFLINE = marked("{rig}: the board is offline.")


class MqttSource:
    """Readings of the boards behind one broker.

    Args:
        links: for each rig's id, the broker and the prefix of its topics; the broker and its
            credentials are the same for all.
        marks: take the marks that the Homie convention brings; an outlet for it takes them itself.
    """

    def __init__(self, links: Mapping[str, MqttLink], *, marks: bool = True) -> None:
        self._prefixes = {rig: link.prefix for rig, link in links.items()}
        self._link = next(iter(links.values()))
        self._marks = {f"{HOMIE}/{rig}/{MARKS}": rig for rig in links if marks}
        self._decoder = Decoder(max_bytes=MAX_PAYLOAD_BYTES)
        self._ledger = Ledger()
        self._cues = Cues()
        self._seen: dict[object, None] = {}
        self._found = False
        self._ended = threading.Event()
        self._thread = threading.Thread(
            target=self._run, name=f"mqtt-{self._link.host}", daemon=True
        )

    def start(self, put: Put, now: Now) -> None:
        """Connect and listen, for ever."""
        self._ledger.begin(put, now)
        self._thread.start()

    def stop(self) -> None:
        """Leave the broker; a name server or host that does not answer is not waited for."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(STOP_WITHIN_S)

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Have the rig's board sound an alarm, once the broker is there."""
        self._cues.set(rig_id, level, code)

    def counts(self) -> SourceCounts:
        """What has been seen so far."""
        return self._ledger.counts()

    def _run(self) -> None:
        filters = [
            (f"{prefix}/{topic}", 1)
            for prefix in sorted(set(self._prefixes.values()))
            for topic in ("+/readings", "+/readings/+", "+/status")
        ] + [(topic, 2) for topic in self._marks]
        retry_s = FIRST_RETRY_S
        told: set[str] = set()
        while not self._ended.is_set():
            call = Call(self._link, filters, self._online, self._message)
            try:
                why = call.run(self._ended, self._send_cues)
            except Exception as error:  # noqa: BLE001 - a broker may send anything; we outlive it
                why = reason(self._link, error)
            if self._ended.is_set():
                return
            if call.ready:
                retry_s = FIRST_RETRY_S
                told.clear()
            if why not in told:
                self._tell_all("broker-lost", _TRYING, why=why)
                told.add(why)
            self._ended.wait(retry_s)
            retry_s = min(2.0 * retry_s, LAST_RETRY_S)

    def _online(self, denied: list[str]) -> None:
        self._ledger.add("reconnects", int(self._found))
        self._found = True
        for rig in self._prefixes:
            self._cues.repeat(rig)
        where = f"{self._link.host}:{self._link.port}"
        text = _LISTENING_BUT if denied else _LISTENING
        self._tell_all("online", text, where=where, topics=", ".join(denied))

    def _tell_all(self, what: str, text: str, **figures: object) -> None:
        for rig in self._prefixes:
            self._ledger.news(rig, what, Sentence(text, rig=rig, **figures))

    def _send_cues(self, client: Client) -> None:
        for rig, text in self._cues.take():
            if rig in self._prefixes:
                client.publish(f"{self._prefixes[rig]}/{rig}/cue", text, qos=1)

    def _message(self, message: MQTTMessage) -> None:
        """Take a message; whatever is wrong with it costs this message only."""
        self._ledger.add("lines")
        first = next(iter(self._prefixes))
        payload = bytes(message.payload)
        try:
            topic = message.topic
            rig, parts = self._placed(topic)
            if rig:
                self._take(rig, parts, payload, message.retain, topic)
            else:
                self._unknown(first, topic)
        except Exception as why:  # noqa: BLE001 - an exception here would end the connection
            self._ledger.bad(first, BadLine(f"a message failed ({why!r})"), payload)

    def _take(self, rig: str, parts: list[str], payload: bytes, retain: bool, topic: str) -> None:
        try:
            if len(payload) > MAX_PAYLOAD_BYTES:
                raise BadLine(f"{topic} carries more than {MAX_PAYLOAD_BYTES} bytes")  # noqa: TRY301 - it is told where the others are
            if parts == ["status"]:
                self._status(rig, payload)
            elif retain:
                self._ledger.too_old(rig, topic)
            elif parts == ["mark"]:
                self._ledger.mark_text(rig, payload)
            else:
                self._readings(rig, parts, payload, topic)
        except BadLine as why:
            self._ledger.bad(rig, why, payload)

    def _placed(self, topic: str) -> tuple[str, list[str]]:
        """The known rig that a topic belongs to, and the topic's rest; "" where there is none."""
        if topic in self._marks:
            return self._marks[topic], ["mark"]
        for rig, prefix in self._prefixes.items():
            if topic.startswith(f"{prefix}/{rig}/"):
                return rig, topic.removeprefix(f"{prefix}/{rig}/").split("/")
        return "", []

    def _unknown(self, rig: str, topic: str) -> None:
        self._ledger.add("unknown")
        text = Sentence(_NO_RIG, topic=topic, rigs=", ".join(self._prefixes))
        self._ledger.news(rig, "unknown-rig", text, topic, ("unknown-rig", NEWS_EVERY_S))

    def _status(self, rig: str, payload: bytes) -> None:
        word = payload.decode(errors="replace").strip()
        if word not in {"online", "offline"}:
            raise BadLine("a status is online or offline")
        if word == "online":
            self._cues.repeat(rig)
        text = _ONLINE if word == "online" else _OFFLINE
        self._ledger.news(rig, word, Sentence(text, rig=rig))

    def _readings(self, rig: str, parts: list[str], payload: bytes, topic: str) -> None:
        now = self._ledger.now()
        if len(parts) > 1:
            decoded = decode_plain(payload, probe_of(parts[1])[0], now)
        else:
            decoded = self._decoder.line(payload, now)
        self._ledger.decoded(rig, self._first_time(rig, decoded), topic)

    def _first_time(self, rig: str, decoded: Decoded) -> Decoded:
        """What has not come before, told by the board's own time and the value."""
        kept = []
        for reading in decoded.readings:
            if reading.board_s is not None:
                # A sum of a base time and another, so never the same to the last bit twice.
                board_ms = round(1000.0 * reading.board_s)
                key = rig, reading.probe, board_ms, reading.value, reading.unit, reading.fault
                if key in self._seen:
                    self._ledger.add("duplicates")
                    continue
                if len(self._seen) >= KEPT_FOR_DUPLICATES:
                    del self._seen[next(iter(self._seen))]
                self._seen[key] = None
            kept.append(reading)
        return Decoded(tuple(kept), decoded.faults)
