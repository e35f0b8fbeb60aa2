"""The next amounts: suggested where there is evidence, refused where there is none."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from rigmon.errors import UsageError
from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import RigMemory, remember
from rigmon.physics.course import Start
from rigmon.physics.mix import freezing_curve
from rigmon.physics.rigparameters import usual_rig
from rigmon.records import BowlSetup, Composition, IceKind, RigSetup, RunFit, SaltKind
from rigmon.review import evidence, suggesting
from rigmon.review.asdata import suggestion_json
from rigmon.review.designs import Design, candidates, design_of, reach
from rigmon.review.judging import SURE, Goal, Judge, Wish
from rigmon.review.suggesting import Suggestion, Verdict, suggest, usual_batch
from rigmon.review.suggestwords import lines, price
from rigmon.review.told import Told
from rigmon.review.tried import LeftOut, Tried
from rigmon.review.worlds import case_of, drawn, of_cases, of_designs, of_starts, usual_self

MIX = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.3)
USUAL = Start(1000.0, 2600.0, 650.0, mix_c=5.0)
NOTHING = remember([], PRIOR)


@pytest.fixture(autouse=True)
def fewer_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Properties hold with few draws as well."""
    monkeypatch.setattr(suggesting, "RIGS", 24)
    monkeypatch.setattr(suggesting, "WORLDS", 200)


def runs_of(
    designs: Sequence[Design],
    scatter: float = 0.0,
    seed: int = 0,
    truly: Callable[[Design], Design] = lambda design: design,
) -> list[Tried]:
    """Runs of the usual rig as the model has them, with scatter from run to run.

    Args:
        designs: what the maker says went in.
        scatter: standard deviation of ln t.
        seed: of the scatter.
        truly: what really went in.
    """
    rng = np.random.default_rng(seed)
    starts = [truly(design).on(USUAL) for design in designs]
    made = of_starts(freezing_curve(MIX), starts, usual_rig(), 20.0)
    found = []
    for number, (design, of) in enumerate(zip(designs, made, strict=True)):
        took_s = math.exp(float(of.log_s[0]) + scatter * rng.standard_normal())
        found.append(
            Tried(
                run=f"run-{number}",
                started_unix=float(number),
                recipe="mix",
                composition=MIX,
                start=design.on(USUAL),
                frozen_pct=20.0,
                took_s=took_s,
                freezing_s=0.6 * took_s,
                bath_c=float(of.bath_c[0]) + 0.3 * float(rng.standard_normal()),
                bath_then_c=float(of.then_c[0]),
            )
        )
    return found


def at(ratio: float, ice_g: float = 2600.0, salt_kind: SaltKind = SaltKind.FINE) -> Design:
    """Amounts at a ratio."""
    return Design(ice_g, ice_g / ratio, IceKind.CRUSHED, salt_kind)


def asked(
    runs: Sequence[Tried], goal: Goal = Goal.FASTEST, memory: RigMemory = NOTHING
) -> Suggestion:
    """A suggestion with nothing but the amounts looked at."""
    return suggest(runs, memory, RigSetup(), Wish(goal, 20.0), with_levers=False)


def test_a_weak_bath_is_made_stronger() -> None:
    """Where all runs were far too weak, a stronger bath is suggested, one step at most."""
    said = asked(runs_of([at(9.0), at(8.0), at(8.5), at(8.0)], 0.08))

    assert said.verdict is Verdict.TRY
    assert said.likeliest is not None
    assert said.beats >= SURE
    assert 7.0 - 1e-9 <= said.likeliest.design.ratio < 8.0
    assert said.likeliest.took_s.mean() < said.best.took_s.mean() - 60.0


def test_one_run_is_no_evidence() -> None:
    """One run shows no scatter, so nothing is suggested but runs that would tell."""
    said = asked(runs_of([at(6.0)]))

    assert said.verdict is Verdict.UNCLEAR
    assert said.telling is not None
    assert said.telling.runs >= 1
    low, high = said.reach.ratio
    assert all(low - 1e-9 <= ratio <= high + 1e-9 for ratio in said.telling.ratios)


def test_no_run_at_all_is_refused_in_a_sentence() -> None:
    """Nothing to go by is said, with what is missing."""
    with pytest.raises(UsageError, match="the pour not told"):
        suggest([], NOTHING, RigSetup(), Wish(), [LeftOut("a", "the pour not told")])


def test_where_salt_makes_no_difference_none_is_suggested() -> None:
    """Eight runs whose bath was the same whatever was told overrule the model: no evidence."""
    designs = [at(ratio) for ratio in (8.0, 7.0, 8.0, 6.5, 5.0, 7.5, 5.5, 8.0)]
    runs = runs_of(designs, 0.1, seed=1, truly=lambda _: at(6.5))
    # No more ice goes in than was tried, so that only the ratio is left.
    bowls = BowlSetup(inner_ml=4000.0, outer_ml=4000.0 + 2600.0 / 0.62)

    said = suggest(
        runs, NOTHING, RigSetup(bowls=bowls), Wish(Goal.FASTEST, 20.0), with_levers=False
    )
    words = " ".join(text for _, text in lines(said, Told()))

    assert said.verdict is not Verdict.TRY
    assert "ot enough evidence" in words


def test_where_nothing_is_to_be_gained_it_says_so() -> None:
    """A rig that stands at the strongest ratio with all the ice that fits is left alone."""
    said = asked(runs_of([at(3.4, 3400.0), at(3.3, 3400.0), at(3.3, 3400.0)], 0.05))

    assert said.verdict is Verdict.STAY
    assert said.beats < 0.3


def judge_of(runs: Sequence[Tried], wish: Wish) -> tuple[Judge, list[Design]]:
    """A judge over these runs, and what could be suggested."""
    rigs, usual, curve = drawn(NOTHING, 24, 0), usual_batch(runs), freezing_curve(MIX)
    within = reach(runs, usual, BowlSetup())
    model = of_designs(curve, usual, within, rigs, 20.0)
    worlds = evidence.heard(
        runs, of_cases([case_of(run) for run in runs], rigs), usual, evidence.USUAL_KAPPA, 200, 0
    )
    usual_s = np.exp(worlds.log_s(usual, model(design_of(usual)), usual))
    judge = Judge(wish, worlds, model, usual, -8.7, usual_s, np.zeros(200))
    kept = [one for one in candidates(within, usual, BowlSetup()) if one.ice_kind == usual.ice_kind]
    return judge, kept


def test_time_is_paid_for_in_salt() -> None:
    """The more time there is, the less salt does; and no amounts do only when there is less."""
    runs = runs_of([at(5.0), at(6.0), at(5.5)], 0.05)
    least = []
    for within_min in (14.0, 18.0, 24.0, 40.0):
        judge, found = judge_of(runs, Wish(Goal.LEAST_SALT, 20.0, 60.0 * within_min))
        judged = [judge.judged(design) for design in found]
        doing = [one.design.salt_g for one in judged if one.does.mean() >= SURE]
        least.append(min(doing, default=math.inf))

    assert least == sorted(least, reverse=True)
    assert least[-1] < math.inf


def test_more_salt_in_the_same_ice_is_never_slower() -> None:
    """The model never has a stronger bath take longer, up to what dissolves."""
    judge, found = judge_of(runs_of([at(5.0), at(6.0)]), Wish(Goal.FASTEST, 20.0))
    same = [one for one in found if one.ice_g == 2600.0 and one.salt_kind is SaltKind.FINE]
    times = [judge.judged(one).took_s.mean() for one in sorted(same, key=lambda d: d.salt_g)]

    assert len(times) > 3
    assert all(late <= early + 1.0 for early, late in pairwise(times))


def test_the_price_names_what_is_spent() -> None:
    """A price says more of what there is more of."""
    assert price(at(4.0), at(5.0), Told()) == "130 g more salt, as much ice"


def test_the_same_question_has_the_same_answer() -> None:
    """Draws have a seed; the JSON is one line without a number that is none."""
    runs = runs_of([at(6.0), at(5.0), at(7.0)], 0.1)
    said = [suggestion_json(asked(runs, Goal.NO_RECHARGE)) for _ in range(2)]

    assert said[0] == said[1]
    found = json.loads(said[0])
    assert found["goal"] == "no-recharge"
    assert {"ice_g", "salt_g", "next_s", "lasts"} <= set(found["best"])


def test_the_usual_self_is_surer_than_the_next_run() -> None:
    """What days differ by is in the next run's prior and not in the rig's usual self."""
    fit = replace(_fit(), mean=(2.4, *_fit().mean[1:]))
    memory = remember([fit, fit, fit], PRIOR)
    own, following = (np.array(of.covariance) for of in (usual_self(memory), memory.prior))

    assert np.all(np.diag(own) < np.diag(following))
    assert np.linalg.eigvalsh(own).min() > 0.0


def _fit() -> RunFit:
    covariance = np.array(PRIOR.covariance) * 0.3
    return RunFit(
        PRIOR.names,
        PRIOR.transforms,
        PRIOR.mean,
        tuple(map(tuple, covariance.tolist())),
        PRIOR.model_version,
        prior=PRIOR,
    )


def test_runs_that_scatter_little_are_believed_to() -> None:
    """Twelve runs within 3 % of the model bring the scatter down; eight within 30 % do not."""
    designs = [at(5.0 + 0.1 * n) for n in range(12)]
    rigs = drawn(NOTHING, 24, 0)
    found = []
    for scatter in (0.03, 0.3):
        runs = runs_of(designs, scatter, seed=3)
        made = of_cases([case_of(run) for run in runs], rigs)
        worlds = evidence.heard(runs, made, USUAL, evidence.USUAL_KAPPA, 200, 0)
        found.append(worlds.scatter_pct[1])

    assert found[0] < 10.0
    assert found[1] > 20.0


def test_a_slow_kitchen_is_expected_to_stay_slow() -> None:
    """Eight runs a fifth slower than the model move the next run's time nearly that far."""
    designs = [at(5.0)] * 8
    rigs = drawn(NOTHING, 1, 0)
    runs = runs_of(designs)
    (of, *_) = made = of_cases([case_of(run) for run in runs], rigs)
    slow = [replace(run, took_s=1.2 * math.exp(float(of.log_s[0]))) for run in runs]
    worlds = evidence.heard(slow, made, USUAL, evidence.USUAL_KAPPA, 400, 0)

    moved = worlds.log_s(slow[0].start, of, USUAL).mean() - float(of.log_s[0])

    assert 0.12 < moved < math.log(1.2) + 0.01
