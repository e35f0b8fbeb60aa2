"""One rig's way to an MQTT broker: bytes in, bytes out; samples wait here while it is away.

As pure as `rigboard`: whoever calls has the socket and the clock.
"""

from rigboard import LONGEST_COMMAND, pack, plain


class Backlog:
    """Samples that have not arrived yet, oldest first; the newest is always among them.

    Once it is full, every second one is let go, and from then on only every second one is kept: a
    long absence is kept evenly, and more coarsely than a short one.
    """

    def __init__(self, most: int):
        self._most = most
        self.samples: list[tuple] = []
        self._until = self._last = -1
        self._begin()

    def _begin(self) -> None:
        self._every = 1
        self._count = -1
        self._passing = -1

    def add(self, ms: int, channels) -> None:
        """Keep a sample."""
        if self.samples and self.samples[-1][0] == self._passing:
            self.samples.pop()
        self._count += 1
        if len(self.samples) >= self._most:
            self.samples = [self.samples[i] for i in range(0, len(self.samples), 2)]
            self._every *= 2
        self._passing = ms if self._count % self._every else -1
        self.samples.append((ms, channels))

    def pack(self, rig: str, names, now_ms: int, unix_ms=None) -> str:
        """A pack of what fits; `arrived` lets go of it."""
        text, taken = pack(rig, names, self.samples, now_ms, unix_ms)
        self._until = self.samples[taken - 1][0] if taken else -1
        self._last = self.samples[-1][0]
        return text

    def arrived(self) -> None:
        """The last pack has arrived."""
        self.samples = [
            one for one in self.samples if one[0] > self._until and one[0] != self._last
        ]
        if not self.samples:
            self._begin()


def _string(text: str) -> bytes:
    raw = text.encode()
    return bytes((len(raw) >> 8, len(raw) & 255)) + raw


def _packet(kind: int, body: bytes) -> bytes:
    length = len(body)
    head = [kind]
    while True:
        head.append(length & 127 | (128 if length > 127 else 0))
        length >>= 7
        if not length:
            return bytes(head) + body


class Uplink:
    """One rig's connection to a broker, MQTT 3.1.1.

    A sample is let go of once the broker has acknowledged it (QoS 1). A broker that says nothing
    for `SILENT_MS` is taken for lost.
    """

    ALIVE_S = 30
    PING_MS = 10000
    SILENT_MS = 20000
    LONGEST_PACKET = 256

    def __init__(self, rig: str, names, most: int, prefix: str = "rigs", user="", password=""):
        self._rig, self._names = rig, names
        self._topic = f"{prefix}/{rig}/"
        self._user, self._password = user, password
        self.backlog = Backlog(most)
        self.cues: list[str] = []
        self.refused = 0
        self.closed()

    def closed(self) -> None:
        """The connection is gone."""
        self.ready = False
        self._kept = b""
        self._id = 1
        self._flying = 0
        self._fresh = False
        self._sent = self._heard = 0

    def opened(self, ms: int) -> bytes:
        """The connection stands: who we are, and what is to be said if we vanish."""
        self.closed()
        self.refused = 0
        self._sent = self._heard = ms
        flags = 0x2E | (0x80 if self._user else 0) | (0x40 if self._password else 0)
        body = _string("MQTT") + bytes((4, flags, 0, self.ALIVE_S))
        body += _string(f"rig-{self._rig}") + _string(self._topic + "status") + _string("offline")
        for text in (self._user, self._password):
            body += _string(text) if text else b""
        return _packet(0x10, body)

    def sampled(self, ms: int, channels) -> None:
        """A sample is to be sent, now or later."""
        if any(channels):
            self.backlog.add(ms, channels)
            self._fresh = True

    def heard(self, data: bytes, ms: int) -> bytes:
        """Take what the broker wrote; returns what to write at once."""
        self._heard = ms
        self._kept += data
        answer = b""
        while True:
            kind, body = self._next()
            if not kind:
                if len(self._kept) > self.LONGEST_PACKET:
                    self.refused = 255
                return answer
            if len(body) < 2:
                continue
            if kind == 0x20:
                self.refused = body[1]
                if not self.refused:
                    self.ready = self._fresh = True
                    answer += _packet(0x82, b"\x00\x01" + _string(self._topic + "cue") + b"\x00")
                    online = _string(self._topic + "status") + b"\x00\x01online"
                    answer += _packet(0x33, online)
            elif kind == 0x40:
                if self._flying and body[0] << 8 | body[1] == self._flying:
                    self._flying = 0
                    self.backlog.arrived()
            elif kind >> 4 == 3:
                topic = body[0] << 8 | body[1]
                self.cues.append(plain(body[2 + topic :])[:LONGEST_COMMAND])

    def _next(self) -> tuple[int, bytes]:
        """The next whole packet: its first byte and its body; 0 where there is none yet."""
        length = 0
        for i in range(1, min(5, len(self._kept))):
            length |= (self._kept[i] & 127) << 7 * (i - 1)
            if self._kept[i] < 128:
                end = i + 1 + length
                if len(self._kept) < end:
                    break
                kind, body = self._kept[0], self._kept[i + 1 : end]
                self._kept = self._kept[end:]
                return kind, body
        return 0, b""

    def due(self, ms: int, unix_ms=None) -> bytes:
        """What is to be written now: with each new sample a pack, else now and then a sign."""
        if self.ready and self._fresh and not self._flying and self.backlog.samples:
            self._fresh = False
            text = self.backlog.pack(self._rig, self._names, ms, unix_ms)
            self._sent = ms
            self._id = self._id % 0xFFFF + 1
            self._flying = self._id = max(self._id, 2)
            head = _string(self._topic + "readings") + bytes((self._id >> 8, self._id & 255))
            return _packet(0x32, head + text.encode())
        if self.ready and ms - self._sent >= self.PING_MS:
            self._sent = ms
            return b"\xc0\x00"
        return b""

    def silent(self, ms: int) -> bool:
        """Whether the broker has said nothing for too long, or will not have us."""
        return self.refused > 0 or ms - self._heard > self.SILENT_MS
