"""Writes what a run started from as a configuration file that stands alone.

`rigmon export` puts it beside the run file, and the run log keeps it: with it a replay needs
nothing else. `load_config` reads it back to the same values, to the last bit.
"""

from __future__ import annotations

import datetime
from dataclasses import fields, is_dataclass
from typing import Any

import tomli_w

from rigmon.config.values import Units
from rigmon.records import Recipe, RigPrior, RigSetup

_HEAD = (
    "# What a run started from: rig, recipe, prior. rigmon replay RUN.csv --config THIS.toml\n\n"
)


def run_document(
    setup: RigSetup,
    recipe: Recipe | None,
    prior: RigPrior,
    seed: int,
    version: str,
    units: Units,
    started: datetime.datetime | None = None,
) -> str:
    """A configuration file with one rig and what its run started from.

    Defaults are written out, so that the file means the same to a later version. Of a recipe
    the composition is kept, not the lines that it was computed from.

    Args:
        setup: the rig, its probes as the recorded readings are.
        recipe: the mix with its composition, if it was known.
        prior: what was believed of the rig.
        seed: seed of the run's random numbers.
        version: version of the program.
        units: units that the maker reads.
        started: when the run started, with its offset.

    Raises:
        ValueError: the recipe has no composition yet.
    """
    rig = {**_given(setup), "probe": [_given(probe) for probe in setup.probes]}
    for key in ("id", "probes", "alarms"):
        del rig[key]
    document: dict[str, Any] = {
        "recorded": _said(seed=seed, version=version, started=started),
        "units": _given(units),
        "rigs": {setup.id: rig},
        "alarms": {code: _given(setting) for code, setting in setup.alarms.items()},
    }
    if recipe is not None:
        if recipe.composition is None:
            raise ValueError("a recipe is kept by its composition, and this one has none yet")
        document["recipe"] = _said(
            name=recipe.name, mass_g=recipe.mass_g, composition=_given(recipe.composition)
        )
    document["prior"] = {
        "model_version": prior.model_version,
        "names": list(prior.names),
        "transforms": list(prior.transforms),
        "mean": [float(value) for value in prior.mean],
        "covariance": [[float(value) for value in row] for row in prior.covariance],
    }
    return _HEAD + tomli_w.dumps(document)


def _given(record: Any) -> dict[str, Any]:
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return _said(
        **{key: _given(value) if is_dataclass(value) else value for key, value in values.items()}
    )


def _said(**values: Any) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value is not None}
