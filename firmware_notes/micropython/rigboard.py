"""What a board at the bowl says and hears; nothing in here knows a pin, a port or a network.

It runs under MicroPython and under Python. Temperatures are whole ten-thousandths of a degree
Celsius (e4), so that each count of a chip stays exact on boards that calculate in single precision;
times are milliseconds since the board's start. A channel is what one probe gave: a temperature with
that of its chip and a fault, of which one may be missing, or None where no chip answers.
"""

VERSION = "reference 1.0"
LINE_BYTES = 1024
LONGEST_COMMAND = 80
KINDS = "BEJKNRST"
"""Thermocouple letters in the order in which the MAX31856 counts them."""

PATTERNS = {
    "high": (250, 150, 3, 10000, 500),
    "medium": (400, 300, 2, 20000, 2000),
    "low": (700, 0, 1, 0, 0),
}
"""Buzzer on and off for so many ms, so many times, again after so many (0: not again), as the
program's own bell; the lamp blinks in the last number of ms (0: it burns)."""

_FAULTS = ((1, "open"), (2, "short-gnd"), (4, "short-vcc"))


def signed(bits: int, width: int) -> int:
    """A number in two's complement of that many bits."""
    return bits - (1 << width) if bits >> (width - 1) else bits


def of_31855(word: int) -> tuple[int | None, int, str] | None:
    """A channel from the 32 bits of a MAX31855; None where no chip sends such a word.

    Source: MAX31855 data sheet (Maxim 19-5793), tables 2 to 5.
    """
    faulty = word & 1 << 16
    if word in {0, 0xFFFFFFFF} or word & (1 << 17 | 1 << 3) or bool(faulty) != bool(word & 7):
        return None
    chip_e4 = signed(word >> 4 & 0xFFF, 12) * 625
    if faulty:
        return None, chip_e4, next(name for bit, name in _FAULTS if word & bit)
    return signed(word >> 18, 14) * 2500, chip_e4, ""


def settings_31856(kind: str, mains_hz: int) -> tuple[int, int]:
    """What the first two registers of a MAX31856 are to hold.

    Automatic conversion, a look for broken wires, the notch filter at the mains' frequency, which
    a motor's noise repeats; each value the mean of four.

    Source: MAX31856 data sheet (Maxim 19-7534), registers 00h and 01h.
    """
    return 0x90 | (1 if mains_hz == 50 else 0), 0x20 | KINDS.index(kind)


def setup_31856(kind: str, mains_hz: int) -> tuple[bytes, bytes, bytes]:
    """What to write to a MAX31856; its filter may only change while it does not convert."""
    cr0, cr1 = settings_31856(kind, mains_hz)
    return bytes((0x80, cr0 & 1)), bytes((0x81, cr1)), bytes((0x80, cr0))


def of_31856(registers: bytes, kind: str, mains_hz: int) -> tuple[int | None, int, str] | None:
    """A channel from the 16 registers of a MAX31856, read from 00h on.

    None where they do not hold our settings: no chip is there, or it has been without power and
    must be set up again. An input beyond the supply or below ground is one fault to the chip; it
    is called a short to the supply here.

    Source: MAX31856 data sheet (Maxim 19-7534), registers 0Ah to 0Fh.
    """
    cr0, cr1 = settings_31856(kind, mains_hz)
    status = registers[15]
    if registers[0] & 0xBD != cr0 or registers[1] & 0x7F != cr1 or status & 0xC0:
        return None
    chip = signed(registers[10] << 8 | registers[11], 16) >> 2
    chip_e4 = chip * 625 + 2 >> 2
    if status & 3:
        return None, chip_e4, "open" if status & 1 else "short-vcc"
    tip = signed(registers[12] << 16 | registers[13] << 8 | registers[14], 24) >> 5
    return tip * 625 + 4 >> 3, chip_e4, ""


def decimal(number: int, digits: int) -> str:
    """A whole number of 10**-digits, written out without idle zeros."""
    whole, part = divmod(abs(number), 10**digits)
    text = str(part)
    text = f"{whole}.{'0' * (digits - len(text))}{text}".rstrip("0").rstrip(".")
    return "-" + text if number < 0 else text


def checksum(text: bytes) -> int:
    """The XOR of all bytes, as in NMEA 0183."""
    total = 0
    for byte in text:
        total ^= byte
    return total


def closed(text: str) -> str:
    """A line with its checksum."""
    return f"{text}*{checksum(text.encode()):02X}"


def hello(rig: str) -> str:
    """The answer to `ping`, also said at the start."""
    return f"rigmon-board {rig} {VERSION}"


def columns_line(ms: int, channels) -> str:
    """Numbers: the clock, then for each probe its temperature and its chip's."""
    fields = [str(ms % (1 << 32))]
    for channel in channels:
        numbers = channel[:2] if channel else (None, None)
        fields += ["" if number is None else decimal(number, 4) for number in numbers]
    return ",".join(fields)


def frames_line(ms: int, words) -> str:
    """The clock, then the raw word of each MAX31855."""
    return ",".join([str(ms % (1 << 32))] + [f"{word:08X}" for word in words])


def _records(names, channels, age_ms: int) -> list[str]:
    """The SenML records of one sample, each without its opening brace."""
    tail = f',"t":{decimal(-age_ms, 3)}}}' if age_ms else "}"
    found = []
    for name, channel in zip(names, channels):
        if channel is None:
            continue
        value_e4, chip_e4, fault = channel
        if fault:
            found.append(f'"n":"{name}","vs":"{fault}"{tail}')
            continue
        found.append(f'"n":"{name}","v":{decimal(value_e4, 4)}{tail}')
        if chip_e4 is not None:
            found.append(f'"n":"{name}/cj","v":{decimal(chip_e4, 4)}{tail}')
    return found


def pack(rig: str, names, samples, now_ms: int, unix_ms=None, limit: int = LINE_BYTES):
    """A SenML pack (RFC 8428) of samples, and how many of the old ones it holds.

    The newest sample always ends it, so that a host whose clock is wrong can date the others by it;
    before it come as many as fit, the oldest first. Their times are seconds from now, and from
    `bt` where the board knows the time of day.
    """
    base = f'"bn":"{rig}/","bu":"Cel",'
    if unix_ms is not None:
        base += f'"bt":{decimal(unix_ms, 3)},'
    last = _records(names, samples[-1][1], now_ms - samples[-1][0])
    room = limit - len(base) - 2 - sum([len(record) + 2 for record in last])
    records: list[str] = []
    taken = 0
    for at_ms, channels in samples[:-1]:
        more = _records(names, channels, now_ms - at_ms)
        room -= sum([len(record) + 2 for record in more])
        if room < 0:
            break
        records += more
        taken += 1
    records += last
    if not records:
        return "", taken
    return "[{" + base + ",{".join(records) + "]", taken


class Clock:
    """Ticks that wrap, made into milliseconds that do not, and those into Unix time.

    Args:
        ticks: what the board counts just now.
        bits: how many of them to go by: at most as many as it counts with.
    """

    def __init__(self, ticks: int, bits: int = 30):
        self._ticks = ticks
        self._period = 1 << bits
        self._ms = 0
        self._epoch_ms = None

    def ms(self, ticks: int) -> int:
        """Milliseconds since the start; to be asked at least once a period."""
        self._ms += (ticks - self._ticks) % self._period
        self._ticks = ticks
        return self._ms

    def set_unix(self, unix_s: int, ms: int) -> None:
        """The time of day at a moment."""
        self._epoch_ms = 1000 * unix_s - ms

    def unix_ms(self, ms: int):
        """Unix time at a moment; None until it is known."""
        return None if self._epoch_ms is None else self._epoch_ms + ms


def unix_s(seconds: int, first_year: int) -> int:
    """Unix time from seconds since the year at which the board's own count begins."""
    return seconds + 946684800 if first_year == 2000 else seconds


class Ears:
    """Parts what the host writes into commands, however its bytes arrive."""

    def __init__(self):
        self._kept = b""

    def hear(self, data: bytes) -> list[str]:
        """The commands that these bytes complete; what is too long is none."""
        *ended, self._kept = (self._kept + data).split(b"\n")
        self._kept = self._kept[: LONGEST_COMMAND + 1]
        return [plain(line) for line in ended if len(line) <= LONGEST_COMMAND]


def plain(line: bytes) -> str:
    """The printable characters of a line."""
    return "".join([chr(byte) for byte in line if 32 <= byte < 127])


class Cue:
    """What the buzzer and the lamp do: the level of the most urgent unanswered alarm."""

    def __init__(self):
        self.level = "off"
        self._since = 0

    def take(self, words: str, ms: int) -> None:
        """Take `<level> <alarm-code>`; a level that nobody knows changes nothing."""
        level = words.partition(" ")[0]
        if level == "off" or level in PATTERNS:
            self.level = level
            self._since = ms

    def now(self, ms: int) -> tuple[bool, bool]:
        """Whether the buzzer sounds and whether the lamp burns."""
        if self.level == "off":
            return False, False
        on, off, beeps, again, blink = PATTERNS[self.level]
        since = ms - self._since
        phase = since % again if again else since
        lamp = not blink or since % blink < blink // 2
        return phase < beeps * (on + off) and phase % (on + off) < on, lamp
