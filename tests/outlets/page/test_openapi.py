"""The description of the interface describes what there is, all of it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rigmon.outlets.glance import Glance
from rigmon.outlets.page.app import Asked, Page, openapi
from rigmon.outlets.page.history import COLUMNS
from rigmon.outlets.page.hub import Hub
from rigmon.outlets.page.keys import Keys
from rigmon.records import (
    Alarm,
    AlarmState,
    Event,
    Forecast,
    Place,
    Priority,
    ProbeSeen,
    Stage,
    Summary,
)

if TYPE_CHECKING:
    from tests.outlets.page.conftest import MakeFull, Serve

DOCUMENT: Mapping[str, Any] = json.loads(openapi())
SCHEMAS: Mapping[str, Any] = DOCUMENT["components"]["schemas"]
STOP = Alarm(
    313.0, "plateau-reached", Priority.HIGH, AlarmState.UNACKNOWLEDGED, "Stop. It is.", {"do": "x"}
)


def faults(value: Any, schema: Mapping[str, Any], at: str = "") -> list[str]:
    """What of a value its schema (JSON Schema 2020-12, as far as it is used here) does not say."""
    if "$ref" in schema:
        return faults(value, SCHEMAS[schema["$ref"].rpartition("/")[2]], at)
    if "oneOf" in schema:
        return min((faults(value, one, at) for one in schema["oneOf"]), key=len)
    if "enum" in schema and value not in schema["enum"]:
        return [f"{at}: {value!r} is none of {schema['enum']}"]
    kinds: dict[str, Any] = {
        "object": dict,
        "array": list,
        "string": str,
        "number": (int, float),
        "integer": int,
        "boolean": bool,
        "null": type(None),
    }
    wanted = schema.get("type", list(kinds))
    if not any(isinstance(value, kinds[k]) for k in ([wanted] if type(wanted) is str else wanted)):
        return [f"{at}: {value!r} is no {wanted}"]
    found: list[str] = []
    if isinstance(value, dict):
        known, others = schema.get("properties", {}), schema.get("additionalProperties")
        found += [
            f"{at}.{key} is missing" for key in schema.get("required", ()) if key not in value
        ]
        for key, inner in value.items():
            if key in known:
                found += faults(inner, known[key], f"{at}.{key}")
            elif isinstance(others, dict):
                found += faults(inner, others, f"{at}.{key}")
            elif known and others is None:
                found.append(f"{at}.{key} is not described")
    if isinstance(value, list) and "items" in schema:
        for index, inner in enumerate(value):
            found += faults(inner, schema["items"], f"{at}[{index}]")
    return found


def test_every_address_is_described_and_every_description_is_one() -> None:
    """Neither a hidden way in nor a promise that is not kept; of a part, its method as well."""
    asked = Asked(lambda *_: {}, lambda _: {}, lambda _: False, lambda _: None)
    page = Page(Hub({"a": Glance("a")}), asked, {})
    served = {
        (route.path, method.lower())
        for route in page.routes()
        for method in route.methods or ()
        if method != "HEAD"
    }
    described = {
        (path, method) for path, methods in DOCUMENT["paths"].items() for method in methods
    }

    assert served == described
    assert page.app(Keys()) is not None


def test_every_reference_leads_somewhere() -> None:
    """And every schema is led to."""
    named = set(re.findall(r'"#/components/schemas/(\w+)"', openapi().decode()))
    roots = {"Hello", "Trend", "Answer", "MarkSaid", "Refused", "Figure"}
    roots |= {"Picture", "Rows", "Reading"}

    assert named | roots == set(SCHEMAS)


def test_what_is_sent_is_as_described(serve: Serve, full_state: MakeFull) -> None:
    """Every value of every event and answer, in a full state and before there is one."""
    page = serve()
    stream = page.stream()
    assert faults(stream.next("picture"), SCHEMAS["Picture"]) == []
    page.tell(full_state(), Forecast(312.0, Event.PLATEAU, 1, 690.0, 742.0, 815.0), STOP)
    assert faults(stream.next("row"), SCHEMAS["Rows"]) == []
    page.hub.read("rig-a", "bath", ProbeSeen(Place.BATH, -16.754, 312.6))
    reading = stream.next("reading")
    assert faults(reading, SCHEMAS["Reading"]) == []
    wanted = {"rig": "rig-a", "probe": "bath", "place": "bath", "c": -16.75, "at": 312.6}
    assert reading == wanted
    full = page.stream().next("picture")
    assert faults(full, SCHEMAS["Picture"]) == []
    assert full["next"]
    assert full["undo"]
    assert full["alarms"]
    for path, schema in (("hello", "Hello"), ("rigs/rig-a/trend", "Trend")):
        assert faults(page.json(f"/api/v1/{path}"), SCHEMAS[schema]) == []
    assert set(SCHEMAS["Row"]["properties"]) == set(COLUMNS)
    page.tell(Summary(1485.0, {"rounds": 1, "alarms": 2}))
    story = page.json("/api/v1/rigs/rig-a/story")
    assert [faults(one, SCHEMAS["Figure"]) for one in story] == [[], []]
    assert page.stream().next("picture")["stage"] == Stage.DONE


def test_a_fault_is_found(serve: Serve) -> None:
    """The check itself finds what is missing, wrong and not described."""
    picture = serve().stream().next("picture")
    del picture["verb"]
    picture |= {"stage": 7, "bonus": 1}

    assert len(faults(picture, SCHEMAS["Picture"])) == 3


def test_what_there_is_not(serve: Serve) -> None:
    """No such rig, run or plan: a plain answer, or a sentence that says why."""
    page = serve(rigs=("rig-a", "rig-b"))
    assert page.ask("/api/v1/rigs/none/trend")[0] == 404
    assert page.ask("/api/v1/stream?rig=none")[0] == 404
    assert page.ask("/api/v1/hello/")[0] == 404
    assert page.json("/api/v1/rigs/rig-a/plan")["ice_g"] == 2600.0
    for path, why in (
        ("rigs/rig-b/plan", "Without a recipe there is no plan"),
        ("rigs/rig-a/story", "No run has ended yet."),
        ("runs/rig-a-1/report", "There is no such report."),
    ):
        status, _, body = page.ask(f"/api/v1/{path}")
        assert (status, json.loads(body)["text"]) == (404, why)


def test_a_refused_mark_says_why(serve: Serve) -> None:
    """What the program answers reaches the finger that tapped."""
    assert serve().mark("refuse it") == (422, {"ok": False, "text": "Not now."})
