"""Files for the tests of the configuration: the working directory is a fresh one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

Write = Callable[..., Path]

_FULL = """\
[rigs.north-bench]
source = "serial"
port = "/dev/serial/by-id/usb-bench"
baud = 57600
format = "columns"
columns = ["ms", "bath", "tip", "-"]
checksum = "required"
dtr = false
recipe = "quince.toml"
mixer = "two-speed hand mixer"
scoop_g = 70
room_c = 22

[[rigs.north-bench.probe]]
name = "bath"
offset_k = -0.4
gain = 1.01

[[rigs.north-bench.probe]]
name = "tip"
sits_in = "mix"
type = "K"
converter = "straight-line"
uncertainty_k = 0.3

[rigs.north-bench.bowls]
inner_ml = 3000
outer_ml = 8000
inner_shape = "cylinder"
outer_shape = "hemisphere"

[rigs.north-bench.bath]
ice_g = 2600
salt_g = 650
water_g = 100
salt_kind = "rock"
ice_kind = "cubes"
limit_c = -9.5

[rigs.north-bench.plateau]
gain_pct = 1.5
within_s = 90

[alarms.plateau-reached]
enabled = false
on_delay_s = 15
off_delay_s = 30

[log]
path = "runs.sqlite"
synchronous = "NORMAL"

[units]
temperature = "F"
mass = "oz"
cup_ml = 250
"""

_QUINCE = """\
name = "quince, March"
mass_g = 900

[composition]
water = 61.5
fat = 10
msnf = 9.5
sucrose = 14
glucose_syrup = 4
glucose_syrup_de = 38
lactose = 0.5
stabiliser = 0.4
"""


@pytest.fixture
def write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Write:
    """Writes a file into the working directory and returns its relative path."""
    monkeypatch.chdir(tmp_path)

    def written(text: str, name: str = "rig.toml") -> Path:
        Path(name).write_text(text, encoding="utf-8")
        return Path(name)

    return written


@pytest.fixture(scope="session")
def full_config() -> str:
    """Uses every key but those of MQTT, the virtual rig, and frustum or measured bowls."""
    return _FULL


@pytest.fixture(scope="session")
def full_recipe() -> str:
    """A recipe with a composition."""
    return _QUINCE
