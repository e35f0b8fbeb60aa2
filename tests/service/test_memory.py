"""What a run teaches lies in the log, once, and is where the next run of that rig starts."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.estimate.cloud import PRIOR, fresh
from rigmon.estimate.memory import RigPart, prior_after
from rigmon.outlets.jsonlines import JsonLines
from rigmon.records import Mark, MarkWord, Reading, RigPrior, RunFit, VirtualLink
from rigmon.service.export import export
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.memory import Changed, Kept, change, recall, story, teach, with_memory
from rigmon.service.prepare import Rig, header_of, logged_rig
from rigmon.service.replay import replay, rig_to_replay
from rigmon.service.resume import take_up
from rigmon.service.rigwatch import RigWatch
from rigmon.store import RunFile, RunLog
from rigmon.store.runfile import parse_run, read_run
from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.service.conftest import Ears

T0 = 1_783_173_600.0
POUR_S, LAST_S = 180.0, 640.0

Fit = Callable[[float], RunFit]


@pytest.fixture
def fit() -> Fit:
    """Makes a run that says how the wall conducts, as a logarithm above the usual."""

    def make(more: float) -> RunFit:
        covariance = [list(row) for row in PRIOR.covariance]
        covariance[0][0] = 0.01
        return RunFit(
            PRIOR.names,
            PRIOR.transforms,
            (PRIOR.mean[0] + more, *PRIOR.mean[1:]),
            tuple(map(tuple, covariance)),
            PRIOR.model_version,
            PRIOR,
            ("stiffening",),
        )

    return make


@pytest.fixture(scope="session")
def run() -> RunFile:
    """The first minutes of a recorded round, as if the kitchen had been real."""
    whole = (data_folder() / "runs" / "slip-custard-4to1.csv").read_text().splitlines()
    kept = [row for row in whole if not row.startswith("#")]
    setup = rig_to_replay(data_folder() / "rigs" / "slip.toml", None, None, None).setup
    items = parse_run("\n".join(kept).encode(), "run.csv", setup).items
    return RunFile(tuple(item for item in items if item.t <= LAST_S), ())


def nothing(_said: object) -> None:
    """Hears and forgets."""


def taught(log: RunLog, rig: str = "slip", virtual: bool = False) -> RigPrior:
    """What the log makes of a rig."""
    return recall(log, Kept(rig, virtual)).prior


def test_what_a_run_taught_comes_out_of_the_log_as_it_went_in(
    log: RunLog, rig: Rig, fit: Fit
) -> None:
    """To the last bit, with what it had been told."""
    teach(log, rig, "a", fit(0.1))
    teach(log, rig, "b", fit(1.0 / 3.0))
    assert story(log, Kept("slip")) == [fit(0.1), fit(1.0 / 3.0)]
    assert with_memory(log, rig).prior == prior_after([fit(0.1), fit(1.0 / 3.0)], PRIOR)


def test_a_run_that_taught_nothing_leaves_no_trace(log: RunLog, rig: Rig, fit: Fit) -> None:
    """Neither one without a fit, nor one whose belief is what it was told."""
    repeated = replace(fit(0.0), mean=PRIOR.mean, covariance=PRIOR.covariance)
    for one in (None, repeated):
        teach(log, rig, "a", one)
    assert log.learned("slip") == ()
    assert with_memory(log, rig) is rig


def test_a_run_that_taught_twice_counts_once(log: RunLog, rig: Rig, fit: Fit) -> None:
    """One that was broken off while it ended is gone on with and ends again."""
    for more in (0.1, 0.4):
        teach(log, rig, "a", fit(more))
    assert story(log, Kept("slip")) == [fit(0.4)]


def test_a_virtual_rig_teaches_no_real_one_of_the_same_name(
    log: RunLog, rig: Rig, virtual_rig: Rig, fit: Fit
) -> None:
    """Nor the other way round; changes are kept apart as well."""
    teach(log, virtual_rig, "a", fit(0.5))
    assert with_memory(log, rig) is rig
    teach(log, rig, "b", fit(-0.5))
    change(log, Kept("slip"), Changed(RigPart.BOWL, T0))
    assert taught(log, virtual=True) == prior_after([fit(0.5)], PRIOR)
    assert taught(log).mean[0] < PRIOR.mean[0]


def test_what_a_newer_program_wrote_is_passed_over(log: RunLog, rig: Rig, fit: Fit) -> None:
    """An entry that is not understood does not keep a rig from being watched."""
    teach(log, rig, "a", fit(0.2))
    for n, text in enumerate(('{"fit": {"names": []}}', '{"moon": 1}', "?", '{"changed": {}}')):
        log.learn("slip", f"odd-{n}", PRIOR.model_version, text)
    assert story(log, Kept("slip")) == [fit(0.2)]


def test_a_change_stands_between_the_runs_before_and_after(log: RunLog, rig: Rig, fit: Fit) -> None:
    """Also said twice it is all there, with when it was said."""
    teach(log, rig, "a", fit(0.2))
    for later in (0.0, 60.0):
        change(log, Kept("slip"), Changed(RigPart.MIXER, T0 + later))
    teach(log, rig, "b", fit(0.3))
    told = story(log, Kept("slip"))
    changes = [Changed(RigPart.MIXER, T0), Changed(RigPart.MIXER, T0 + 60.0)]
    assert told == [fit(0.2), *changes, fit(0.3)]


def play(watch: RigWatch, run: RunFile, start: float) -> None:
    """Let a recorded batch happen to a rig that is watched, and end it."""
    for item in run.items:
        if isinstance(item, Reading | Mark):
            watch.take(replace(item, t=start + item.t))
            watch.pass_time(start + item.t)
    watch.take(Mark(start + LAST_S + 1.0, MarkWord.END))


def test_watching_teaches_and_the_next_run_starts_from_it(
    rig: Rig, keeper: LogKeeper, log: RunLog, ears: Ears, run: RunFile
) -> None:
    """The prior of each run stands in its own document in the log."""
    watch = RigWatch(rig, keeper, ears.tell, T0)
    for day in range(2):
        play(watch, run, T0 + 86_400.0 * day)
    second, first = (logged_rig(row.header).prior for row in log.runs())
    one, other = story(log, Kept("slip"))
    assert isinstance(one, RunFit)
    assert isinstance(other, RunFit)
    assert first == one.prior == PRIOR
    assert second == prior_after([one], PRIOR)
    assert other.prior == fresh(second)
    assert watch.rig.prior == prior_after([one, other], PRIOR)


def test_a_run_gone_on_with_keeps_the_prior_that_it_began_with(
    rig: Rig, log: RunLog, fit: Fit
) -> None:
    """What was learned meanwhile is for the next one, and makes it no other rig."""
    header = header_of(rig, T0)
    log.begin(header)
    log.add(header.id, Mark(0.0, MarkWord.POUR), -math.inf)
    log.commit()
    teach(log, rig, "another", fit(0.4))
    taken = take_up(log, header, T0 + 60.0, lambda: True)
    assert taken is not None
    assert taken.rig.prior == PRIOR
    assert taken.same_as(with_memory(log, rig))


def test_a_replay_that_is_kept_starts_from_the_log_and_adds_to_it(
    rig: Rig, log: RunLog, run: RunFile, tmp_path: Path
) -> None:
    """With what was learned it is said again to the last digit from its exported files."""
    replay(run, rig, nothing, log)
    first = taught(log)
    assert first != PRIOR
    said = io.StringIO()
    later = replace(run, started_unix=T0)
    run_id = replay(later, rig, lambda one: JsonLines(said).tell("", one), log)
    assert run_id is not None
    assert logged_rig(log.find(run_id)).prior == first
    assert taught(log) != first
    _, beside, _ = export(log, run_id, tmp_path / "run.csv")
    then = rig_to_replay(beside, None, None, None)
    assert then.prior == first
    again = io.StringIO()
    exported = read_run(tmp_path / "run.csv", then.setup)
    replay(exported, then, lambda one: JsonLines(again).tell("", one))
    assert again.getvalue() == said.getvalue()
    assert json.loads(again.getvalue().splitlines()[-1])["type"] == "summary"


def test_what_was_learned_changes_what_is_said(rig: Rig, run: RunFile, fit: Fit) -> None:
    """A prior that did not reach the estimator would leave every word as it is."""
    heard = []
    for prior in (PRIOR, prior_after([fit(-0.7)] * 3, PRIOR)):
        said = io.StringIO()
        outlet = JsonLines(said)
        replay(run, replace(rig, prior=prior), partial(outlet.tell, ""))
        heard.append(said.getvalue())
    assert heard[0] != heard[1]


def test_without_a_log_nothing_is_learned(rig: Rig, ears: Ears, run: RunFile) -> None:
    """The rig stays an unknown one, however often it is watched."""
    watch = RigWatch(rig, LogKeeper(None), ears.tell, T0)
    play(watch, run, T0)
    assert watch.rig.prior == PRIOR


@pytest.mark.parametrize(
    ("top", "virtual"),
    [
        ("# invented: recorded from rigmon's virtual rig, seed 1\n", True),
        ("# rigmon run slip-1, recipe plum\n# virtual rig: invented, no real kitchen\n", True),
        ("# Sunday\n", False),
        ("", False),
    ],
)
def test_a_recording_of_a_virtual_rig_says_so_and_teaches_only_such(
    log: RunLog, rig: Rig, run: RunFile, top: str, virtual: bool
) -> None:
    """The comments on top of a run file go with it."""
    text = f"{top}time_s,bath_c,mix_c\n0,-15,4\n1,-15,4\n"
    found = parse_run(text.encode(), "run.csv", rig.setup)
    assert found.virtual is virtual
    run_id = replay(replace(run, virtual=found.virtual), rig, nothing, log)
    assert run_id is not None
    assert log.find(run_id).virtual is virtual
    assert len(story(log, Kept("slip", virtual))) == 1
    assert story(log, Kept("slip", not virtual)) == []


def test_an_exported_virtual_run_stays_virtual(
    log: RunLog, virtual_rig: Rig, run: RunFile, tmp_path: Path
) -> None:
    """Out of the log and into it again, it still teaches no real rig."""
    run_id = replay(replace(run, virtual=True), virtual_rig, nothing, log)
    assert run_id is not None
    assert isinstance(virtual_rig.link, VirtualLink)
    export(log, run_id, tmp_path / "run.csv")
    assert read_run(tmp_path / "run.csv", virtual_rig.setup).virtual
