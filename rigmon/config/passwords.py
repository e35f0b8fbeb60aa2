"""What a link needs beside the configuration: certificates, and a password that is not in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from rigmon.config.faults import Fault
from rigmon.config.places import KeyPath
from rigmon.config.raw import Raw, table_of, text_of
from rigmon.config.reading import read_text
from rigmon.errors import ConfigError
from rigmon.records import MqttLink

_CERTIFICATES = ("ca_file", "cert_file", "key_file")


def beside(base: Path, path: str) -> Path:
    """A path of the configuration: relative to the file's own directory, `~` for the home."""
    try:
        return base / Path(path).expanduser()
    except RuntimeError:
        return base / path


def password(base: Path, password_file: str | None = None, password_env: str | None = None) -> str:
    """The password that a rig's keys lead to, or "" without any.

    Raises:
        ConfigError: there is none where they lead.
    """
    if password_env is not None:
        if not os.environ.get(password_env):
            raise ConfigError("the environment has no such variable, or it is empty; set it first")
        return os.environ[password_env]
    if password_file is not None:
        found = read_text(beside(base, password_file)).rstrip("\r\n")
        if not found:
            raise ConfigError(f"{beside(base, password_file)} is empty; write the password into it")
        return found
    return ""


def mqtt_link(given: dict[str, Any], base: Path) -> MqttLink:
    """The broker that a table's keys name, with its password and the paths of its certificates.

    Raises:
        ConfigError: there is no password where they lead.
    """
    rest = dict(given)
    for key in _CERTIFICATES:
        if key in rest:
            rest[key] = str(beside(base, rest[key]))
    host, port, tls = rest.pop("broker")
    rest["password"] = password(
        base, rest.pop("password_file", None), rest.pop("password_env", None)
    )
    return MqttLink(host=host, port=port, tls=tls, **rest)


def link_faults(raw: Raw, base: Path) -> Iterator[Fault]:
    """Faults in what the links need beside the configuration: passwords and certificates."""
    for rig_id, rig in table_of(raw, "rigs").items():
        if not isinstance(rig, dict) or rig.get("source") != "mqtt":
            continue
        yield from secrets_faults(rig, ("rigs", rig_id), base)


def secrets_faults(table: Raw, at: KeyPath, base: Path) -> Iterator[Fault]:
    """Faults in the certificates and the password that one table leads to."""
    for key in _CERTIFICATES:
        path = table.get(key)
        if isinstance(path, str) and not beside(base, path).is_file():
            yield Fault((*at, key), f"there is no file {beside(base, path)}; check the path")
    for key in ("password_file", "password_env"):
        try:
            password(base, **{key: text_of(table, key)})
        except ConfigError as error:
            yield Fault((*at, key), str(error))
