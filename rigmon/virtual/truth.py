"""What the virtual rig knows of itself and no program can see."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.virtual.rig import VirtualRig

PROBE_DEPTH_M = 0.02
"""How far from the wall the mix probe's tip sits [m] (common practice)."""


@dataclass(frozen=True, slots=True)
class Truth:
    """How things truly stand.

    Args:
        t: run time [s].
        bath_c: mean temperature of the brine [°C].
        upper_c: temperature of the brine around the ice [°C].
        lower_c: temperature of the brine under it [°C].
        brine_pct: salt in the brine [% by mass].
        ice_left_g: ice left in the bath [g].
        grain_g: salt that lies undissolved [g].
        mix_c: temperature of the mix where the probe's tip sits [°C].
        cup_c: temperature that the mix would have, stirred together with its wall [°C].
        core_c: temperature in the middle of bowl or tub [°C].
        wall_c: temperature of the wall with what is frozen to it [°C].
        frozen_pct: share of the water that is ice, in the mix off the wall while it is beaten, in
            all of it while it stands [%].
        mean_frozen_pct: the same in all of it, wall layer included [%].
        layer_g: mix frozen to the wall [g].
        air_pct: overrun [%].
        cooling_w: heat through the inner bowl's wall out of the mix [W].
        beaters_w: heat of the beaters [W].
        mixer_w: electrical power of the mixer [W].
        air_c: temperature of the air around mix or tub [°C].
        freezer_c: temperature of the freezer's air [°C].
    """

    t: float
    bath_c: float
    upper_c: float
    lower_c: float
    brine_pct: float
    ice_left_g: float
    grain_g: float
    mix_c: float
    cup_c: float
    core_c: float
    wall_c: float
    frozen_pct: float
    mean_frozen_pct: float
    layer_g: float
    air_pct: float
    cooling_w: float
    beaters_w: float
    mixer_w: float
    air_c: float
    freezer_c: float


def truth_of(rig: VirtualRig) -> Truth:
    """How things stand now."""
    bowl, bath = rig.bowl, rig.bath
    body = rig.tubs.body if rig.tubs else rig.still
    if body:
        temperatures = body.temperatures_c()
        core_c, wall_c = temperatures[0], temperatures[-1]
        mix_c = core_c if rig.tubs else body.at_depth_c(PROBE_DEPTH_M)
        frozen_pct = mean_pct = body.mean_frozen_pct()
        cup_c = rig.mix.temperature_c.at(math.fsum(body.heats_j) / math.fsum(body.masses_g))
    else:
        core_c = mix_c = bowl.temperature_c()
        wall_c, frozen_pct, mean_pct = bowl.wall_c(), bowl.frozen_pct(), bowl.mean_frozen_pct()
        total_g = bowl.mass_g + bowl.layer_g
        heat_j = bowl.heat_j + bowl.layer_heat_j
        cup_c = rig.mix.temperature_c.at(heat_j / total_g) if total_g > 0.0 else mix_c
    return Truth(
        t=rig.t,
        bath_c=bath.temperature_c(),
        upper_c=bath.upper.temperature_c(),
        lower_c=bath.lower.temperature_c(),
        brine_pct=bath.strength_pct(),
        ice_left_g=bath.ice_g,
        grain_g=bath.upper.grain_g + bath.lower.grain_g,
        mix_c=mix_c,
        cup_c=cup_c,
        core_c=core_c,
        wall_c=wall_c,
        frozen_pct=frozen_pct,
        mean_frozen_pct=mean_pct,
        layer_g=bowl.layer_g,
        air_pct=bowl.air_pct,
        cooling_w=0.0 if rig.tubs else rig.cooling_w,
        beaters_w=bowl.beaters_w(),
        mixer_w=bowl.mixer_w(),
        air_c=rig.air_c(),
        freezer_c=rig.freezer.air_c(rig.t),
    )
