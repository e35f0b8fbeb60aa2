"""The tables that a configuration and a recipe may hold, and the limits of every value in them.

A key that is left out keeps the default of the record it ends up in.
"""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, PlainValidator

from rigmon.config.fields import (
    Broker,
    broker_address,
    depth_table,
    finite,
    host_name,
    instant,
    ip_address,
    mail_address,
    number,
    one_of,
    shown,
    switch,
    text,
    web_address,
    whole,
)
from rigmon.records import (
    BowlShape,
    ChecksumRule,
    Converter,
    IceKind,
    LineForm,
    Place,
    Priority,
    SaltKind,
)
from rigmon.texts import Language
from rigmon.units import MassUnit, TemperatureUnit

SourceKind = Literal["serial", "mqtt", "virtual", "hand"]
ProbeType = Literal["T", "K", "J", "E", "N", "other"]
Synchronous = Literal["FULL", "NORMAL"]
MailTls = Literal["starttls", "ssl", "none"]

_PROBE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
_TOPIC = re.compile(r"[^/+#][^+#]{0,98}[^/+#]|[^/+#]")
_ENVIRONMENT_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,99}")


def _probe_name(value: object) -> str:
    name = text()(value)
    if not _PROBE_NAME.fullmatch(name) or name in {"ms", "s"}:
        raise ValueError(
            f"found {shown(name)}, allowed are up to 40 letters, digits, _ and -, "
            "but not ms and s, which name the board's own time"
        )
    return name


def _topic(value: object) -> str:
    prefix = text()(value)
    if not _TOPIC.fullmatch(prefix):
        raise ValueError(
            f"found {shown(prefix)}, allowed is a topic of up to 100 characters "
            "with no + or # and no / at either end"
        )
    return prefix


def _environment_name(value: object) -> str:
    # A password pasted here by mistake must not be shown.
    name = value if isinstance(value, str) else ""
    if not _ENVIRONMENT_NAME.fullmatch(name):
        raise ValueError(
            "allowed is the name of an environment variable (letters, digits and _), "
            "not the password itself"
        )
    return name


Text = Annotated[str, PlainValidator(text())]
FreeText = Annotated[str, PlainValidator(text(least=0))]
FilePath = Annotated[str, PlainValidator(text(most=1000))]
Flag = Annotated[bool, PlainValidator(switch)]
Finite = Annotated[float, PlainValidator(finite)]
Mass = Annotated[float, PlainValidator(number(0, 50_000, "g", above=True))]
Volume = Annotated[float, PlainValidator(number(100, 100_000, "ml"))]
RimDiameter = Annotated[float, PlainValidator(number(50, 1000, "mm"))]
BaseDiameter = Annotated[float, PlainValidator(number(20, 1000, "mm"))]
DepthTable = Annotated[tuple[tuple[float, float], ...], PlainValidator(depth_table)]
Share = Annotated[float, PlainValidator(number(0, 100, "%"))]
Delay = Annotated[float, PlainValidator(number(0, 3600, "s"))]


class Table(BaseModel):
    """A table of a file; a key that it does not know is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ProbeTable(Table):
    """`[[rigs.<id>.probe]]`."""

    name: Annotated[str, PlainValidator(_probe_name)] = Field(
        description="the probe's name as it stands on the wire"
    )
    sits_in: Annotated[Place, PlainValidator(one_of(*Place))] | None = None
    type: Annotated[ProbeType, PlainValidator(one_of(*get_args(ProbeType)))] | None = None
    converter: Annotated[Converter, PlainValidator(one_of(*Converter))] | None = None
    offset_k: Annotated[float, PlainValidator(number(-20, 20, "K"))] | None = None
    gain: Annotated[float, PlainValidator(number(0.5, 1.5))] | None = None
    uncertainty_k: Annotated[float, PlainValidator(number(0, 20, "K", above=True))] | None = None


class BathTable(Table):
    """`[rigs.<id>.bath]`."""

    ice_g: Mass | None = None
    salt_g: Mass | None = None
    water_g: Annotated[float, PlainValidator(number(0, 50_000, "g"))] | None = None
    salt_kind: Annotated[SaltKind, PlainValidator(one_of(*SaltKind))] | None = None
    ice_kind: Annotated[IceKind, PlainValidator(one_of(*IceKind))] | None = None
    limit_c: Annotated[float, PlainValidator(number(-60, 0, "°C"))] | None = None


class BowlsTable(Table):
    """`[rigs.<id>.bowls]`."""

    inner_ml: Volume | None = None
    outer_ml: Volume | None = None
    inner_shape: Annotated[BowlShape, PlainValidator(one_of(*BowlShape))] | None = None
    outer_shape: Annotated[BowlShape, PlainValidator(one_of(*BowlShape))] | None = None
    inner_rim_mm: RimDiameter | None = None
    inner_base_mm: BaseDiameter | None = None
    outer_rim_mm: RimDiameter | None = None
    outer_base_mm: BaseDiameter | None = None
    inner_table: DepthTable | None = None
    outer_table: DepthTable | None = None


class PlateauTable(Table):
    """`[rigs.<id>.plateau]`."""

    gain_pct: Annotated[float, PlainValidator(number(0, 20, "%", above=True))] | None = None
    within_s: Annotated[float, PlainValidator(number(10, 1800, "s"))] | None = None


class RigTable(Table):
    """`[rigs.<id>]`."""

    source: Annotated[SourceKind, PlainValidator(one_of(*get_args(SourceKind)))] | None = None
    port: FilePath | None = None
    baud: Annotated[int, PlainValidator(whole(300, 4_000_000, "bit/s"))] | None = None
    format: Annotated[LineForm, PlainValidator(one_of(*LineForm))] | None = None
    columns: tuple[Text, ...] | None = None
    checksum: Annotated[ChecksumRule, PlainValidator(one_of(*ChecksumRule))] | None = None
    dtr: Flag | None = None
    broker: Annotated[Broker, PlainValidator(broker_address)] | None = None
    prefix: Annotated[str, PlainValidator(_topic)] | None = None
    user: Text | None = None
    password_file: FilePath | None = None
    password_env: Annotated[str, PlainValidator(_environment_name)] | None = None
    ca_file: FilePath | None = None
    cert_file: FilePath | None = None
    key_file: FilePath | None = None
    keepalive_s: Annotated[int, PlainValidator(whole(5, 3600, "s"))] | None = None
    seed: Annotated[int, PlainValidator(whole(0, 2**63 - 1))] | None = None
    recipe: FilePath | None = None
    mixer: FreeText | None = None
    scoop_g: Annotated[float, PlainValidator(number(0, 5000, "g", above=True))] | None = None
    room_c: Annotated[float, PlainValidator(number(-30, 50, "°C"))] | None = None
    probe: tuple[ProbeTable, ...] = ()
    bowls: BowlsTable = BowlsTable()
    bath: BathTable = BathTable()
    plateau: PlateauTable = PlateauTable()


class AlarmTable(Table):
    """`[alarms.<code>]`."""

    enabled: Flag | None = None
    on_delay_s: Delay | None = None
    off_delay_s: Delay | None = None
    set_point: Finite | None = None
    deadband: Annotated[float, PlainValidator(number(0, 86_400))] | None = None


class LogTable(Table):
    """`[log]`."""

    path: FilePath | None = None
    synchronous: Annotated[Synchronous, PlainValidator(one_of(*get_args(Synchronous)))] | None = (
        None
    )


class PageTable(Table):
    """`[page]`."""

    enabled: Flag | None = None
    port: Annotated[int, PlainValidator(whole(1, 65_535))] | None = None
    host: Annotated[str, PlainValidator(ip_address)] | None = None
    guests: Flag | None = None
    names: tuple[Annotated[str, PlainValidator(host_name)], ...] | None = None


class UnitsTable(Table):
    """`[units]`."""

    temperature: (
        Annotated[TemperatureUnit, PlainValidator(one_of(*get_args(TemperatureUnit)))] | None
    ) = None
    mass: Annotated[MassUnit, PlainValidator(one_of(*get_args(MassUnit)))] | None = None
    cup_ml: Annotated[float, PlainValidator(number(100, 500, "ml"))] | None = None
    language: Annotated[Language, PlainValidator(one_of(*get_args(Language)))] | None = None


class HomieTable(Table):
    """`[outlets.homie]`."""

    broker: Annotated[Broker, PlainValidator(broker_address)] = Field(
        description='broker, as in broker = "localhost:1883"'
    )
    prefix: Annotated[str, PlainValidator(_topic)] | None = None
    user: Text | None = None
    password_file: FilePath | None = None
    password_env: Annotated[str, PlainValidator(_environment_name)] | None = None
    ca_file: FilePath | None = None
    cert_file: FilePath | None = None
    key_file: FilePath | None = None
    keepalive_s: Annotated[int, PlainValidator(whole(5, 3600, "s"))] | None = None


class _AlarmsOut(Table):
    """What every outlet for alarms may say of those that it wants."""

    priorities: tuple[Annotated[Priority, PlainValidator(one_of(*Priority))], ...] | None = None
    codes: tuple[Text, ...] | None = None


class WebhookTable(_AlarmsOut):
    """`[outlets.webhook.<name>]`."""

    url: Annotated[str, PlainValidator(web_address)] = Field(
        description='url, as in url = "https://barn.example/alarms"'
    )
    headers_file: FilePath | None = None


class CommandTable(_AlarmsOut):
    """`[outlets.command.<name>]`."""

    run: tuple[Annotated[str, PlainValidator(text(most=1000, least=0))], ...] = Field(
        description='run, the program and its arguments, as in run = ["espeak", "{text}"]'
    )


class MailTable(_AlarmsOut):
    """`[outlets.mail.<name>]`."""

    host: Annotated[str, PlainValidator(text(most=253))] = Field(
        description='host, as in host = "mail.barn.example"'
    )
    port: Annotated[int, PlainValidator(whole(1, 65_535))] | None = None
    tls: Annotated[MailTls, PlainValidator(one_of(*get_args(MailTls)))] | None = None
    user: Text | None = None
    password_file: FilePath | None = None
    password_env: Annotated[str, PlainValidator(_environment_name)] | None = None
    sender: Annotated[str, PlainValidator(mail_address)] = Field(
        alias="from", description='from, as in from = "rigmon@barn.example"'
    )
    to: tuple[Annotated[str, PlainValidator(mail_address)], ...] = Field(
        description='to, as in to = ["ada@barn.example"]'
    )


class OutletsTable(Table):
    """`[outlets]`."""

    homie: HomieTable | None = None
    webhook: dict[str, WebhookTable] = Field(default_factory=dict)
    command: dict[str, CommandTable] = Field(default_factory=dict)
    mail: dict[str, MailTable] = Field(default_factory=dict)


class IngredientTable(Table):
    """`[[ingredient]]`."""

    name: Text = Field(description="the ingredient's name from the ingredient table")
    grams: Mass | None = None
    ml: Annotated[float, PlainValidator(number(0, 50_000, "ml", above=True))] | None = None
    cups: Annotated[float, PlainValidator(number(0, 200, "cups", above=True))] | None = None
    count: Annotated[float, PlainValidator(number(0, 1000, above=True))] | None = None


class CompositionTable(Table):
    """`[composition]`."""

    water: Annotated[float, PlainValidator(number(0, 100, "%", above=True))] | None = None
    fat: Share | None = None
    msnf: Share | None = None
    sucrose: Share | None = None
    dextrose: Share | None = None
    fructose: Share | None = None
    glucose_syrup: Share | None = None
    glucose_syrup_de: Annotated[float, PlainValidator(number(0, 100))] | None = None
    lactose: Share | None = None
    other_solids: Share | None = None
    alcohol: Share | None = None
    salt: Share | None = None
    stabiliser: Share | None = None


class RecipeTable(Table):
    """A recipe file, or `[recipe]` in the configuration that goes with an exported run."""

    name: FreeText | None = None
    mass_g: Mass | None = None
    ingredient: tuple[IngredientTable, ...] = ()
    composition: CompositionTable | None = None


class PriorTable(Table):
    """`[prior]`, in the configuration that goes with an exported run."""

    names: tuple[Text, ...] = Field(description="the parameters' names")
    transforms: tuple[
        Annotated[Literal["log", "identity"], PlainValidator(one_of("log", "identity"))], ...
    ] = Field(description="log or identity for each parameter")
    mean: tuple[Finite, ...] = Field(description="a mean for each parameter")
    covariance: tuple[tuple[Finite, ...], ...] = Field(
        description="a row of covariances for each parameter"
    )
    model_version: Text = Field(description="the model that the parameters belong to")


class RecordedTable(Table):
    """`[recorded]`, in the configuration that goes with an exported run."""

    seed: Annotated[int, PlainValidator(whole(0, 2**63 - 1))] = Field(
        description="the seed of the run's random numbers"
    )
    version: Text = Field(description="the version that recorded the run")
    started: Annotated[datetime.datetime, PlainValidator(instant)] | None = None


class ConfigTable(Table):
    """A configuration file."""

    rigs: dict[str, RigTable] = Field(default_factory=dict)
    alarms: dict[str, AlarmTable] = Field(default_factory=dict)
    outlets: OutletsTable = OutletsTable()
    log: LogTable = LogTable()
    page: PageTable = PageTable()
    units: UnitsTable = UnitsTable()
    recipe: RecipeTable | None = None
    prior: PriorTable | None = None
    recorded: RecordedTable | None = None
