"""What is wrong with a configuration is said with file, line, key, what was found, what may be."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigmon.config import load_config
from rigmon.errors import ConfigError

Write = Callable[..., Path]

_ALARMS = frozenset({"plateau-reached", "bath-limit-near", "probe-silent"})

_SERIAL = '[rigs.a]\nsource = "serial"\nport = "/dev/ttyUSB0"\n'
_RECORDED = '[recorded]\nseed = 1\nversion = "1"\n'
_PRIOR = (
    '[prior]\nnames = ["ua"]\ntransforms = ["log"]\nmean = [2]\ncovariance = [[1]]\n'
    'model_version = "1"\n'
)

FAULTY = {
    "wrong word": (
        (
            '[[rigs.north-bench.probe]]\nname = "bath"\n[[rigs.north-bench.probe]]\nname = "mix"\n'
            'type = "Q"\n'
        ),
        'rig.toml:5 rigs.north-bench.probe[1].type: found "Q", allowed are T, K, J, E, N, other',
    ),
    "key misspelt": (
        "[rigs.a]\nroom = 20\n",
        "rig.toml:2 rigs.a.room: unknown key, the nearest known one is room_c",
    ),
    "key in the table above": (
        '[rigs.a]\nsalt_kinds = "fine"\n',
        "rig.toml:2 rigs.a.salt_kinds: unknown key, the nearest known one is bath.salt_kind",
    ),
    "key in the table below": (
        '[rigs.a.bath]\nice_g = 2600\nmixer = "hand"\n',
        "rig.toml:3 rigs.a.bath.mixer: not known here, it belongs right below the line [rigs.a]",
    ),
    "key without its rig": (
        'source = "serial"\n',
        "rig.toml:1 source: unknown key, the nearest known one is rigs.<name>.source",
    ),
    "table misspelt": (
        '[unit]\nmass = "g"\n',
        "rig.toml:1 unit: unknown key, the nearest known one is units",
    ),
    "table in the wrong table": (
        '[rigs.a.units]\nmass = "g"\n',
        "rig.toml:1 rigs.a.units: not known here, it is a table of its own: write [units]",
    ),
    "key like no other": (
        "[log]\nzzz = 1\n",
        "rig.toml:2 log.zzz: unknown key, known here are path, synchronous",
    ),
    "page where no page can be": (
        "[page]\nport = 0\n",
        "rig.toml:2 page.port: found 0, allowed is a whole number from 1 to 65535",
    ),
    "page at a name": (
        '[page]\nhost = "kitchen"\n',
        'rig.toml:2 page.host: found "kitchen", allowed is an address in figures, as in "0.0.0.0"',
    ),
    "number in quotation marks": (
        '[rigs.a]\nscoop_g = "70"\n',
        (
            'rig.toml:2 rigs.a.scoop_g: found "70", allowed is a number above 0 and up to 5000 g, '
            "without quotation marks"
        ),
    ),
    "number out of range": (
        "[rigs.a]\n[rigs.a.bath]\nice_g = 260000\nsalt_g = 650\n",
        "rig.toml:3 rigs.a.bath.ice_g: found 260000, allowed is a number above 0 and up to 50000 g",
    ),
    "no number at all": (
        "[units]\ncup_ml = nan\n",
        "rig.toml:2 units.cup_ml: found nan, allowed is a number from 100 to 500 ml",
    ),
    "yes for true": (
        '[alarms.probe-silent]\nenabled = "yes"\n',
        'rig.toml:2 alarms.probe-silent.enabled: found "yes", allowed are true and false',
    ),
    "fraction of a baud": (
        _SERIAL + "baud = 9600.5\n",
        "rig.toml:4 rigs.a.baud: found 9600.5, allowed is a whole number from 300 to 4000000 bit/s",
    ),
    "single brackets": (
        '[rigs.a.probe]\nname = "bath"\n',
        (
            "rig.toml:1 rigs.a.probe: found a table, write [[rigs.a.probe]] with two brackets, "
            "once for each"
        ),
    ),
    "double brackets": (
        '[[rigs]]\nsource = "virtual"\n',
        "rig.toml:1 rigs: found a list, allowed is a table, written [rigs.<name>]",
    ),
    "value for a table": (
        '[rigs.a]\nbath = "ice"\n',
        'rig.toml:2 rigs.a.bath: found "ice", allowed is a table, written [rigs.a.bath]',
    ),
    "probe without a name": (
        '[[rigs.a.probe]]\ntype = "T"\n',
        "rig.toml:1 rigs.a.probe[0].name: missing, add the probe's name as it stands on the wire",
    ),
    "probe that sits nowhere": (
        '[[rigs.a.probe]]\nname = "left"\n',
        (
            'rig.toml:2 rigs.a.probe[0].name: the name "left" does not say where the probe sits; '
            "add sits_in, allowed are bath, mix, wall, core, room, freezer, mixer"
        ),
    ),
    "two probes of one name": (
        '[[rigs.a.probe]]\nname = "bath"\n[[rigs.a.probe]]\nname = "bath"\n',
        'rig.toml:4 rigs.a.probe[1].name: found "bath" a second time; names must differ',
    ),
    "thermistor behind a thermocouple chip": (
        '[[rigs.a.probe]]\nname = "bath"\ntype = "other"\nconverter = "emf"\n',
        (
            'rig.toml:3 rigs.a.probe[0].type: found "other", converter = "emf" needs a '
            "thermocouple: T, K, J, E, N"
        ),
    ),
    "serial without a port": (
        '[rigs.a]\nsource = "serial"\n',
        (
            'rig.toml:2 rigs.a.source: with "serial" the key port is needed, '
            'as in port = "/dev/ttyUSB0"'
        ),
    ),
    "mqtt without a broker": (
        '[rigs.a]\nsource = "mqtt"\n',
        (
            'rig.toml:2 rigs.a.source: with "mqtt" the key broker is needed, '
            'as in broker = "localhost:1883"'
        ),
    ),
    "port without a source": (
        '[rigs.a]\nport = "/dev/ttyUSB0"\nbaud = 9600\n',
        'rig.toml:1 rigs.a.source: missing; port, baud need source = "serial"',
    ),
    "key of another source": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "barn"\nbaud = 9600\n',
        'rig.toml:4 rigs.a.baud: this goes with source = "serial", found source = "mqtt"',
    ),
    "columns unnamed": (
        _SERIAL + 'format = "columns"\n',
        (
            'rig.toml:4 rigs.a.format: with "columns" the key columns is needed, '
            'as in columns = ["ms", "bath", "mix"]'
        ),
    ),
    "columns of another form": (
        _SERIAL + 'columns = ["bath"]\n',
        'rig.toml:4 rigs.a.columns: this needs format = "columns" or format = "frames"',
    ),
    "column of no probe": (
        _SERIAL + 'format = "columns"\ncolumns = [\n  "ms",\n  "bth",\n  "bath",\n]\n'
        '[[rigs.a.probe]]\nname = "bath"\n',
        (
            'rig.toml:7 rigs.a.columns[1]: found "bth", allowed is the name of a probe (bath), '
            "ms or s (the board's own time), or - (passed over)"
        ),
    ),
    "column that sits nowhere": (
        _SERIAL + 'format = "columns"\ncolumns = ["bath", "left"]\n',
        (
            'rig.toml:5 rigs.a.columns[1]: found "left", allowed is a name that begins with bath, '
            "mix, wall, core, room, freezer, mixer, ms or s (the board's own time), "
            "or - (passed over)"
        ),
    ),
    "columns with nothing to read": (
        _SERIAL + 'format = "columns"\ncolumns = ["ms", "-"]\n',
        "rig.toml:5 rigs.a.columns: names no probe, at least one is needed",
    ),
    "one port for two rigs": (
        _SERIAL + '[rigs.b]\nsource = "serial"\nport = "/dev/ttyUSB0"\n',
        (
            'rig.toml:6 rigs.b.port: "/dev/ttyUSB0" is the port of the rig a already; '
            "each needs its own"
        ),
    ),
    "bowl in a smaller bowl": (
        "[rigs.a.bowls]\ninner_ml = 9000\nouter_ml = 4000\n",
        (
            "rig.toml:2 rigs.a.bowls.inner_ml: the inner bowl holds 9000 ml and the outer 4000 ml; "
            "the outer must hold more"
        ),
    ),
    "frustum without its diameters": (
        '[rigs.a.bowls]\ninner_shape = "frustum"\ninner_base_mm = 120\n',
        (
            'rig.toml:2 rigs.a.bowls.inner_shape: with "frustum" the key inner_rim_mm is needed, '
            "as in inner_rim_mm = 240"
        ),
    ),
    "diameter of a hemisphere": (
        "[rigs.a.bowls]\nouter_rim_mm = 300\n",
        (
            'rig.toml:2 rigs.a.bowls.outer_rim_mm: this goes with outer_shape = "frustum", '
            'found outer_shape = "hemisphere"'
        ),
    ),
    "frustum upside down": (
        '[rigs.a.bowls]\ninner_shape = "frustum"\ninner_rim_mm = 120\ninner_base_mm = 240\n',
        (
            "rig.toml:4 rigs.a.bowls.inner_base_mm: the base is 240 mm wide and the rim 120 mm; "
            "the rim must be as wide or wider, exchange them"
        ),
    ),
    "diameter in centimetres": (
        '[rigs.a.bowls]\ninner_shape = "frustum"\ninner_rim_mm = 24\ninner_base_mm = 24\n',
        "rig.toml:3 rigs.a.bowls.inner_rim_mm: found 24, allowed is a number from 50 to 1000 mm",
    ),
    "measured bowl without its table": (
        '[rigs.a.bowls]\nouter_shape = "measured"\n',
        (
            'rig.toml:2 rigs.a.bowls.outer_shape: with "measured" the key outer_table is needed, '
            "as in outer_table = [[40, 900], [80, 2400]]"
        ),
    ),
    "table of a cylinder": (
        '[rigs.a.bowls]\nouter_shape = "cylinder"\nouter_table = [[50, 4000], [110, 9500]]\n',
        (
            'rig.toml:3 rigs.a.bowls.outer_table: this goes with outer_shape = "measured", '
            'found outer_shape = "cylinder"'
        ),
    ),
    "table that does not rise": (
        (
            '[rigs.a.bowls]\ninner_shape = "measured"\n'
            "inner_table = [[40, 900], [90, 800], [120, 4000]]\n"
        ),
        (
            "rig.toml:3 rigs.a.bowls.inner_table: point 2 does not rise over the one before it; "
            "each must be deeper and hold more"
        ),
    ),
    "table of one point": (
        '[rigs.a.bowls]\ninner_shape = "measured"\ninner_table = [[120, 4000]]\n',
        (
            "rig.toml:3 rigs.a.bowls.inner_table: found a list of one, allowed is a list of "
            "[depth in mm, ml] from shallow to full, as in [[40, 900], [80, 2400]]"
        ),
    ),
    "table of bare numbers": (
        '[rigs.a.bowls]\ninner_shape = "measured"\ninner_table = [40, 900, 80, 2400]\n',
        (
            "rig.toml:3 rigs.a.bowls.inner_table: point 1 is no [depth in mm, ml], allowed is a "
            "list of [depth in mm, ml] from shallow to full, as in [[40, 900], [80, 2400]]"
        ),
    ),
    "table with a word": (
        '[rigs.a.bowls]\ninner_shape = "measured"\ninner_table = [[40, 900], ["rim", 4000]]\n',
        (
            'rig.toml:3 rigs.a.bowls.inner_table: point 2: found "rim", allowed is a number above '
            "0 and up to 1000 mm, without quotation marks"
        ),
    ),
    "table that ends below the rim": (
        '[rigs.a.bowls]\ninner_shape = "measured"\ninner_table = [[40, 900], [110, 3600]]\n',
        (
            "rig.toml:3 rigs.a.bowls.inner_table: the table ends at 3600 ml and the bowl holds "
            "4000 ml to its rim; measure up to the rim and set inner_ml to that"
        ),
    ),
    "rig with a capital": (
        "[rigs.North]\n",
        (
            "rig.toml:1 rigs.North: this cannot be a rig's name, allowed are up to 40 of a-z, 0-9 "
            "and -, a letter or digit first"
        ),
    ),
    "unknown alarm": (
        "[alarms.plateau-reach]\nenabled = false\n",
        "rig.toml:1 alarms.plateau-reach: unknown alarm, the nearest known one is plateau-reached",
    ),
    "certificate without encryption": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "barn"\nca_file = "rig.toml"\n',
        (
            "rig.toml:4 rigs.a.ca_file: this needs an encrypted broker, "
            'as in broker = "mqtts://host:8883"'
        ),
    ),
    "certificate that is not there": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "mqtts://barn"\nca_file = "ca.pem"\n',
        "rig.toml:4 rigs.a.ca_file: there is no file ca.pem; check the path",
    ),
    "broker with a path": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "http://barn/mqtt"\n',
        (
            'rig.toml:3 rigs.a.broker: found "http://barn/mqtt", allowed is "host", "host:1883" '
            'or, encrypted, "mqtts://host:8883"'
        ),
    ),
    "broker on no port": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "barn:70000"\n',
        (
            'rig.toml:3 rigs.a.broker: found "barn:70000", allowed is "host", "host:1883" or, '
            'encrypted, "mqtts://host:8883"'
        ),
    ),
    "topic with a wildcard": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "barn"\nprefix = "rigs/#"\n',
        (
            'rig.toml:4 rigs.a.prefix: found "rigs/#", allowed is a topic of up to 100 characters '
            "with no + or # and no / at either end"
        ),
    ),
    "literal password": (
        '[rigs.a]\nsource = "mqtt"\nbroker = "barn"\nuser = "me"\npassword = "hunter2"\n',
        (
            "rig.toml:5 rigs.a.password: a password must not stand in this file; write it into a "
            'file of its own and give password_file = "broker.password", or put it into an '
            'environment variable and give password_env = "BROKER_PASSWORD"'
        ),
    ),
    "two passwords": (
        (
            '[rigs.a]\nsource = "mqtt"\nbroker = "barn"\nuser = "me"\npassword_file = "rig.toml"\n'
            'password_env = "HOME"\n'
        ),
        "rig.toml:6 rigs.a.password_env: found beside password_file, keep one of them",
    ),
    "recipe at the top": (
        'recipe = "quince.toml"\n',
        (
            "rig.toml:1 recipe: only an exported run has its recipe in the same file; write the "
            "recipe into a file of its own and name it in the rig, "
            'as in recipe = "quince.toml"'
        ),
    ),
    "a recipe as a configuration": (
        'name = "quince"\n[[ingredient]]\nname = "cream"\ngrams = 300\n',
        (
            "rig.toml:2 ingredient: this is a recipe, not a configuration; name it in a rig, "
            'as in recipe = "quince.toml", or give it with --recipe'
        ),
    ),
    "half a recorded run": (
        "[rigs.a]\n" + _RECORDED,
        "rig.toml:2 recorded: found without [prior]; an exported run has both",
    ),
    "recorded run of two rigs": (
        "[rigs.a]\n[rigs.b]\n" + _RECORDED + _PRIOR,
        "rig.toml:3 recorded: found 2 rigs, an exported run has exactly one",
    ),
    "lopsided prior": (
        "[rigs.a]\n" + _RECORDED + _PRIOR.replace("[[1]]", "[[1, 0]]"),
        "rig.toml:9 prior.covariance[0]: found 2 of them, there are 1 names",
    ),
    "negative variance": (
        "[rigs.a]\n" + _RECORDED + _PRIOR.replace("[[1]]", "[[-1]]"),
        "rig.toml:9 prior.covariance[0][0]: found -1, a variance is never negative",
    ),
}


@pytest.mark.parametrize(("text", "says"), FAULTY.values(), ids=FAULTY.keys())
def test_a_fault_is_said_in_one_sentence(write: Write, text: str, says: str) -> None:
    """Each faulty file gives exactly this one line."""
    with pytest.raises(ConfigError) as raised:
        load_config(write(text), _ALARMS)
    assert str(raised.value) == says


def test_every_fault_is_listed_in_the_order_of_the_file(write: Write) -> None:
    """Faults of single keys and faults between keys stand together, one a line."""
    text = (
        '[log]\nsynchronous = "OFF"\n[rigs.a]\nsource = "serial"\nbaud = 1\n'
        '[[rigs.a.probe]]\nname = "left"\ngain = 2\n[units]\nmas = "g"\n'
    )
    with pytest.raises(ConfigError) as raised:
        load_config(write(text))
    places = [line.partition(": ")[0] for line in str(raised.value).split("\n")]
    assert places == [
        "rig.toml:2 log.synchronous",
        "rig.toml:4 rigs.a.source",
        "rig.toml:5 rigs.a.baud",
        "rig.toml:7 rigs.a.probe[0].name",
        "rig.toml:8 rigs.a.probe[0].gain",
        "rig.toml:10 units.mas",
    ]


def test_the_exit_code_is_that_of_a_configuration(write: Write) -> None:
    """A faulty configuration ends the program with 2."""
    with pytest.raises(ConfigError) as raised:
        load_config(write("x = 1"))
    assert raised.value.exit_code == 2
