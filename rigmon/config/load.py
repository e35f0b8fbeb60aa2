"""Reads a configuration file: rigs, alarms, units, the log, and what a run started from."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from rigmon.config.checks import config_faults
from rigmon.config.faults import TomlFile, fitted
from rigmon.config.models import ConfigTable, ProbeTable, RigTable
from rigmon.config.outlets import Outlets, outlet_secrets_faults, outlets_of
from rigmon.config.passwords import beside, link_faults, mqtt_link
from rigmon.config.reading import parse_toml, read_toml
from rigmon.config.recipes import recipe_from
from rigmon.config.rig_checks import SOURCE_KEYS
from rigmon.config.values import Config, LogConfig, PageConfig, Recorded, RigConfig, Units
from rigmon.errors import ConfigError
from rigmon.records import (
    WIRE_CLASSES,
    AlarmSetting,
    BathSetup,
    BowlSetup,
    Converter,
    HandLink,
    LineForm,
    Link,
    PlateauSetting,
    ProbeSetup,
    RigPrior,
    RigSetup,
    SerialLink,
    VirtualLink,
    place_of,
    tolerance_k,
)

CLASS_1_TOLERANCE_K: Mapping[str, float] = {
    kind: tolerance_k(kind, 1, 0.0) for kind in WIRE_CLASSES
}
"""Tolerance of class 1 thermocouple wire near 0 °C [K]; taken for a probe's uncertainty until it
is calibrated."""


def load_config(
    path: Path, alarm_codes: Collection[str] | None = None, *, links: bool = True
) -> Config:
    """Reads a configuration file.

    Args:
        path: the file; paths in it are relative to its directory.
        alarm_codes: the alarms that there are; None takes any name.
        links: False leaves out links and outlets and needs no password, as a replay wants it.

    Raises:
        ConfigError: the file cannot be read, or says something that cannot be; lists every fault.
    """
    return _checked(read_toml(path), path.parent, alarm_codes, links=links)


def parse_config(text: str, name: str, alarm_codes: Collection[str] | None = None) -> Config:
    """A configuration that stands alone in a text, as the run log keeps it; without links.

    Args:
        text: the text, as `run_document` writes it.
        name: what messages call it, for instance the run's id.
        alarm_codes: the alarms that there are; None takes any name.

    Raises:
        ConfigError: it says something that cannot be; lists every fault.
    """
    return _checked(parse_toml(text, name), Path(), alarm_codes, links=False)


def _checked(
    file: TomlFile, base: Path, alarm_codes: Collection[str] | None, *, links: bool
) -> Config:
    for key in ("ingredient", "composition"):
        if key in file.table:
            raise ConfigError(
                f"{file.place((key,))}: this is a recipe, not a configuration; "
                'name it in a rig, as in recipe = "quince.toml", or give it with --recipe'
            )
    # A recipe's file name at the top of the file has its answer in `config_faults`.
    stray = {"recipe"} if isinstance(file.table.get("recipe"), str) else set()
    fitting = {key: value for key, value in file.table.items() if key not in stray}
    model, faults = fitted(ConfigTable, fitting)
    between = [*config_faults(file.table, alarm_codes)]
    if links:
        between += link_faults(file.table, base)
        between += outlet_secrets_faults(file.table, base)
    if faults or between or model is None:
        file.refuse(faults, between)
    return _config(model, file, base, links=links)


def _config(model: ConfigTable, file: TomlFile, base: Path, *, links: bool) -> Config:
    alarms = {
        code: AlarmSetting(**table.model_dump(exclude_unset=True))
        for code, table in model.alarms.items()
    }
    units = Units(**model.units.model_dump(exclude_unset=True))
    log = model.log.model_dump(exclude_unset=True)
    if "path" in log:
        log["path"] = beside(base, log["path"])
    return Config(
        rigs=tuple(
            RigConfig(
                setup=_setup(rig_id, rig, alarms),
                link=_link(rig, base) if links else None,
                recipe_path=None if rig.recipe is None else beside(base, rig.recipe),
            )
            for rig_id, rig in model.rigs.items()
        ),
        units=units,
        log=LogConfig(**log),
        page=PageConfig(**model.page.model_dump(exclude_unset=True)),
        outlets=outlets_of(model.outlets, base) if links else Outlets(),
        recorded=_recorded(model, file, units),
    )


def _setup(rig_id: str, rig: RigTable, alarms: Mapping[str, AlarmSetting]) -> RigSetup:
    own = {"mixer", "scoop_g", "room_c"}
    probes = rig.probe
    if rig.format is LineForm.FRAMES and not probes:
        # Without a table of its own a channel would count as linearised by the board.
        probes = tuple(ProbeTable(name=name) for name in rig.columns or () if place_of(name))
    return RigSetup(
        id=rig_id,
        probes=tuple(_probe(probe, rig.format) for probe in probes),
        bath=BathSetup(**rig.bath.model_dump(exclude_unset=True)),
        bowls=BowlSetup(**rig.bowls.model_dump(exclude_unset=True)),
        plateau=PlateauSetting(**rig.plateau.model_dump(exclude_unset=True)),
        alarms=alarms,
        **rig.model_dump(include=own, exclude_unset=True),
    )


def _probe(probe: ProbeTable, form: LineForm | None) -> ProbeSetup:
    given = probe.model_dump(exclude_unset=True)
    given.setdefault("sits_in", place_of(probe.name))
    if form is LineForm.FRAMES:
        given.setdefault("converter", Converter.STRAIGHT_LINE)
    setup = ProbeSetup(**given)
    if "uncertainty_k" in given or setup.type not in CLASS_1_TOLERANCE_K:
        return setup
    return replace(setup, uncertainty_k=CLASS_1_TOLERANCE_K[setup.type])


def _link(rig: RigTable, base: Path) -> Link | None:
    if rig.source is None:
        return None
    given = rig.model_dump(include=set(SOURCE_KEYS[rig.source]), exclude_unset=True)
    if rig.source == "serial":
        return SerialLink(**given)
    if rig.source == "virtual":
        return VirtualLink(**given)
    if rig.source == "hand":
        return HandLink()
    return mqtt_link(given, base)


def _recorded(model: ConfigTable, file: TomlFile, units: Units) -> Recorded | None:
    if model.recorded is None or model.prior is None:
        return None
    recipe = None
    if model.recipe is not None:
        recipe = recipe_from(
            model.recipe, file, ("recipe",), name=Path(file.name).stem, cup_ml=units.cup_ml
        )
    return Recorded(
        recipe=recipe,
        prior=RigPrior(**model.prior.model_dump()),
        **model.recorded.model_dump(),
    )
