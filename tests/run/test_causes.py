"""What speaks for the alarms about mix and bath."""

from __future__ import annotations

from collections.abc import Mapping

from rigmon.records import Estimate, Event, Forecast, Mark, MarkWord, Stage
from rigmon.run.alarms import Cause, trips
from rigmon.run.causes import LOAD_SEEN_S, NEVER_COLD_S, RECHARGE_WORKS_S, RoundCauses, Seen
from rigmon.run.stages import Stages

LIMIT_C = -9.0
PLATEAU, BATH, NEAR = "plateau-reached", "bath-limit-near", "plateau-near"
_OVER, _LEAD = trips({})[PLATEAU].limit, trips({})[BATH].limit
P_OVER, P_NOT_OVER = _OVER.set_point, _OVER.set_point - _OVER.deadband
BATH_LEAD_S, BATH_CLEAR_S = _LEAD.set_point, _LEAD.set_point + _LEAD.deadband


def beating(*words: tuple[float, str, str]) -> Stages:
    """A run poured at 0 s, with more marks if given."""
    stages = Stages()
    for t, word, where in ((0.0, "pour", ""), *words):
        stages.hear(Mark(t, MarkWord(word), detail={"where": where} if where else {}))
    return stages


def spoken(
    causes: RoundCauses,
    t: float,
    *,
    p_over: float = 0.0,
    bath_c: float | None = -15.0,
    bath: tuple[float | None, float | None] | None = None,
    plateau_p90: float | None = None,
    stages: Stages | None = None,
) -> Mapping[str, Cause]:
    """What speaks at a time, with the bath's p10 and p50 and the plateau's p90 if forecast."""
    ahead = {}
    if bath is not None:
        ahead[Event.BATH_LIMIT] = Forecast(t, Event.BATH_LIMIT, 1, *bath)
    if plateau_p90 is not None:
        ahead[Event.PLATEAU] = Forecast(t, Event.PLATEAU, 1, t, t, plateau_p90)
    estimate = Estimate(t, bath_c=bath_c)
    return causes.at(Seen(t, estimate, stages or beating(), ahead, p_over, limit_c=LIMIT_C))


def test_the_plateau_does_not_flicker_about_one_probability() -> None:
    """It is reached above one probability and given up only below a lower one."""
    causes = RoundCauses()
    between = 0.5 * (P_OVER + P_NOT_OVER)
    seen = [
        PLATEAU in spoken(causes, float(t), p_over=p)
        for t, p in enumerate((between, 0.9, between, 0.1, between))
    ]

    assert seen == [False, True, True, False, False]


def test_a_plateau_that_was_told_stays_for_its_round() -> None:
    """A probability that falls again does not take back what the maker was told."""
    causes = RoundCauses(told_round=1)
    round_2 = beating((900.0, "rest-start", ""), (4000.0, "beat-start", ""))

    assert PLATEAU in spoken(causes, 600.0)
    assert PLATEAU not in spoken(causes, 4100.0, stages=round_2)


def test_a_bath_that_gives_out_soon_wants_a_recharge() -> None:
    """Within ten minutes at the median; not while there is time, and not where nobody can say."""
    soon, later = 600.0 + BATH_LEAD_S - 1.0, 600.0 + BATH_LEAD_S + 1.0

    assert BATH in spoken(RoundCauses(), 600.0, bath=(700.0, soon))
    assert BATH not in spoken(RoundCauses(), 600.0, bath=(700.0, later))
    assert BATH not in spoken(RoundCauses(), 600.0, bath=(None, None))


def test_a_forecast_made_before_the_mix_has_cooled_calls_for_nothing() -> None:
    """Right after the pour the bath's forecast is not worth a sound."""
    soon = (LOAD_SEEN_S + 30.0, LOAD_SEEN_S + 60.0)

    assert BATH not in spoken(RoundCauses(), LOAD_SEEN_S - 1.0, bath=soon)
    assert BATH in spoken(RoundCauses(), LOAD_SEEN_S, bath=soon)


def test_a_recharge_once_wanted_is_wanted_until_there_is_time_enough() -> None:
    """Between ten minutes and a quarter of an hour it stays as it was."""
    causes = RoundCauses()
    spoken(causes, 600.0, bath=(700.0, 900.0))
    between, clear = 601.0 + BATH_CLEAR_S - 60.0, 602.0 + BATH_CLEAR_S + 1.0

    assert BATH in spoken(causes, 601.0, bath=(900.0, between))
    assert BATH not in spoken(causes, 602.0, bath=(900.0, clear))
    assert BATH not in spoken(causes, 603.0, bath=(900.0, between))


def test_a_round_that_ends_first_needs_no_recharge() -> None:
    """If the mix is stiff before the bath could give out, the maker is left in peace."""
    bath = (900.0, 1000.0)

    assert BATH not in spoken(RoundCauses(), 600.0, bath=bath, plateau_p90=890.0)
    assert BATH in spoken(RoundCauses(), 600.0, bath=bath, plateau_p90=910.0)


def test_a_bath_that_never_got_cold_wants_salt() -> None:
    """It is given five minutes from the pour; then the sentence says that it is too warm."""
    early = spoken(RoundCauses(), NEVER_COLD_S - 1.0, bath_c=-6.0)
    late = spoken(RoundCauses(), NEVER_COLD_S + 1.0, bath_c=-6.0)

    assert BATH not in early
    assert late[BATH].text.startswith("The bath is at −6.0 °C, above its limit of −9.0 °C.")


def test_a_bath_at_its_limit_does_not_flicker() -> None:
    """Once it has passed the limit it must be half a kelvin below it again."""
    causes = RoundCauses()
    far = (3000.0, 5000.0)
    seen = [
        BATH in spoken(causes, 600.0 + t, bath_c=c, bath=far if c < LIMIT_C else None)
        for t, c in enumerate((-9.1, -8.9, -9.1, -9.4, -9.6, -9.1))
    ]

    assert seen == [False, True, True, True, False, False]


def test_a_recharge_is_given_time_to_work() -> None:
    """Fresh salt needs minutes: until then nothing more is asked for."""
    causes = RoundCauses()
    assert BATH in spoken(causes, 900.0, bath_c=-8.0)
    causes.recharged(910.0)

    assert BATH not in spoken(causes, 909.0 + RECHARGE_WORKS_S, bath_c=-8.0)
    assert BATH in spoken(causes, 911.0 + RECHARGE_WORKS_S, bath_c=-8.0)


def test_a_bath_that_nobody_needs_is_not_called_for() -> None:
    """Not before the pour, with the bowl lifted out, after the plateau, or without a probe."""
    lifted = beating((600.0, "rest-start", "bowl"))
    in_the_bath = beating((600.0, "rest-start", "rig"))

    assert BATH not in spoken(RoundCauses(), 700.0, bath_c=-8.0, stages=Stages())
    assert BATH not in spoken(RoundCauses(), 700.0, bath_c=-8.0, stages=lifted)
    assert BATH not in spoken(RoundCauses(told_round=1), 700.0, bath_c=-8.0)
    assert BATH not in spoken(RoundCauses(), 700.0, bath_c=None)
    assert BATH in spoken(RoundCauses(), 700.0, bath_c=-8.0, stages=in_the_bath)
    assert in_the_bath.stage is Stage.REST
