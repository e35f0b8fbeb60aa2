"""A rig as the Homie convention 5 describes a device: what it has, and what each value is.

https://homieiot.github.io/specification, version 5.0.0 of 11 May 2025.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping

from rigmon.outlets.glance import Glance
from rigmon.outlets.jsonlines import as_dict
from rigmon.outlets.message import VIRTUAL
from rigmon.records import Event, Stage
from rigmon.run.alarms import RULES

STATE = "$state"
DESCRIPTION = "$description"
MARK = "run/mark/set"

_Property = Mapping[str, str | bool]


def _property(name: str, datatype: str, **more: str | bool) -> _Property:
    return {"name": name, "datatype": datatype, **more}


NODES: Mapping[str, tuple[str, Mapping[str, _Property]]] = {
    "bath": (
        "Bath of ice and salt",
        {
            "temperature": _property("Temperature", "float", unit="°C"),
            "brine": _property("Salt in the brine", "float", unit="%", format="0:100"),
            "ice-left": _property("Ice left", "integer", unit="g", format="0:"),
        },
    ),
    "mix": (
        "Mix",
        {
            "temperature": _property("Temperature", "float", unit="°C"),
            "frozen": _property("Share of its water frozen", "float", unit="%", format="0:100"),
            "cooling": _property("Heat out of the mix", "integer", unit="W"),
        },
    ),
    "run": (
        "Run",
        {
            "stage": _property("Stage", "enum", format=",".join(Stage)),
            "round": _property("Round", "integer", format="0:"),
            "next": _property("What to do next", "string"),
            "since": _property("Begin of the stage", "datetime"),
            "mark": _property("Mark", "string", settable=True, retained=False),
        },
    ),
    "forecast": (
        "Forecasts, in seconds of the run",
        {event.value: _property(event.value, "json") for event in Event},
    ),
}
"""Each node's name and properties, as the description lists them."""


def description(rig_id: str, *, virtual: bool) -> str:
    """The description of a rig; its version is another one once anything in it is."""
    told: dict[str, object] = {
        "homie": "5.0",
        "name": f"{rig_id}, {VIRTUAL}" if virtual else rig_id,
        "type": "frozen-dessert-rig",
        "nodes": {
            node: {"name": name, "properties": properties}
            for node, (name, properties) in NODES.items()
        },
    }
    content = json.dumps(told, ensure_ascii=False, separators=(",", ":"))
    return json.dumps(
        {"version": zlib.crc32(content.encode()), **told}, ensure_ascii=False, separators=(",", ":")
    )


def values(glance: Glance, since: str) -> dict[str, str]:
    """Every value and alert, by its topic below the device's; "" for one that there is not.

    Args:
        glance: what is known of the rig.
        since: when the stage began, in ISO 8601; "" if it has not.
    """
    state = glance.state
    told = dict.fromkeys(
        (
            f"{node}/{name}"
            for node, (_, properties) in NODES.items()
            for name, one in properties.items()
            if one.get("retained", True)
        ),
        "",
    )
    if state is not None:
        seen = state.estimate
        told |= {
            "bath/temperature": _number(seen.bath_c, 1),
            "bath/brine": _number(seen.brine_pct, 1),
            "bath/ice-left": _number(seen.ice_left_g),
            "mix/temperature": _number(seen.mix_c, 1),
            "mix/frozen": _number(seen.frozen_pct, 1),
            "mix/cooling": _number(seen.cooling_w),
            "run/stage": state.stage.value,
            "run/round": str(state.round),
            "run/since": since,
        }
    for event, forecast in glance.forecasts.items():
        told[f"forecast/{event.value}"] = json.dumps(as_dict(forecast), separators=(",", ":"))
    head = f"{VIRTUAL}: " if glance.virtual else ""
    line = glance.headline()
    # An alarm's reason is a sentence, any other the rest of one.
    told["run/next"] = f"{head}{line.verb}{'. ' if line.priority else ': '}{line.reason}"
    for code in RULES:
        alarm = glance.alarms.get(code)
        told[f"$alert/{code}"] = head + alarm.text if alarm is not None else ""
    return told


def _number(value: float | None, digits: int = 0) -> str:
    """A number as the convention writes it.

    >>> _number(-16.84, 1), _number(2010.4), _number(-0.04, 1), _number(None)
    ('-16.8', '2010', '0.0', '')
    """
    if value is None:
        return ""
    # Adding zero takes the sign off a negative zero.
    return f"{round(value, digits) + 0.0:.{digits}f}"
