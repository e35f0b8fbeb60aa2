"""A configuration file becomes the values that the program works with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigmon.config import Config, LogConfig, RigConfig, Units, load_config
from rigmon.errors import ConfigError
from rigmon.records import (
    AlarmSetting,
    BathSetup,
    BowlSetup,
    BowlShape,
    ChecksumRule,
    Converter,
    IceKind,
    LineForm,
    MqttLink,
    Place,
    PlateauSetting,
    ProbeSetup,
    RigSetup,
    SaltKind,
    SerialLink,
    VirtualLink,
)

Write = Callable[..., Path]


def test_every_key_arrives_in_its_record(write: Write, full_config: str) -> None:
    """A file with the keys of a serial rig gives exactly these records."""
    assert load_config(write(full_config), {"plateau-reached"}) == Config(
        rigs=(
            RigConfig(
                setup=RigSetup(
                    id="north-bench",
                    probes=(
                        ProbeSetup("bath", Place.BATH, offset_k=-0.4, gain=1.01),
                        ProbeSetup(
                            "tip",
                            Place.MIX,
                            type="K",
                            converter=Converter.STRAIGHT_LINE,
                            uncertainty_k=0.3,
                        ),
                    ),
                    bath=BathSetup(2600, 650, 100, SaltKind.ROCK, IceKind.CUBES, -9.5),
                    bowls=BowlSetup(3000, 8000, BowlShape.CYLINDER, BowlShape.HEMISPHERE),
                    room_c=22,
                    mixer="two-speed hand mixer",
                    scoop_g=70,
                    plateau=PlateauSetting(1.5, 90),
                    alarms={"plateau-reached": AlarmSetting(False, 15, 30)},
                ),
                link=SerialLink(
                    "/dev/serial/by-id/usb-bench",
                    57600,
                    LineForm.COLUMNS,
                    ("ms", "bath", "tip", "-"),
                    ChecksumRule.REQUIRED,
                    dtr=False,
                ),
                recipe_path=Path("quince.toml"),
            ),
        ),
        units=Units("F", "oz", 250),
        log=LogConfig(Path("runs.sqlite"), "NORMAL"),
    )


def test_bowls_of_every_shape_arrive(write: Write) -> None:
    """A frustum brings its diameters, a measured bowl its table; whole numbers become floats."""
    config = load_config(
        write(
            "[rigs.a.bowls]\n"
            'inner_ml = 3600\ninner_shape = "frustum"\ninner_rim_mm = 230\ninner_base_mm = 130\n'
            'outer_ml = 9000\nouter_shape = "measured"\n'
            "outer_table = [[30, 1200], [70, 4100], [120, 9000]]\n"
        )
    )
    assert config.rigs[0].setup.bowls == BowlSetup(
        inner_ml=3600.0,
        outer_ml=9000.0,
        inner_shape=BowlShape.FRUSTUM,
        outer_shape=BowlShape.MEASURED,
        inner_rim_mm=230.0,
        inner_base_mm=130.0,
        outer_table=((30.0, 1200.0), (70.0, 4100.0), (120.0, 9000.0)),
    )


def test_an_empty_file_is_a_configuration_without_rigs(write: Write) -> None:
    """Everything may be left out."""
    assert load_config(write("")) == Config()


def test_a_rig_may_be_left_at_its_defaults(write: Write) -> None:
    """A rig without a source, as a replay needs it, has the defaults of the records and no link."""
    config = load_config(write("[rigs.a]"))
    assert config.rigs == (RigConfig(RigSetup(id="a")),)


def test_rigs_keep_the_order_of_the_file(write: Write) -> None:
    """The first rig in the file is the first rig."""
    config = load_config(write("[rigs.zinc]\n[rigs.attic]\n"))
    assert [rig.setup.id for rig in config.rigs] == ["zinc", "attic"]


def test_alarm_settings_hold_for_every_rig(write: Write) -> None:
    """A setting under [alarms] reaches all rigs."""
    config = load_config(write("[rigs.a]\n[rigs.b]\n[alarms.bath-low]\non_delay_s = 5\n"))
    setting = {"bath-low": AlarmSetting(on_delay_s=5.0)}
    assert [rig.setup.alarms for rig in config.rigs] == [setting, setting]


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("bath", Place.BATH),
        ("bath_2", Place.BATH),
        ("mix2", Place.MIX),
        ("mixer", Place.MIXER),
        ("core-left", Place.CORE),
        ("freezer", Place.FREEZER),
    ],
)
def test_a_place_word_at_the_start_of_a_name_says_where_the_probe_sits(
    write: Write, name: str, place: Place
) -> None:
    """A probe whose name begins with a place word needs no sits_in."""
    config = load_config(write(f'[[rigs.a.probe]]\nname = "{name}"\n'))
    assert config.rigs[0].setup.probes[0].sits_in is place


@pytest.mark.parametrize("name", ["bathroom", "tip", "2bath", "Bath"])
def test_a_name_that_only_resembles_a_place_does_not_say_where(write: Write, name: str) -> None:
    """The place is never guessed from part of a word."""
    with pytest.raises(ConfigError, match="does not say where the probe sits"):
        load_config(write(f'[[rigs.a.probe]]\nname = "{name}"\n'))


@pytest.mark.parametrize(
    ("letter", "uncertainty_k"), [("T", 0.5), ("K", 1.5), ("J", 1.5), ("E", 1.5), ("N", 1.5)]
)
def test_an_uncalibrated_probe_has_the_tolerance_of_its_wire(
    write: Write, letter: str, uncertainty_k: float
) -> None:
    """IEC 60584-1:2013, class 1 at −40 to 100 °C: T ±0.5 K, the others ±1.5 K."""
    config = load_config(write(f'[[rigs.a.probe]]\nname = "mix"\ntype = "{letter}"\n'))
    assert config.rigs[0].setup.probes[0].uncertainty_k == uncertainty_k


_FRAMES = """\
[rigs.a]
source = "serial"
port = "/dev/ttyUSB0"
format = "frames"
columns = ["ms", "bath", "mix"]
"""


def test_raw_frames_mean_a_straight_line_unless_said_otherwise(write: Write) -> None:
    """Probes behind raw converter frames default to the straight line of the chip."""
    tables = (
        '[[rigs.a.probe]]\nname = "bath"\n'
        '[[rigs.a.probe]]\nname = "mix"\nconverter = "linearised"\n'
    )
    bath, mix = load_config(write(_FRAMES + tables)).rigs[0].setup.probes
    assert (bath.converter, mix.converter) == (Converter.STRAIGHT_LINE, Converter.LINEARISED)


def test_channels_of_raw_frames_need_no_table_of_their_own(write: Write) -> None:
    """Columns that say where they sit become probes with a straight line."""
    probes = load_config(write(_FRAMES)).rigs[0].setup.probes
    assert [(probe.name, probe.converter) for probe in probes] == [
        ("bath", Converter.STRAIGHT_LINE),
        ("mix", Converter.STRAIGHT_LINE),
    ]


def test_paths_are_relative_to_the_configuration(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A path in the file starts at the file's directory; `~` is the home, `/` the root."""
    monkeypatch.setenv("HOME", "/home/quince")
    (tmp_path / "rig.toml").write_text(
        '[rigs.a]\nrecipe = "recipes/a.toml"\n[rigs.b]\nrecipe = "~/b.toml"\n'
        '[rigs.c]\nrecipe = "~nobody-here/c.toml"\n[log]\npath = "/var/lib/runs.sqlite"\n',
        encoding="utf-8",
    )
    config = load_config(tmp_path / "rig.toml")
    assert [rig.recipe_path for rig in config.rigs] == [
        tmp_path / "recipes/a.toml",
        Path("/home/quince/b.toml"),
        tmp_path / "~nobody-here/c.toml",
    ]
    assert config.log.path == Path("/var/lib/runs.sqlite")


@pytest.mark.parametrize(
    ("broker", "host", "port", "tls"),
    [
        ("barn", "barn", 1883, False),
        ("192.168.4.1:1884", "192.168.4.1", 1884, False),
        ("mqtt://barn.example", "barn.example", 1883, False),
        ("mqtts://barn.example", "barn.example", 8883, True),
        ("mqtts://barn.example:443", "barn.example", 443, True),
        ("[fe80::1]:1885", "fe80::1", 1885, False),
        ("[::1]", "::1", 1883, False),
    ],
)
def test_a_broker_is_written_as_people_write_them(
    write: Write, broker: str, host: str, port: int, tls: bool
) -> None:
    """Host, port and encryption come from one address with the ports that MQTT has registered."""
    config = load_config(write(f'[rigs.a]\nsource = "mqtt"\nbroker = "{broker}"\n'))
    assert config.rigs[0].link == MqttLink(host, port, tls=tls)


def test_every_key_of_a_broker_arrives(write: Write) -> None:
    """A file with every MQTT key gives exactly this link, its files found beside it."""
    for name in ("ca.pem", "me.pem", "me.key"):
        write("x", name)
    write("s3cret\r\n", "broker.password")
    path = write(
        '[rigs.a]\nsource = "mqtt"\nbroker = "mqtts://barn"\nprefix = "home/rigs"\n'
        'user = "me"\npassword_file = "broker.password"\nca_file = "ca.pem"\n'
        'cert_file = "me.pem"\nkey_file = "me.key"\nkeepalive_s = 30\n'
    )
    assert load_config(path).rigs[0].link == MqttLink(
        "barn", 8883, "home/rigs", "me", "s3cret", True, "ca.pem", "me.pem", "me.key", 30
    )


def test_a_virtual_rig_has_a_seed(write: Write) -> None:
    """The virtual rig is asked for in the file like any other source."""
    config = load_config(write('[rigs.a]\nsource = "virtual"\nseed = 7\n'))
    assert config.rigs[0].link == VirtualLink(7)


def test_a_replay_needs_no_link_and_no_password(write: Write) -> None:
    """Without links neither a missing password nor a missing certificate stops the reading."""
    path = write(
        '[rigs.a]\nsource = "mqtt"\nbroker = "mqtts://barn"\nuser = "me"\n'
        'password_file = "nowhere"\nca_file = "nowhere.pem"\n'
    )
    assert load_config(path, links=False).rigs == (RigConfig(RigSetup(id="a")),)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(
    tmp_path: Path, full_config: str
) -> None:
    """A file saved by a Windows editor is the same configuration."""
    plain, windows = tmp_path / "a.toml", tmp_path / "b.toml"
    plain.write_text(full_config, encoding="utf-8")
    windows.write_bytes(b"\xef\xbb\xbf" + full_config.replace("\n", "\r\n").encode())
    assert load_config(plain) == load_config(windows)
