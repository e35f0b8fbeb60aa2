"""Answers the commands of `vectors/` with the MicroPython module; runs under MicroPython too.

`answers.cpp` does the same with the C++ header. A channel is written `-142500/245000` (temperature
and chip, in ten-thousandths of a degree), `35000` (no chip), `open` (a fault) or `-` (no chip
answers); `@1000` before channels is a sample's time in ms.
"""

import rigboard
import riguplink


def channel(word):
    """A channel from its word."""
    if word == "-":
        return None
    if word[0].isalpha():
        return None, 0, word
    value, _, chip = word.partition("/")
    return int(value), int(chip) if chip else None, ""


def shown(found):
    """A decoded channel in degrees."""
    if found is None:
        return "nothing"
    value, chip, fault = found
    return (fault or rigboard.decimal(value, 4)) + " " + rigboard.decimal(chip, 4)


def samples(words):
    """Samples from `@ms channel channel @ms ...`."""
    found = []
    for word in words:
        if word[0] == "@":
            found.append((int(word[1:]), []))
        else:
            found[-1][1].append(channel(word))
    return found


def escaped(data):
    """Bytes as text: what is not printable as two hex digits."""
    return "".join([chr(b) if 32 < b < 127 and b != 92 else f"\\x{b:02x}" for b in data]) or "-"


def unhex(text):
    """Bytes from hex."""
    return bytes([int(text[i : i + 2], 16) for i in range(0, len(text), 2)])


def moment(word):
    """A number, or None for `-`."""
    return None if word == "-" else int(word)


class Answers:
    """One session; the uplink is kept from command to command."""

    def __init__(self):
        self._uplink = None

    def answer(self, line):
        """What is to be printed for a command."""
        command, _, rest = line.partition(" ")
        words = rest.split(" ")
        return getattr(self, command)(rest, words)

    def word(self, rest, _):
        """A word of a MAX31855."""
        return shown(rigboard.of_31855(int(rest, 16)))

    def setup(self, _, words):
        """What a MAX31856 is told."""
        told = rigboard.setup_31856(words[0], int(words[1]))
        return " ".join(["".join([f"{byte:02X}" for byte in pair]) for pair in told])

    def registers(self, _, words):
        """The registers of a MAX31856."""
        return shown(rigboard.of_31856(unhex(words[2]), words[0], int(words[1])))

    def checksum(self, rest, _):
        """A checksum."""
        return f"{rigboard.checksum(rest.encode()):02X}"

    def columns(self, _, words):
        """A line of numbers."""
        return rigboard.closed(
            rigboard.columns_line(int(words[0]), [channel(word) for word in words[1:]])
        )

    def frames(self, _, words):
        """A line of raw words."""
        return rigboard.closed(
            rigboard.frames_line(int(words[0]), [int(word, 16) for word in words[1:]])
        )

    def senml(self, _, words):
        """A pack: rig, probes, now, Unix time, longest, samples."""
        text, taken = rigboard.pack(
            words[0],
            words[1].split(","),
            samples(words[5:]),
            int(words[2]),
            moment(words[3]),
            int(words[4]),
        )
        return f"{taken} {text or '-'}"

    def clock(self, _, words):
        """Ticks of so many bits as milliseconds."""
        ticks = [int(word) for word in words[1:]]
        clock = rigboard.Clock(ticks[0], int(words[0]))
        return " ".join([str(clock.ms(tick)) for tick in ticks])

    def hear(self, _, words):
        """Pieces of bytes as commands."""
        ears = rigboard.Ears()
        heard = []
        for word in words:
            heard += ears.hear(unhex(word))
        return "|".join(heard) or "-"

    def cue(self, _, words):
        """Level, then times; buzzer and lamp at each."""
        cue = rigboard.Cue()
        cue.take(words[0] + " some-alarm", 0)
        return " ".join(
            [str(int(s)) + str(int(b)) for s, b in [cue.now(int(word)) for word in words[1:]]]
        )

    def uplink(self, _, words):
        """Rig, probes, samples kept, user, password."""
        self._uplink = riguplink.Uplink(
            words[0], words[1].split(","), int(words[2]), "rigs", *words[3:]
        )
        return "-"

    def opened(self, _, words):
        """The connection stands."""
        return escaped(self._uplink.opened(int(words[0])))

    def closed(self, *_):
        """The connection is gone."""
        self._uplink.closed()
        return "-"

    def sampled(self, _, words):
        """A sample is taken."""
        for ms, channels in samples(words):
            self._uplink.sampled(ms, channels)
        return str(len(self._uplink.backlog.samples))

    def heard(self, _, words):
        """Bytes came from the broker."""
        answer = escaped(self._uplink.heard(unhex(words[1]), int(words[0])))
        cues = "|".join(self._uplink.cues)
        self._uplink.cues = []
        return f"{answer} {cues or '-'} {len(self._uplink.backlog.samples)}"

    def due(self, _, words):
        """What is to be written."""
        return escaped(self._uplink.due(int(words[0]), moment(words[1])))

    def silent(self, _, words):
        """Whether the broker is given up."""
        return "yes" if self._uplink.silent(int(words[0])) else "no"


def answers(text):
    """An answer a line."""
    session = Answers()
    return "\n".join([session.answer(line) for line in text.split("\n") if line])
