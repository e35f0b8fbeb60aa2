"""Which rig this board sits at, what hangs on which pin, and the way to the computer."""

RIG = "kitchen"

PROBES = (
    ("bath", "31856", "T", 5),
    ("mix", "31856", "T", 6),
)
"""Name, converter chip (31856 or 31855), type, and the pin that selects its chip."""

SCK, MOSI, MISO = 2, 3, 4
BUZZER, LAMP = 14, 15
"""Pins; a negative one is none."""

MAINS_HZ = 50
EVERY_MS = 1000
"""A second in the rounds; a minute in the freezer."""

FORM = "senml"
"""What goes over the serial port: `senml`, `columns`, or `frames` with 31855 alone."""

WIFI, WIFI_PASSWORD = "", ""
"""Empty: serial port only."""

BROKER, PORT = "192.168.1.10", 1883
"""An address, not a name: looking a name up may take longer than the watchdog waits."""

USER, PASSWORD, PREFIX = "", "", "rigs"
TIME_SERVER = ""
"""Empty: times are told as seconds before now."""

KEPT = 400
"""Samples kept while the network is away, some 150 bytes each."""
