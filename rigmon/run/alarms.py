"""The table of alarms and notices.

An alarm stands here only if the maker can do something about it in time; what only is worth
knowing is a notice. What a row says is said nowhere else: the page, the terminal, the buzzer and
the documents read it from here. Figures marked "own choice" have no source; those marked "common
practice" have no source either, but are what makers do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from rigmon.records import AlarmSetting, DetailValue, Place, Priority, Stage
from rigmon.run.alarmrule import AlarmRule, Limit, NoticeRule, Sound, Trip

_BEFORE_DONE = frozenset(Stage) - {Stage.DONE}
_BEAT = frozenset({Stage.BEAT})
_REST = frozenset({Stage.REST})
_IN_THE_BATH = _BEAT | _REST
_TUBS = frozenset({Stage.HARDEN})
_BASE = frozenset({Stage.BASE})
_HIGH, _MEDIUM, _LOW = Priority.HIGH, Priority.MEDIUM, Priority.LOW
_MIX, _BATH = frozenset({Place.MIX}), frozenset({Place.BATH})
_CORE, _FREEZER = frozenset({Place.CORE}), frozenset({Place.FREEZER})

SOUNDS: Mapping[Priority, Sound] = {
    Priority.HIGH: Sound(on_ms=250, off_ms=150, bursts=3, again_s=10.0),
    Priority.MEDIUM: Sound(on_ms=400, off_ms=300, bursts=2, again_s=20.0),
    Priority.LOW: Sound(on_ms=700, off_ms=0, bursts=1, again_s=0.0),
}
"""How an alarm sounds, by its priority (own choice)."""

RULES: Mapping[str, AlarmRule] = {
    rule.code: rule
    for rule in (
        AlarmRule(
            "plateau-reached",
            "Stop: to the freezer",
            _HIGH,
            "the mix has stopped stiffening",
            "more beating only warms it",
            "stop beating and rest it in the freezer, unless bath, wall or speed hold it up",
            180.0,
            _BEAT,
            15.0,
            30.0,
            Limit(0.5, 0.2, "", "probability that the mix has stopped stiffening", 0.3, 0.99),
        ),
        AlarmRule(
            "melt-onset",
            "Stop: pack",
            _HIGH,
            "in a later round the mix has passed its stiffest and loses ice",
            "what melts freezes again as coarse ice",
            "stop beating, stir in what goes in, pack",
            60.0,
            _BEAT,
            10.0,
            30.0,
            Limit(0.9, 0.4, "", "probability that the mix loses ice", 0.5, 0.99),
        ),
        AlarmRule(
            "base-cooling-slow",
            "Cool the base faster",
            _HIGH,
            "the cooked base will not be cold within the time the food code allows",
            "bacteria can grow in it",
            "ice bath, shallow pans, stir",
            1800.0,
            _BASE,
            60.0,
            120.0,
        ),
        AlarmRule(
            "bath-limit-near",
            "Recharge",
            _MEDIUM,
            "the bath will be too warm before the round is over",
            "the mix stops stiffening too early",
            "add ice and salt",
            600.0,
            _IN_THE_BATH,
            20.0,
            60.0,
            Limit(600.0, 300.0, "s", "time to the bath limit", 60.0, 3600.0, falling=True),
            _BATH,
        ),
        AlarmRule(
            "probe-silent",
            "Check the probe",
            _MEDIUM,
            "a probe sends nothing",
            "nothing can be said from it",
            "check the lead, the board and its power",
            300.0,
            _BEFORE_DONE,
            25.0,
            5.0,
        ),
        AlarmRule(
            "probe-fault",
            "Check the probe",
            _MEDIUM,
            "the converter reports a broken circuit or an impossible temperature",
            "nothing can be said from that probe",
            "check its plug and its tip",
            300.0,
            _BEFORE_DONE,
            3.0,
            5.0,
        ),
        AlarmRule(
            "freezer-warm",
            "Turn the freezer down",
            _MEDIUM,
            "the freezer has been too warm for half an hour, or its power is off",
            "the tubs coarsen or thaw",
            "check door, plug and setting",
            7200.0,
            _TUBS,
            1800.0,
            300.0,
            Limit(-15.0, 1.0, "°C", "freezer air", -30.0, -5.0),
            _FREEZER,
        ),
        AlarmRule(
            "log-stopped",
            "Make room on the disk",
            _MEDIUM,
            "the run log cannot be written",
            "what is not written is lost when the program ends",
            "make room on the disk",
            3600.0,
            frozenset(Stage),
            0.0,
            0.0,
        ),
        AlarmRule(
            "monitor-failed",
            "Watch it yourself",
            _HIGH,
            "a fault of the program's own keeps it from following the rig",
            "nobody is told when to stop or to recharge",
            "go by eye and feel; stop rigmon and start it again",
            60.0,
            frozenset(Stage),
            0.0,
            0.0,
        ),
        AlarmRule(
            "recharge-short",
            "Stir the bath",
            _LOW,
            "after a recharge the bath did not come down",
            "the bath gives out again within minutes",
            "break up caked salt, stir; then add salt, or ice if little floats",
            300.0,
            _IN_THE_BATH,
            15.0,
            60.0,
            Limit(0.5, 0.5, "K", "how far the bath stands above where it should", 0.0, 10.0),
            _BATH,
        ),
        AlarmRule(
            "ice-gone",
            "Add ice",
            _LOW,
            "next to no ice is left in the bath",
            "the bath warms quickly from here on",
            "add ice, and salt for the water it leaves",
            300.0,
            _IN_THE_BATH,
            30.0,
            60.0,
            Limit(5.0, 3.0, "%", "ice left of all ice put in", 0.0, 50.0, falling=True),
            _BATH,
        ),
        AlarmRule(
            "rest-over",
            "Beat again",
            _LOW,
            "the mix, wall and core together, has frozen as far as it should before round 2",
            "it becomes too hard to beat smooth",
            "take it out and beat it again",
            900.0,
            _REST,
            60.0,
            300.0,
            Limit(0.5, 0.2, "", "probability that it has rested enough", 0.3, 0.95),
        ),
        AlarmRule(
            "bath-for-round-2",
            "Recharge for round 2",
            _LOW,
            "round 2 comes soon and the bath is above its limit",
            "the mix melts in round 2 instead of stiffening",
            "recharge the bath now, so that its salt has dissolved by then",
            600.0,
            _REST,
            20.0,
            60.0,
            Limit(900.0, 300.0, "s", "time to round 2", 120.0, 3600.0, falling=True),
            _BATH,
        ),
        AlarmRule(
            "over-beaten",
            "Stop beating",
            _LOW,
            "the mix has been beaten on for minutes after it stopped stiffening",
            "it warms, and fat begins to churn",
            "stop and rest it in the freezer",
            60.0,
            _BEAT,
            0.0,
            10.0,
            Limit(180.0, 0.0, "s", "beating after the plateau", 30.0, 1800.0),
        ),
        AlarmRule(
            "too-warm",
            "Stop: chill the mix",
            _LOW,
            "the mix has been beaten above 5 °C for minutes",
            "cream churns to butter and takes up no air",
            "stop; chill the mix or strengthen the bath, then beat on",
            120.0,
            _BEAT,
            0.0,
            30.0,
            Limit(360.0, 0.0, "s", "beating above 5 °C", 60.0, 3600.0),
            _MIX,
        ),
        AlarmRule(
            "door-open",
            "Close the freezer",
            _LOW,
            "the freezer's air has warmed and does not come down again",
            "the tubs thaw at the edge and freeze again coarse",
            "close the door",
            600.0,
            _TUBS,
            240.0,
            120.0,
            Limit(5.0, 2.0, "K", "rise of the freezer's air above its usual", 1.0, 20.0),
            _FREEZER,
        ),
        AlarmRule(
            "coarsening",
            "Move it to the coldest shelf",
            _LOW,
            "the core has been between −6 and −12 °C for long",
            "ice crystals grow until they are felt",
            "coldest shelf, single layer, away from the door",
            3600.0,
            _TUBS,
            300.0,
            300.0,
            Limit(480.0, 0.0, "min", "time of the core between −6 and −12 °C", 30.0, 1440.0),
            _CORE,
        ),
        AlarmRule(
            "freezing-point-off",
            "Check recipe and bowl",
            _LOW,
            "the mix freezes at another temperature than its recipe says",
            "brine in the mix spoils it; a wrong recipe makes every frozen share wrong",
            "taste a drop for salt; check what was weighed; check the probe in ice and water",
            600.0,
            _BEAT,
            30.0,
            60.0,
            needs=_MIX,
        ),
        AlarmRule(
            "probe-swapped",
            "Swap the probes",
            _LOW,
            "bath and mix read as if each sat in the other's place",
            "everything said is wrong until they are told apart",
            "swap the probes, or take back the correction",
            300.0,
            frozenset({Stage.READY}) | _IN_THE_BATH,
            10.0,
            30.0,
            needs=_MIX | _BATH,
        ),
        AlarmRule(
            "outlet-failed",
            "Check the outlet",
            _LOW,
            "words no longer get out to a broker, an address or a command",
            "nobody is told there",
            "check its address and password, then rigmon outlets test",
            3600.0,
            frozenset(Stage),
            30.0,
            60.0,
        ),
    )
}

NOTICES: Mapping[str, NoticeRule] = {
    rule.code: rule
    for rule in (
        NoticeRule(
            "plateau-near",
            "the mix will stop stiffening in about two minutes",
            _BEAT,
            15.0,
            Limit(0.3, 0.15, "", "probability that the mix has stopped stiffening", 0.1, 0.9),
        ),
        NoticeRule("base-pasteurised", "the base has been hot for long enough", _BASE),
        NoticeRule("base-cold", "the base is cold enough to pour", _BASE, 60.0),
        NoticeRule("flat-hours", "the tubs have gone into the freezer", _TUBS),
        NoticeRule("hardened", "the core is hard", _TUBS, 300.0),
    )
}


@dataclass(frozen=True, slots=True)
class Cause:
    """What speaks for an alarm or a notice just now.

    Args:
        text: why, in one or two sentences; of a notice all that it says.
        advice: the same in figures.
        probes: the probes it is about; one more among them is told again.
        call: what to do, where the row's own words lack the figures.
    """

    text: str
    advice: Mapping[str, DetailValue] = field(default_factory=dict)
    probes: tuple[str, ...] = ()
    call: str = ""


def trips(settings: Mapping[str, AlarmSetting]) -> dict[str, Trip]:
    """A trip for every row with a figure, by code, as the configuration has them."""
    made = {}
    limits = {code: rule.limit for code, rule in RULES.items()}
    limits |= {code: rule.limit for code, rule in NOTICES.items()}
    for code, limit in limits.items():
        if limit is not None:
            given = settings.get(code, AlarmSetting())
            set_point = limit.set_point if given.set_point is None else given.set_point
            deadband = limit.deadband if given.deadband is None else given.deadband
            made[code] = Trip(replace(limit, set_point=set_point, deadband=deadband))
    return made
