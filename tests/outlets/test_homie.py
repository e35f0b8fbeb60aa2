"""What the Homie convention is told of a rig."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from rigmon.outlets import homie
from rigmon.outlets.glance import Glance
from rigmon.outlets.homie import NODES, description, values
from rigmon.records import Stage, State

MakeState = Callable[..., State]


def test_the_version_is_that_of_the_content(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same description keeps its version, another one has another, always a 64-bit integer."""
    told = [description("rig-a", virtual=False), description("rig-a", virtual=False)]
    told.append(description("rig-a", virtual=True))
    monkeypatch.setattr(homie, "NODES", dict(list(NODES.items())[:2]))
    told.append(description("rig-a", virtual=False))
    versions = [json.loads(one)["version"] for one in told]
    assert told[0] == told[1]
    assert len(set(versions)) == 3
    assert all(isinstance(version, int) and 0 <= version < 2**63 for version in versions)


def test_every_value_has_its_topic_from_the_start(make_state: MakeState) -> None:
    """So that nothing old is left under any of them; only the mark has none."""
    nothing = values(Glance("rig-a"), "")
    full = Glance("rig-a")
    full.tell(make_state(Stage.BEAT))
    known = {f"{node}/{name}" for node, (_, own) in NODES.items() for name in own}
    assert nothing.keys() == values(full, "2026-07-04T14:00:00Z").keys()
    assert {topic for topic in nothing if topic[0] != "$"} == known - {"run/mark"}
    assert {topic for topic, payload in nothing.items() if payload} == {"run/next"}
