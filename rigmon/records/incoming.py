"""What comes in: readings, marks, and the news of sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Unit(StrEnum):
    """What a reading counts in (names of the SenML registry, RFC 8428 section 12.1)."""

    CELSIUS = "Cel"
    MILLIVOLT = "mV"
    WATT = "W"


class Fault(StrEnum):
    """What a converter chip says of a broken thermocouple circuit."""

    OPEN = "open"
    SHORT_GND = "short-gnd"
    SHORT_VCC = "short-vcc"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one probe, as it came in.

    Args:
        t: when it was taken [s].
        probe: the probe's name in the configuration, for instance `bath`.
        value: the value in `unit`; None when `fault` says why there is none.
        unit: °C (as the board reports it), emf [mV], or the mixer's electrical power [W].
        cj_c: temperature of the cold junction on the board [°C], where the board sends it.
        fault: what is wrong with the circuit, if something is.
        board_s: the board's own time [s], kept to recognise duplicates.
        by: `probe`, or `hand` for a value typed by a person.
        sd_k: standard uncertainty [K] where the sender knows it, else None.
    """

    t: float
    probe: str
    value: float | None
    unit: Unit = Unit.CELSIUS
    cj_c: float | None = None
    fault: Fault | None = None
    board_s: float | None = None
    by: str = "probe"
    sd_k: float | None = None


class MarkWord(StrEnum):
    """What a maker can say."""

    START = "start"
    ICE_IN = "ice-in"
    POUR = "pour"
    BEAT_START = "beat-start"
    BEAT_STOP = "beat-stop"
    REST_START = "rest-start"
    REST_STOP = "rest-stop"
    RECHARGE = "recharge"
    SCRAPE = "scrape"
    MIX_IN = "mix-in"
    PACK = "pack"
    HARDEN_START = "harden-start"
    END = "end"
    NOTE = "note"
    READING = "reading"
    UNDO = "undo"
    ACK = "ack"
    SHELVE = "shelve"


class By(StrEnum):
    """Who set a mark."""

    MAKER = "maker"
    DETECTED = "detected"
    HAND = "hand"


DetailValue = float | str


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that the maker did or said.

    Args:
        t: when [s].
        word: what.
        by: who.
        detail: amounts and words in the mark's own names, for instance `ice_g`, `salt_g`, `note`.
    """

    t: float
    word: MarkWord
    by: By = By.MAKER
    detail: Mapping[str, DetailValue] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition of the program itself (the log cannot be written) that is to raise an alarm.

    Args:
        t: when it became so [s].
        code: the alarm's code.
        active: True while it lasts.
        text: one sentence with the particulars.
    """

    t: float
    code: str
    active: bool
    text: str


Item = Reading | Mark | Condition
"""What a monitor is fed."""


@dataclass(frozen=True, slots=True)
class SourceNews:
    """What a source says of itself: a state of the source, never an exception.

    Args:
        t: when [s].
        rig: the rig's id.
        what: `online`, `offline`, `lost`, `board-reset`, `board-says`, `bad-line`, `bad-checksum`,
            `unknown-probe`, `unknown-rig`, `late`, `bad-mark`, `broker-lost`, `not-resumed`,
            `page-failed`, `page-open`.
        text: one sentence for the maker.
        detail: the offending line or topic, cut to 200 characters.
    """

    t: float
    rig: str
    what: str
    text: str
    detail: str = ""
