"""How much mix is frozen to the wall, held against the virtual rig with its own model of it."""

from __future__ import annotations

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.estimator import Estimator
from rigmon.records import Mark, MarkWord, Place, RigSetup
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.scenario import recipe_of
from rigmon.virtual.session import VirtualSession


def test_the_layer_is_that_of_the_virtual_rig() -> None:
    """Within two standard deviations; nothing is said before the mix freezes and while it rests."""
    scenario = demo_scenario(whole=True)
    session = VirtualSession(scenario, 7)
    estimator = Estimator(recipe_of(scenario), RigSetup(), PRIOR, 0)
    for place in (Place.BATH, Place.MIX):
        estimator.place_probe(place.value, place)
    assert estimator.at(0.0).wall_g is None
    for t in (300.0, 480.0, 600.0, 900.0, 1200.0):
        for item in session.items(t):
            estimator.feed(item)
        estimate, truth_g = estimator.at(t), session.truth().layer_g
        if t == 300.0:
            assert estimate.wall_g is None
            continue
        assert estimate.wall_g is not None
        assert estimate.wall_g_sd is not None
        assert truth_g > 50.0
        assert abs(estimate.wall_g - truth_g) < 2.0 * estimate.wall_g_sd < 160.0
    estimator.feed(Mark(1205.0, MarkWord.BEAT_STOP))
    estimator.feed(Mark(1206.0, MarkWord.REST_START))
    assert estimator.at(1400.0).wall_g is None
