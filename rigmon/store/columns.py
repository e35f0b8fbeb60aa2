"""Which probe stands under which column of a run file: one rule, for reading and for writing."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rigmon.records import Place, RigSetup, Unit

MIXER_COLUMN = "mixer_w"
PLACES = (Place.BATH, Place.MIX, Place.CORE, Place.ROOM, Place.FREEZER, Place.WALL)
_PLACE = re.compile(rf"({'|'.join(PLACES)})(?:_([1-9][0-9]?))?")
_IGNORED = "x_"


@dataclass(frozen=True, slots=True)
class Column:
    """A column that holds the values of one probe.

    Args:
        heading: as it stands in the file.
        probe: name of the probe.
        unit: °C, or W for the mixer.
        foreign: True where neither the configuration nor the heading says what the probe sits in.
    """

    heading: str
    probe: str
    unit: Unit = Unit.CELSIUS
    foreign: bool = False


def is_ignored(heading: str) -> bool:
    """Whether a column is the maker's own, to be passed over."""
    return heading.lower().startswith(_IGNORED)


def probe_column(heading: str, setup: RigSetup) -> Column | None:
    """The probe under a heading; None where the heading is not a probe's.

    A configured probe of that name comes first, then the n-th one that sits in that place.

    >>> from rigmon.records import ProbeSetup
    >>> setup = RigSetup(probes=(ProbeSetup("tc1", Place.BATH), ProbeSetup("tc2", Place.BATH)))
    >>> [probe_column(heading, setup).probe for heading in ("bath_c", "bath_2_c", "tc1_c")]
    ['tc1', 'tc2', 'tc1']
    """
    lower = heading.lower()
    if lower == MIXER_COLUMN:
        mixers = _sitting_in(Place.MIXER, setup)
        name = "mixer" if not mixers or "mixer" in mixers else mixers[0]
        return Column(heading, name, Unit.WATT)
    stem = heading[:-2]
    if not lower.endswith("_c") or not stem:
        return None
    if any(probe.name == stem for probe in setup.probes):
        return Column(heading, stem)
    if is_ignored(heading):
        return None
    place = _PLACE.fullmatch(stem.lower())
    if not place:
        return Column(heading, stem, foreign=True)
    sitting = _sitting_in(Place(place[1]), setup)
    number = int(place[2] or 1)
    if number <= len(sitting):
        return Column(heading, sitting[number - 1])
    return Column(heading, stem.lower(), foreign=bool(setup.probes))


def column_of(probe: str, unit: Unit, setup: RigSetup) -> Column | None:
    """The column under which `probe_column` finds this probe again; None where there is none.

    >>> column_of("bath", Unit.CELSIUS, RigSetup()).heading
    'bath_c'
    """
    if unit is Unit.WATT:
        headings = [MIXER_COLUMN]
    else:
        headings = [*_place_headings(probe, setup), f"{probe}_c"]
    for heading in headings:
        column = probe_column(heading.strip(), setup)
        if column is not None and column.probe == probe:
            return column
    return None


def probe_columns(setup: RigSetup) -> tuple[Column, ...]:
    """The columns of all configured probes, in their order.

    >>> probe_columns(RigSetup())
    ()
    """
    columns = (column_of(probe.name, _unit(probe.sits_in), setup) for probe in setup.probes)
    return tuple(column for column in columns if column is not None)


def known_headings(setup: RigSetup) -> tuple[str, ...]:
    """Headings to name when one is not understood."""
    own = (column.heading for column in probe_columns(setup))
    return (*own, *(f"{place}_c" for place in PLACES), MIXER_COLUMN)


def _unit(place: Place) -> Unit:
    return Unit.WATT if place is Place.MIXER else Unit.CELSIUS


def _sitting_in(place: Place, setup: RigSetup) -> list[str]:
    return [probe.name for probe in setup.probes if probe.sits_in is place]


def _place_headings(probe: str, setup: RigSetup) -> list[str]:
    for place in PLACES:
        sitting = _sitting_in(place, setup)
        if probe in sitting:
            number = sitting.index(probe) + 1
            return [f"{place}_c" if number == 1 else f"{place}_{number}_c"]
    return []
