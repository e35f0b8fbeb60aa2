"""The life of an alarm, as ISA-18.2 has it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.records import AlarmSetting, AlarmState, Place, Priority, Stage
from rigmon.run.alarmbook import AlarmBook, NoticeBook
from rigmon.run.alarms import NOTICES, RULES, SOUNDS, Cause, trips

PLATEAU, BATH, SILENT = "plateau-reached", "bath-limit-near", "probe-silent"
UNACKNOWLEDGED, ACKNOWLEDGED = AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
RETURNED, SHELVED = AlarmState.RETURNED, AlarmState.SHELVED
OVER, SUPPRESSED = AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SUPPRESSED
STOP = Cause("It is stiff.", {"do": "stop-beating"})


class Told:
    """An alarm book carried on second by second, with what it has told of one alarm."""

    def __init__(
        self,
        code: str = PLATEAU,
        stage: Stage = Stage.BEAT,
        setting: AlarmSetting | None = None,
    ) -> None:
        self.book = AlarmBook({code: setting or AlarmSetting()})
        self.code = code
        self.stage = stage
        self.t = -1.0
        self.said: list[tuple[float, AlarmState]] = []

    def go(self, seconds: int, cause: Cause | None) -> Told:
        """Carry on for some seconds with or without a cause."""
        for _ in range(seconds):
            self.t += 1.0
            causes = {} if cause is None else {self.code: cause}
            for alarm in self.book.update(self.t, self.stage, causes):
                self.said.append((alarm.at, alarm.state))
        return self


def test_an_alarm_waits_for_its_on_delay() -> None:
    """A condition that lasts a second less raises nothing; one that holds raises it once."""
    delay_s = int(RULES[PLATEAU].on_delay_s)

    assert Told().go(delay_s, STOP).go(60, None).said == []
    assert Told().go(delay_s + 60, STOP).said == [(delay_s, UNACKNOWLEDGED)]


def test_an_alarm_waits_for_its_off_delay() -> None:
    """A condition that goes for less is the same alarm; longer, and it returns to normal."""
    off_s = int(RULES[PLATEAU].off_delay_s)
    told = Told().go(20, STOP).go(off_s, None).go(20, STOP)

    assert [state for _, state in told.said] == [UNACKNOWLEDGED]
    told.go(off_s + 1, None)
    assert told.said[1:] == [(told.t, OVER)]


@given(st.lists(st.tuples(st.integers(1, 14), st.integers(1, 29)), min_size=1, max_size=30))
def test_a_flickering_condition_does_not_chatter(bursts: list[tuple[int, int]]) -> None:
    """Shorter than the on-delay it raises nothing; shorter gaps than the off-delay end nothing."""
    rule = RULES[PLATEAU]
    assert (rule.on_delay_s, rule.off_delay_s) == (15.0, 30.0)
    never, always = Told(), Told().go(16, STOP)
    for there, gone in bursts:
        never.go(there, STOP).go(30, None)
        always.go(gone, None).go(there, STOP)

    assert never.said == []
    assert [state for _, state in always.said] == [UNACKNOWLEDGED]


def test_acknowledged_it_stands_until_its_cause_has_gone() -> None:
    """Acknowledging silences it; it is not told again and returns by itself."""
    told = Told().go(20, STOP)
    (alarm,) = told.book.acknowledge(told.t, None)
    told.go(300, STOP).go(40, None)

    assert (alarm.state, alarm.text) == (ACKNOWLEDGED, "Stop: to the freezer. It is stiff.")
    assert [state for _, state in told.said] == [UNACKNOWLEDGED, RETURNED]


def test_one_that_goes_before_it_is_acknowledged_stays_to_be_seen() -> None:
    """It makes no sound any more; acknowledged, it is normal."""
    told = Told().go(20, STOP).go(40, None)
    standing = [alarm.state for alarm in told.book.standing(told.t)]
    (gone,) = told.book.acknowledge(told.t, PLATEAU)

    assert standing == [OVER]
    assert gone.state is RETURNED
    assert told.book.standing(told.t) == []


def test_one_that_comes_back_before_it_is_acknowledged_sounds_anew() -> None:
    """After its on-delay, as any new occurrence does."""
    told = Told().go(20, STOP).go(40, None).go(16, STOP)

    assert told.said == [(15.0, UNACKNOWLEDGED), (50.0, OVER), (75.0, UNACKNOWLEDGED)]


def test_a_new_occurrence_sounds_anew() -> None:
    """What was acknowledged and returned to normal has to be answered again."""
    told = Told().go(20, STOP)
    told.book.acknowledge(told.t, PLATEAU)
    told.go(40, None).go(20, STOP)

    assert [state for _, state in told.said] == [UNACKNOWLEDGED, RETURNED, UNACKNOWLEDGED]


def test_only_what_sounds_can_be_acknowledged() -> None:
    """A code that does not sound is refused with a sentence; all at once is never refused."""
    book = AlarmBook({})

    assert book.acknowledge(0.0, None) == []
    with pytest.raises(ValueError, match="does not sound"):
        book.acknowledge(0.0, PLATEAU)
    with pytest.raises(ValueError, match="there is no alarm 'plateau'; there are plateau-reached"):
        book.acknowledge(0.0, "plateau")


def test_a_shelved_alarm_comes_back_while_its_cause_holds() -> None:
    """For its time aside nothing is told; then it sounds again."""
    told = Told().go(20, STOP)
    shelved = told.book.shelve(told.t, PLATEAU, 60.0)
    told.go(90, STOP)

    assert shelved.state is SHELVED
    assert [state for _, state in told.said] == [UNACKNOWLEDGED, UNACKNOWLEDGED]
    assert told.said[1][0] == 19.0 + 60.0


def test_a_shelved_alarm_whose_cause_goes_stays_aside_for_its_time() -> None:
    """A cause that comes and goes meanwhile is not told; in the end it is normal again."""
    told = Told().go(20, STOP)
    told.book.shelve(told.t, PLATEAU, 200.0)
    told.go(100, None).go(50, STOP).go(100, None)

    assert [state for _, state in told.said] == [UNACKNOWLEDGED, RETURNED]
    assert told.said[1][0] == 19.0 + 200.0


def test_an_alarm_can_be_put_aside_before_it_sounds() -> None:
    """Someone who knows that a probe will be pulled out shelves its alarm first."""
    told = Told(SILENT)
    told.book.shelve(0.0, SILENT, 120.0)
    told.go(60, Cause("Silent.", probes=("mix",)))

    assert told.said == []


def test_an_alarm_out_of_service_says_nothing_and_cannot_be_shelved() -> None:
    """The configuration has the last word."""
    book = AlarmBook({PLATEAU: AlarmSetting(enabled=False)})

    assert [book.update(t, Stage.BEAT, {PLATEAU: STOP}) for t in range(100)] == [[]] * 100
    with pytest.raises(ValueError, match="out of service"):
        book.shelve(0.0, PLATEAU, 60.0)


def test_delays_are_those_of_the_configuration() -> None:
    """A maker who wants to hear of it at once does."""
    at_once = AlarmSetting(on_delay_s=0.0, off_delay_s=0.0)
    told = Told(setting=at_once).go(2, STOP).go(1, None)

    assert told.said == [(0.0, UNACKNOWLEDGED), (2.0, OVER)]


def test_a_stage_where_it_means_nothing_ends_an_alarm_at_once() -> None:
    """Nobody has to wait for the plateau's alarm to go once the mix rests."""
    told = Told().go(20, STOP)
    told.stage = Stage.REST
    told.go(5, STOP)

    assert told.said[1:] == [(20.0, SUPPRESSED)]
    assert told.book.standing(told.t) == []


def test_back_in_its_stage_an_alarm_starts_afresh() -> None:
    """What was suppressed has to hold for its on-delay again."""
    told = Told().go(20, STOP)
    told.stage = Stage.REST
    told.go(5, STOP)
    told.stage = Stage.BEAT
    told.go(20, STOP)

    assert told.said[2:] == [(25.0 + RULES[PLATEAU].on_delay_s, UNACKNOWLEDGED)]


def test_a_lost_probe_is_one_alarm_and_not_five() -> None:
    """What depends on it is not raised while it is lost; what stood before stands on."""
    everything = {code: Cause(code) for code in RULES}
    without = {code for code, rule in RULES.items() if Place.BATH in rule.needs}
    blind, late = AlarmBook({}), AlarmBook({})
    said = [
        alarm.code
        for t in range(120)
        for alarm in blind.update(float(t), Stage.BEAT, everything, frozenset({Place.BATH}))
    ]
    for t in range(120):
        late.update(float(t), Stage.BEAT, everything)
    after = late.update(120.0, Stage.BEAT, everything, frozenset({Place.BATH}))

    assert BATH in without
    assert SILENT in said
    assert without.isdisjoint(said)
    assert after == []
    assert BATH in {alarm.code for alarm in late.standing(120.0)}


def test_another_probe_joining_is_told_and_the_same_one_again_is_not() -> None:
    """A second silent probe is news, even if the first was acknowledged; flapping is not."""
    mix, both = Cause("Mix.", probes=("mix",)), Cause("Mix. Bath.", probes=("mix", "bath"))
    told = Told(SILENT).go(30, mix)
    told.book.acknowledge(told.t, SILENT)
    told.go(5, both).go(5, mix).go(5, both).go(5, mix)

    assert told.said == [(25.0, UNACKNOWLEDGED), (30.0, UNACKNOWLEDGED)]


def test_a_board_that_fails_is_one_alarm() -> None:
    """Probes that fall silent one after another within seconds are told of together."""
    told = Told(SILENT).go(3, Cause("", probes=("mix",))).go(60, Cause("", probes=("mix", "bath")))

    assert [state for _, state in told.said] == [UNACKNOWLEDGED]


def test_the_most_urgent_alarm_stands_first() -> None:
    """Whoever reads one line reads the one that matters."""
    book = AlarmBook({})
    causes = {code: Cause(code, probes=()) for code in (SILENT, BATH, PLATEAU)}
    for t in range(60):
        book.update(float(t), Stage.BEAT, causes)
    standing = book.standing(60.0)

    assert {alarm.code for alarm in standing} == set(causes)
    assert (standing[0].code, standing[0].priority) == (PLATEAU, Priority.HIGH)


def test_every_alarm_can_be_answered_and_can_sound() -> None:
    """A row says call, cause, consequence and action, belongs to a stage, and its delay can end."""
    for code, rule in RULES.items():
        told = Told(code, next(iter(rule.stages))).go(int(rule.on_delay_s) + 1, STOP)

        assert rule.code == code
        assert all((rule.call, rule.cause, rule.consequence, rule.action, rule.stages))
        assert [state for _, state in told.said] == [UNACKNOWLEDGED]
        assert rule.act_within_s > rule.on_delay_s or rule.stages == {Stage.HARDEN}


def test_few_alarms_are_urgent() -> None:
    """More are low than medium, more medium than high, and at most one in five is high."""
    of = {p: sum(rule.priority is p for rule in RULES.values()) for p in Priority}

    assert of[Priority.LOW] > of[Priority.MEDIUM] > of[Priority.HIGH]
    assert 5 * of[Priority.HIGH] <= len(RULES)


def test_every_call_is_read_at_a_glance() -> None:
    """Four or five words, with no full stop that would end it early."""
    for rule in RULES.values():
        assert len(rule.call) <= 30
        assert "." not in rule.call


def test_priorities_differ_in_their_beat() -> None:
    """Over a mixer a pattern is told by how many bursts it has; only the urgent ones insist."""
    bursts = [SOUNDS[p].bursts for p in Priority]

    assert bursts == sorted(set(bursts))
    assert SOUNDS[Priority.LOW].again_s == 0.0
    assert 0.0 < SOUNDS[Priority.HIGH].again_s < SOUNDS[Priority.MEDIUM].again_s


def test_no_code_is_alarm_and_notice_at_once() -> None:
    """One name, one meaning."""
    assert set(RULES).isdisjoint(NOTICES)


def test_set_points_lie_where_they_make_sense() -> None:
    """Each within its own bounds, and the configuration's is taken in its place."""
    for code, trip in trips({}).items():
        assert trip.limit.lowest <= trip.limit.set_point <= trip.limit.highest, code
    changed = trips({BATH: AlarmSetting(set_point=300.0, deadband=60.0)})[BATH].limit
    assert (changed.set_point, changed.deadband, changed.falling) == (300.0, 60.0, True)


@given(
    st.sampled_from([code for code, rule in RULES.items() if rule.limit is not None]),
    st.lists(st.floats(-1.5, 1.5), min_size=1, max_size=300),
)
def test_noise_about_a_set_point_never_chatters(code: str, noise: list[float]) -> None:
    """An alarm is raised at most once for each time its figure is clear of the deadband.

    The figure wanders about the set point by up to one and a half deadbands, or by any amount
    where there is no deadband.
    """
    trip = trips({})[code]
    limit = trip.limit
    sign, band = (-1.0 if limit.falling else 1.0), limit.deadband or 1.0
    book = AlarmBook({code: AlarmSetting(on_delay_s=0.0, off_delay_s=0.0)})
    raised = clear = 0
    was_clear = True
    for t, share in enumerate(noise):
        figure = limit.set_point + sign * share * band
        is_clear = sign * (figure - limit.set_point) <= -limit.deadband
        clear += was_clear and not is_clear
        was_clear = is_clear
        causes = {code: STOP} if trip.past(figure) else {}
        told = book.update(float(t), next(iter(RULES[code].stages)), causes)
        raised += sum(alarm.state is UNACKNOWLEDGED for alarm in told)

    assert raised <= clear


def test_a_notice_is_said_once_in_a_round() -> None:
    """It waits for its on-delay, and comes again only in the next round."""
    book, soon = NoticeBook({}), {"plateau-near": Cause("Soon stiff.")}
    delay_s = NOTICES["plateau-near"].on_delay_s
    told = [
        (notice.at, notice.text)
        for t in range(100)
        for notice in book.update(float(t), Stage.BEAT, 1 if t < 50 else 2, soon if t % 30 else {})
    ]

    assert told == [(1.0 + delay_s, "Soon stiff."), (50.0, "Soon stiff.")]


def test_a_notice_can_be_left_out() -> None:
    """By the configuration, and where it means nothing."""
    soon, at_once = {"plateau-near": Cause("Soon stiff.")}, AlarmSetting(on_delay_s=0.0)
    off = NoticeBook({"plateau-near": AlarmSetting(enabled=False)})
    on = NoticeBook({"plateau-near": at_once})

    assert off.update(0.0, Stage.BEAT, 1, soon) == []
    assert on.update(0.0, Stage.REST, 1, soon) == []
    assert len(on.update(1.0, Stage.BEAT, 1, soon)) == 1
