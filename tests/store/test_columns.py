"""Columns and probes find each other in both directions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.records import Place, ProbeSetup, RigSetup, Unit
from rigmon.store import column_of, probe_column, probe_columns

SETUP = RigSetup(
    probes=(
        ProbeSetup("tc1", Place.BATH),
        ProbeSetup("tc2", Place.BATH),
        ProbeSetup("mix", Place.CORE),
        ProbeSetup("spoon", Place.MIX),
        ProbeSetup("motor", Place.MIXER),
    )
)


@pytest.mark.parametrize(
    ("heading", "probe"),
    [
        ("tc1_c", "tc1"),
        ("bath_c", "tc1"),
        ("bath_2_c", "tc2"),
        ("mix_c", "mix"),
        ("core_c", "mix"),
        ("mix_1_c", "spoon"),
        ("Bath_C", "tc1"),
        ("mixer_w", "motor"),
        ("bath_3_c", "bath_3"),
        ("spare_c", "spare"),
    ],
)
def test_a_heading_means_a_probe_by_name_then_by_place(heading: str, probe: str) -> None:
    """A configured name comes first, then the n-th probe of that place, then a new probe."""
    column = probe_column(heading, SETUP)
    assert column is not None
    assert column.probe == probe


@pytest.mark.parametrize("heading", ["_c", "time_s", "bath_f", "x_own_c", "mixer", ""])
def test_other_headings_are_no_probes(heading: str) -> None:
    """What does not end as a probe's column does, or begins with x_, holds no readings."""
    assert probe_column(heading, SETUP) is None


def test_a_column_that_nothing_explains_is_foreign() -> None:
    """Whether a column can be of use to a monitor is told apart from its name."""
    known = probe_column("bath_2_c", SETUP)
    beyond = probe_column("bath_3_c", SETUP)
    unnamed = probe_column("bath_3_c", RigSetup())
    assert [column and column.foreign for column in (known, beyond, unnamed)] == [
        False,
        True,
        False,
    ]


def test_configured_probes_stand_under_what_they_sit_in() -> None:
    """The table names places, as the maker thinks of them, unless a name stands in the way."""
    headings = [column.heading for column in probe_columns(SETUP)]
    assert headings == ["bath_c", "bath_2_c", "core_c", "spoon_c", "mixer_w"]


names = st.text("abcdexmi_ 12BC-", min_size=1, max_size=6) | st.sampled_from(
    ["bath", "bath_2", "mix", "core", "mixer", "x_1", "Bath", "wall_1"]
)
setups = st.lists(
    st.builds(ProbeSetup, names, st.sampled_from(Place)), unique_by=lambda probe: probe.name
).map(lambda probes: RigSetup(probes=tuple(probes)))


@given(setups, names, st.sampled_from([Unit.CELSIUS, Unit.WATT]))
def test_a_column_written_is_read_as_the_same_probe(setup: RigSetup, name: str, unit: Unit) -> None:
    """Whatever column a probe is given, that column gives the probe."""
    column = column_of(name, unit, setup)
    if column is not None:
        assert probe_column(column.heading, setup) == column
        assert column.probe == name


@given(setups)
def test_every_configured_probe_with_a_plain_name_has_its_own_column(setup: RigSetup) -> None:
    """No two probes share a column, and none that measures a temperature is without one."""
    columns = [column_of(probe.name, Unit.CELSIUS, setup) for probe in setup.probes]
    plain = [probe.name for probe in setup.probes if probe.name.strip() == probe.name]
    found = [column.probe for column in columns if column is not None]
    assert len({column.heading for column in columns if column}) == len(found)
    assert set(plain) <= set(found)
