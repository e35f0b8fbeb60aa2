"""`rigmon demo --whole`: from the ice to the hardened tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigmon.records import Mark
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from tests.system.program.conftest import WholeDemo

LONGEST_S = 150.0
WHOLE = (
    "ice-in pour beat-start beat-stop rest-start rest-stop beat-start beat-stop mix-in pack"
    " harden-start end"
)


def test_the_whole_batch_comes_to_its_end_in_order(whole_demo: WholeDemo) -> None:
    """Every stage is gone through, the run is ended in the log, and no line is lost on the way."""
    assert whole_demo.process.wait(LONGEST_S) == 0
    with RunLog(whole_demo.log_path, create=False) as log:
        (row,) = log.runs()
        marks = [item for _, item in log.items(row.header.id) if isinstance(item, Mark)]
    assert row.state is RunState.ENDED
    assert row.header.virtual
    assert " ".join(mark.word.value for mark in marks if mark.word != "recharge") == WHOLE
    assert row.duration_s > 86_400.0
    words = whole_demo.errors.read_text().splitlines()
    assert len(words) <= 4
    assert words[-1].startswith("Heard ")
    assert words[-1].endswith(" readings.")
