"""Where readings come from: serial ports and MQTT brokers, each behind the same narrow seam."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rigmon.records import Link, MqttLink, SerialLink
from rigmon.sources.base import Now, Put, Source, SourceCounts
from rigmon.sources.broker import check_broker
from rigmon.sources.decoded import BadChecksum, BadLine, Decoded
from rigmon.sources.mqtt import MqttSource
from rigmon.sources.serial_check import Port, check_port, list_ports, list_ports_text
from rigmon.sources.serial_port import SerialSource
from rigmon.sources.wire import Decoder, checksum

__all__ = [
    "BadChecksum",
    "BadLine",
    "Decoded",
    "Decoder",
    "MqttSource",
    "Now",
    "Port",
    "Put",
    "SerialSource",
    "Source",
    "SourceCounts",
    "check_broker",
    "check_link",
    "check_port",
    "checksum",
    "list_ports",
    "list_ports_text",
    "open_sources",
]


def check_link(link: Link) -> None:
    """First contact with a rig's board, before watching begins.

    Raises:
        DeviceError: the port or broker cannot be reached.
    """
    if isinstance(link, SerialLink):
        check_port(link)
    elif isinstance(link, MqttLink):
        check_broker(link)


def open_sources(links: Mapping[str, Link], *, marks: bool = True) -> list[Source]:
    """The sources that serve these rigs: one a serial port, one a broker.

    Args:
        links: how each rig's readings arrive, by its id.
        marks: take marks from brokers.

    Raises:
        TypeError: a rig is virtual; its source is joined where the virtual rig is known.
    """
    sources: list[Source] = []
    brokers: dict[MqttLink, dict[str, MqttLink]] = {}
    for rig_id, link in links.items():
        if isinstance(link, SerialLink):
            sources.append(SerialSource(rig_id, link))
        elif isinstance(link, MqttLink):
            brokers.setdefault(replace(link, prefix=""), {})[rig_id] = link
        else:
            raise TypeError(f"{rig_id} is a virtual rig, which has no source here")
    return sources + [MqttSource(rigs, marks=marks) for rigs in brokers.values()]
