"""What a run started from, as the model of the rig wants it."""

from __future__ import annotations

from dataclasses import replace

from rigmon.physics.course import Start
from rigmon.review.measures import Measures


def started(run: Measures) -> Start | None:
    """What a run started from, usual where not told; None where mix, ice or salt were not weighed.

    Args:
        run: its measures.
    """
    bath = run.bath
    if not (bath.ice_g and bath.salt_g and run.mix_g) or run.mix_c is None:
        return None
    start = Start(
        mix_g=run.mix_g,
        ice_g=bath.ice_g,
        salt_g=bath.salt_g,
        mix_c=run.mix_c,
        water_g=bath.water_g,
        ice_kind=bath.ice_kind,
        salt_kind=bath.salt_kind,
    )
    return replace(
        start,
        ice_c=start.ice_c if bath.ice_c is None else min(bath.ice_c, 0.0),
        wet_pct=start.wet_pct if bath.wet_pct is None else bath.wet_pct,
        room_c=start.room_c if run.room_c is None else run.room_c,
        wait_s=start.wait_s if bath.wait_s is None else bath.wait_s,
    )
