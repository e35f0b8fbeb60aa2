"""The board itself: chips on a bus, serial port, network, watchdog, buzzer and lamp.

What they say is made in `rigboard` and `riguplink`, what hangs where stands in `settings`; copy all
four.
"""

import select
import socket
import sys
import time

import machine
import rigboard
import settings

WATCHDOG_MS = 8000
CONNECT_S = 4
RETRY_MS = 5000
WIFI_RETRY_MS = 30000
SET_CLOCK_MS = 3600000
AT_ONCE = 200


class Chip:
    """One converter on the bus."""

    def __init__(self, bus, kind: str, letter: str, pin: int):
        self._bus, self._kind, self._letter = bus, kind, letter
        self._select = machine.Pin(pin, machine.Pin.OUT, value=1)
        self.word = 0

    def read(self):
        """The channel just now; a chip that has lost its settings gets them again."""
        if self._kind == "31855":
            self.word = int.from_bytes(self._talk(0, b"", 4), "big")
            return rigboard.of_31855(self.word)
        registers = self._talk(1, b"\x00", 16)
        channel = rigboard.of_31856(registers, self._letter, settings.MAINS_HZ)
        if channel is None:
            for words in rigboard.setup_31856(self._letter, settings.MAINS_HZ):
                self._talk(1, words, 0)
        return channel

    def _talk(self, phase: int, words: bytes, count: int) -> bytes:
        self._bus.init(phase=phase)
        self._select(0)
        if words:
            self._bus.write(words)
        answer = self._bus.read(count) if count else b""
        self._select(1)
        return answer


class Net:
    """Wi-Fi and the broker, tried again for ever, a step at a time."""

    def __init__(self, clock):
        import network  # noqa: PLC0415 - boards without Wi-Fi do not have it
        import riguplink  # noqa: PLC0415 - and have no memory to spare for this

        names = [probe[0] for probe in settings.PROBES]
        self.uplink = riguplink.Uplink(
            settings.RIG,
            names,
            settings.KEPT,
            settings.PREFIX,
            settings.USER,
            settings.PASSWORD,
        )
        self._clock = clock
        self._wlan = network.WLAN(network.STA_IF)
        self._wlan.active(True)
        self._socket = None
        self._poll = select.poll()
        self._try_wifi = self._try_broker = self._try_clock = 0

    def step(self, ms: int) -> None:
        """Whatever there is to do; it waits for `CONNECT_S` at most."""
        if not self._wlan.isconnected():
            self._close()
            if ms >= self._try_wifi:
                self._try_wifi = ms + WIFI_RETRY_MS
                self._wlan.connect(settings.WIFI, settings.WIFI_PASSWORD)
            return
        if settings.TIME_SERVER and ms >= self._try_clock:
            self._set_clock(ms)
        try:
            if self._socket is not None:
                self._speak(ms)
            elif ms >= self._try_broker:
                self._try_broker = ms + RETRY_MS
                self._open(ms)
        except OSError:
            self._close()

    def _open(self, ms: int) -> None:
        self._socket = socket.socket()
        self._socket.settimeout(CONNECT_S)
        self._socket.connect(socket.getaddrinfo(settings.BROKER, settings.PORT)[0][-1])
        self._poll.register(self._socket, select.POLLIN)
        self._socket.sendall(self.uplink.opened(ms))

    def _speak(self, ms: int) -> None:
        if self._poll.poll(0):
            data = self._socket.recv(512)
            if not data:
                raise OSError("the broker has hung up")
            self._send(self.uplink.heard(data, ms))
        self._send(self.uplink.due(ms, self._clock.unix_ms(ms)))
        if self.uplink.silent(ms):
            raise OSError("the broker is silent")

    def _send(self, data: bytes) -> None:
        if data:
            self._socket.sendall(data)

    def _close(self) -> None:
        if self._socket is not None:
            try:
                self._poll.unregister(self._socket)
            except (KeyError, OSError):
                pass  # it was never waited for
            self._socket.close()
            self._socket = None
            self.uplink.closed()

    def _set_clock(self, ms: int) -> None:
        import ntptime  # noqa: PLC0415 - see above

        self._try_clock = ms + RETRY_MS
        ntptime.host = settings.TIME_SERVER
        try:
            seconds = ntptime.time()
        except OSError:
            return
        self._clock.set_unix(rigboard.unix_s(seconds, time.gmtime(0)[0]), ms)
        self._try_clock = ms + SET_CLOCK_MS


def output(pin: int):
    """A function that sets a pin; none where the pin is negative."""
    return machine.Pin(pin, machine.Pin.OUT, value=0) if pin >= 0 else lambda _on: None


def line(ms: int, chips, channels) -> str:
    """One sample for the serial port; empty where no chip answers."""
    if settings.FORM == "frames":
        text = rigboard.frames_line(ms, [chip.word for chip in chips])
    elif settings.FORM == "columns":
        text = rigboard.columns_line(ms, channels)
    else:
        names = [probe[0] for probe in settings.PROBES]
        text, _ = rigboard.pack(settings.RIG, names, [(ms, channels)], ms)
    return rigboard.closed(text) if text else ""


def say(text: str) -> None:
    """A line for the host."""
    sys.stdout.write(text + "\n")


def run() -> None:
    """Sample, speak and listen for ever."""
    watchdog = machine.WDT(timeout=WATCHDOG_MS)
    bus = machine.SoftSPI(
        baudrate=500000,
        polarity=0,
        phase=1,
        sck=machine.Pin(settings.SCK),
        mosi=machine.Pin(settings.MOSI),
        miso=machine.Pin(settings.MISO),
    )
    chips = [Chip(bus, kind, letter, pin) for _, kind, letter, pin in settings.PROBES]
    buzzer, lamp = output(settings.BUZZER), output(settings.LAMP)
    clock = rigboard.Clock(time.ticks_ms())
    net = Net(clock) if settings.WIFI else None
    ears, cue = rigboard.Ears(), rigboard.Cue()
    host = select.poll()
    host.register(sys.stdin, select.POLLIN)
    say(rigboard.hello(settings.RIG))
    due = 0
    while True:
        watchdog.feed()
        ms = clock.ms(time.ticks_ms())
        if ms >= due:
            due = max(due + settings.EVERY_MS, ms)
            channels = [chip.read() for chip in chips]
            text = line(ms, chips, channels)
            if text:
                say(text)
            if net:
                net.uplink.sampled(ms, channels)
        commands = []
        for _ in range(AT_ONCE):
            if not host.poll(0):
                break
            commands += ears.hear(sys.stdin.buffer.read(1))
        if net:
            net.step(ms)
            commands += ["cue " + words for words in net.uplink.cues]
            net.uplink.cues.clear()
        for command in commands:
            if command == "ping":
                say(rigboard.hello(settings.RIG))
            elif command.startswith("cue "):
                cue.take(command[4:], ms)
        sounds, burns = cue.now(ms)
        buzzer(sounds)
        lamp(burns)
        time.sleep_ms(10)


run()
