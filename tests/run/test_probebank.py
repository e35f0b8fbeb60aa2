"""The probes of one rig, corrected and screened."""

from __future__ import annotations

import pytest

from rigmon.records import Fault, Place, ProbeSetup, Quality, Reading, RigSetup, Stage, Unit
from rigmon.run.probebank import HAND_SD_K, IN_USE, QUIET_S, ProbeBank

TIP = ProbeSetup("tip", Place.MIX, offset_k=0.5)


def bank(*probes: ProbeSetup) -> ProbeBank:
    """A bank of configured probes."""
    return ProbeBank(RigSetup(probes=probes))


def fed(probes: ProbeBank, name: str, n: int, every_s: float = 1.0) -> list[Reading]:
    """The accepted ones of n readings that fall slowly."""
    found = []
    for i in range(n):
        accepted, _ = probes.feed(Reading(i * every_s, name, 4.0 - 0.01 * i))
        if accepted is not None:
            found.append(accepted)
    return found


def test_a_configured_probe_is_corrected_and_placed() -> None:
    """Its offset is added, whatever its name says."""
    probes = bank(TIP)
    accepted = fed(probes, "tip", 5)

    assert probes.place("tip") is Place.MIX
    assert accepted[-1].value == pytest.approx(4.0 - 0.04 + 0.5)


def test_a_name_that_says_where_it_sits_needs_no_configuration() -> None:
    """`bath_2` sits in the bath."""
    probes = bank()

    assert len(fed(probes, "bath_2", 5)) == 4
    assert probes.place("bath_2") is Place.BATH


def test_an_unknown_probe_is_told_of_once() -> None:
    """Its readings are passed over; the maker hears why, and not each second."""
    probes = bank()
    news = [probes.feed(Reading(float(i), "left", 3.0)) for i in range(3)]

    assert [accepted for accepted, _ in news] == [None] * 3
    assert "'left'" in news[0][1]
    assert [sentence for _, sentence in news[1:]] == ["", ""]


def test_a_typed_value_is_taken_as_it_is_with_its_own_uncertainty() -> None:
    """Neither offset nor screen touch it; one that cannot be is refused all the same."""
    probes = bank(TIP)
    taken, _ = probes.feed(Reading(0.0, "tip", -2.0, by="hand"))
    absurd, _ = probes.feed(Reading(1.0, "tip", 1e6, by="hand"))
    assert taken is not None

    assert (taken.value, taken.sd_k) == (-2.0, HAND_SD_K)
    assert absurd is None


def test_a_mixers_power_passes_in_watts_only() -> None:
    """It is no temperature and is not screened as one."""
    probes = bank()
    watts = Reading(0.0, "mixer", 85.0, Unit.WATT)

    assert probes.feed(watts) == (watts, "")
    assert probes.feed(Reading(0.0, "mixer", 85.0)) == (None, "")


def test_a_late_reading_keeps_its_time_and_is_counted() -> None:
    """It takes its place among the older ones."""
    probes = bank()
    fed(probes, "bath", 10)
    accepted, _ = probes.feed(Reading(7.4, "bath", 3.92))
    assert accepted is not None

    assert accepted.t == 7.4
    assert probes.counts() == {"readings": 11, "rejected": 1, "late": 1}


def test_a_probe_is_missed_only_where_it_is_in_use() -> None:
    """A mix probe pulled out of a packed mix, and a core probe on the bench, are not looked at."""
    probes = bank()
    fed(probes, "mix", 10)
    qualities = {stage: probes.qualities(2000.0, stage).get("mix") for stage in Stage}

    for stage, quality in qualities.items():
        assert quality is (Quality.SILENT if Place.MIX in IN_USE[stage] else None)


@pytest.mark.parametrize("stage", [Stage.BEAT, Stage.REST])
def test_a_probe_may_be_quiet_for_as_long_as_its_stage_allows(stage: Stage) -> None:
    """Boards sample more slowly in the freezer."""
    probes = bank()
    fed(probes, "mix", 10)
    last_s, quiet_s = 9.0, max(QUIET_S[stage], 5.0)

    assert probes.qualities(last_s + quiet_s - 0.5, stage)["mix"] is Quality.GOOD
    assert probes.qualities(last_s + quiet_s + 0.5, stage)["mix"] is Quality.SILENT
    assert "said nothing" in probes.reason("mix", last_s + quiet_s + 0.5)


def test_a_broken_circuit_is_a_fault_with_a_sentence() -> None:
    """What the converter says becomes what the maker is to look at."""
    probes = bank()
    fed(probes, "mix", 10)
    for i in range(10, 15):
        probes.feed(Reading(float(i), "mix", None, fault=Fault.OPEN))

    assert probes.qualities(15.0, Stage.BEAT)["mix"] is Quality.FAULT
    assert "open circuit" in probes.reason("mix", 15.0)


def test_what_each_probe_was_last_seen_to_say() -> None:
    """Its last accepted value with its time and place; a late one does not replace a newer one."""
    probes = bank()
    fed(probes, "mix", 10)
    probes.feed(Reading(10.0, "mix", 3.85))
    probes.feed(Reading(9.5, "mix", 3.91))
    for i in range(11, 15):
        probes.feed(Reading(float(i), "mix", None, fault=Fault.OPEN))
    seen = probes.seen(15.0, probes.qualities(15.0, Stage.BEAT))["mix"]

    assert (seen.place, seen.at) == (Place.MIX, 10.0)
    assert seen.value_c == 3.85
    assert "open circuit" in seen.why
