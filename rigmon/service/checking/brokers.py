"""A board behind a broker: let in, and what arrives there for which rig."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from rigmon.errors import DeviceError
from rigmon.records import MqttLink, Reading
from rigmon.service.checking.finding import Finding, look, ok, wrong
from rigmon.sources import BadLine, Decoder
from rigmon.sources.mqtt import MAX_PAYLOAD_BYTES
from rigmon.sources.overhear import Message, overhear_broker
from rigmon.sources.senml import probe_of
from rigmon.sources.wire import decode_plain

_SHOWN = 6


def listen(link: MqttLink, for_s: float) -> tuple[Finding, tuple[Message, ...]]:
    """Listen to everything below a broker's prefix for `for_s` [s]; says how the broker answers."""
    try:
        messages = overhear_broker(link, for_s)
    except DeviceError as why:
        return wrong("broker", str(why)), ()
    who = f"as {link.user!r}" if link.user else "without a user"
    return ok("broker", f"{link.host}:{link.port} lets us in {who}."), messages


def rigs_heard(messages: Sequence[Message], prefix: str) -> dict[str, int]:
    """The rigs of which readings arrive, with the number of messages, most first."""
    found: Counter[str] = Counter()
    for message in messages:
        parts = message.topic.removeprefix(f"{prefix}/").split("/")
        if len(parts) >= 2 and parts[1] == "readings" and not message.retained:
            found[parts[0]] += 1
    return dict(found.most_common())


def of_topics(messages: Sequence[Message], link: MqttLink, rig_id: str) -> Iterator[Finding]:
    """What arrives, and whether it is for the rig."""
    topics = Counter(message.topic for message in messages)
    mine = [message for message in messages if _is_for(message, link, rig_id)]
    fresh = [message for message in mine if not message.retained]
    listed = ", ".join(f"{topic} ({n})" for topic, n in topics.most_common(_SHOWN))
    if not topics:
        yield wrong(
            "topics",
            f"Nothing arrives under {link.prefix}/: is the board on, and does it publish to "
            f"{link.prefix}/{rig_id}/readings?",
        )
    elif not mine:
        others = ", ".join(rigs_heard(messages, link.prefix))
        more = (
            f" Readings come for {others}: name the rig so, or change the board." if others else ""
        )
        yield wrong(
            "topics", f"Nothing arrives under {link.prefix}/{rig_id}/readings.{more} {listed}"
        )
    elif not fresh:
        yield wrong(
            "topics",
            f"Only kept messages arrive ({listed}), old on arrival: the board must send readings "
            "unretained, and is silent now.",
        )
    else:
        kept = len(mine) - len(fresh)
        more = f" {kept} of them were retained: have readings sent unretained." if kept else ""
        yield (look if kept else ok)("topics", f"{listed}.{more}")
    status = next(
        (m.payload for m in reversed(messages) if m.topic == f"{link.prefix}/{rig_id}/status"), None
    )
    if status is None and mine:
        yield look(
            "status",
            f"The board says nothing under {link.prefix}/{rig_id}/status: with offline there as "
            "its Last Will its loss is told at once.",
        )
    elif status is not None:
        word = status.decode(errors="replace")[:20]
        yield (ok if word == "online" else wrong)("status", f"The board says it is {word}.")


def _is_for(message: Message, link: MqttLink, rig_id: str) -> bool:
    topic = f"{link.prefix}/{rig_id}/readings"
    return message.topic == topic or message.topic.startswith(f"{topic}/")


def readings_of(
    messages: Sequence[Message], link: MqttLink, rig_id: str
) -> tuple[list[tuple[float, Reading]], list[str]]:
    """The readings of a rig, each with the time at which it came, and what could not be read."""
    decoder = Decoder(max_bytes=MAX_PAYLOAD_BYTES)
    readings: list[tuple[float, Reading]] = []
    bad: list[str] = []
    topic = f"{link.prefix}/{rig_id}/readings"
    for message in messages:
        if message.retained or not _is_for(message, link, rig_id):
            continue
        try:
            if message.topic == topic:
                decoded = decoder.line(message.payload, message.t)
            else:
                name = message.topic.removeprefix(f"{topic}/")
                decoded = decode_plain(message.payload, probe_of(name)[0], message.t)
        except BadLine as why:
            bad.append(f"{message.topic}: {why}")
        else:
            readings += [(message.t, reading) for reading in decoded.readings]
    return readings, bad
