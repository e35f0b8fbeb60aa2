"""Which sources serve which rigs."""

from __future__ import annotations

import pytest

from rigmon.records import LineForm, MqttLink, SerialLink, VirtualLink
from rigmon.sources import MqttSource, SerialSource, SourceCounts, check_link, open_sources


def test_each_port_has_a_source_and_each_broker_one() -> None:
    """Rigs behind the same broker with the same user share its connection."""
    home = MqttLink("broker.home", user="rigs")
    sources = open_sources(
        {
            "rig-a": SerialLink("/dev/ttyACM0"),
            "rig-b": SerialLink("/dev/ttyACM1", format=LineForm.COLUMNS, columns=("bath",)),
            "rig-c": home,
            "rig-d": MqttLink("broker.home", user="rigs", prefix="shed"),
            "rig-e": MqttLink("broker.home", user="guest"),
        }
    )
    assert [type(source) for source in sources] == [SerialSource] * 2 + [MqttSource] * 2


def test_virtual_rig_has_no_source_here() -> None:
    """It speaks through a port or broker of its own."""
    with pytest.raises(TypeError, match="rig-a is a virtual rig"):
        open_sources({"rig-a": VirtualLink()})
    check_link(VirtualLink())


def test_source_that_was_never_started_can_be_asked_and_stopped() -> None:
    """Stopping, counting and cueing need no port and no broker."""
    for source in open_sources({"rig-a": SerialLink("/dev/none"), "rig-b": MqttLink("nowhere")}):
        source.cue("rig-a", "low", "probe-silent")
        source.stop()
        source.stop()
        assert source.counts() == SourceCounts()
