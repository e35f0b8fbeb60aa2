"""The two rigs of the invented scenario, with their probes.

The Ferry House and the Sail Loft are two kitchens at Sandrigg, a harbour that is on no map.
"""

from __future__ import annotations

from dataclasses import replace

from rigmon.records import Place
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.probe import ProbeParameters
from rigmon.virtual.scenario import Channel

SLIP = RigParameters(
    ua_w_k=11.0,
    inside_share=0.38,
    area_m2=0.052,
    sweep_s=240.0,
    stick_pct=36.0,
    stiff_w=58.0,
    thickening=15.5,
    air_max_pct=28.0,
    leak_w_k=1.3,
)
"""The Ferry House's rig: steel bowls, a strong mixer."""

LOFT = RigParameters(
    ua_w_k=9.5,
    inside_share=0.45,
    area_m2=0.047,
    sweep_s=130.0,
    stick_pct=41.0,
    stiff_w=30.0,
    thickening=12.0,
    beater_w=6.0,
    leak_w_k=1.9,
)
"""The Sail Loft's rig: a thinner outer bowl, an old mixer."""

_SLIP_BATH = ProbeParameters(lag_s=3.2, offset_k=0.3, step_k=0.0625, wander_k=0.15, quiet_k=0.05)
_SLIP_MIX = ProbeParameters(
    lag_s=2.6, offset_k=0.22, step_k=0.0625, loud_k=0.22, wander_k=0.12, lost=0.004, lost_s=2.0
)
_LOFT_BATH = ProbeParameters(
    lag_s=3.8, offset_k=-0.8, step_k=0.25, quiet_k=0.08, lost=0.01, lost_s=1.5
)
_LOFT_MIX = ProbeParameters(
    lag_s=3.4,
    offset_k=0.6,
    step_k=0.25,
    loud_k=0.35,
    wander_k=0.2,
    touch=0.03,
    lost=0.008,
    lost_s=1.5,
)

SLIP_CHANNELS = (
    Channel("bath", Place.BATH, "T", _SLIP_BATH),
    Channel("mix", Place.MIX, "T", _SLIP_MIX),
)
LOFT_CHANNELS = (
    Channel("bath", Place.BATH, "K", _LOFT_BATH),
    Channel("mix", Place.MIX, "K", _LOFT_MIX),
)
WHOLE_CHANNELS = (
    *SLIP_CHANNELS,
    Channel("core", Place.CORE, "T", replace(_SLIP_MIX, offset_k=-0.1, lost=0.0)),
    Channel("freezer", Place.FREEZER, "T", replace(_SLIP_BATH, offset_k=0.2)),
)
