"""One connection to an MQTT broker, and the sentence for why there is none."""

from __future__ import annotations

import secrets
import socket
import ssl
import threading
from collections.abc import Callable, Sequence
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from rigmon.errors import ConfigError, DeviceError
from rigmon.records import MqttLink

CONNECT_TIMEOUT_S = 4.0
CHECK_WITHIN_S = 5.0
LOOP_S = 0.1
"""How long the network is waited for before anything waiting to be sent is looked at [s]."""

QUEUED = 100
_GOODBYE_LOOPS = 3


class _Wire(ssl.SSLSocket):
    """A socket that closes itself when the two sides cannot agree; paho leaves it open."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except ssl.SSLError:
            self.close()
            raise
        except OSError as why:
            self.close()
            raise ssl.SSLError(why.errno, str(why)) from why


def tls_context(link: MqttLink) -> ssl.SSLContext:
    """What the broker's certificate is checked with.

    Raises:
        ConfigError: a certificate or key cannot be read.
    """
    try:
        context = ssl.create_default_context(cafile=link.ca_file or None)
        context.sslsocket_class = _Wire
        if link.cert_file:
            context.load_cert_chain(link.cert_file, link.key_file or None)
    except OSError as why:
        files = ", ".join(filter(None, (link.ca_file, link.cert_file, link.key_file)))
        raise ConfigError(
            f"The certificates for the broker cannot be read ({why.strerror or why}). "
            f"Check these files: {files}."
        ) from why
    return context


class Call:
    """One connection, from dialling to hanging up.

    MQTT 3.1.1 is spoken, which every broker knows; some that know no other wait for ever on the
    longer greeting of MQTT 5.

    Args:
        link: the broker.
        filters: topic filters to subscribe to, with their QoS.
        on_ready: called once the subscriptions stand, with the filters that were denied.
        on_message: called with each message.
        will: topic and retained payload that the broker publishes if we vanish.
    """

    def __init__(
        self,
        link: MqttLink,
        filters: Sequence[tuple[str, int]],
        on_ready: Callable[[list[str]], None],
        on_message: Callable[[MQTTMessage], None],
        will: tuple[str, str] | None = None,
    ) -> None:
        self.ready = False
        self.answered = False
        self.refused = ""
        self._link = link
        self._filters = list(filters)
        self._on_ready = on_ready
        self._on_message = on_message
        self._will = will

    def run(self, ended: threading.Event, tick: Callable[[Client], None]) -> str:
        """Stay on the line until it breaks or `ended` is set, calling `tick` all the while.

        Returns:
            The sentence for why it broke.
        """
        client = self._client()
        try:
            client.connect(self._link.host, self._link.port, self._link.keepalive_s)
            while not ended.is_set() and client.loop(LOOP_S) == MQTTErrorCode.MQTT_ERR_SUCCESS:
                if self.ready:
                    tick(client)
        finally:
            self._hang_up(client)
        where = f"{self._link.host}:{self._link.port}"
        if self.refused:
            return (
                f"The broker at {where} refuses the connection: {self.refused}. "
                "Check the user, its password and what the broker allows it."
            )
        if not self.answered:
            return f"{where} hung up without an answer. Is it an MQTT broker, and should tls be on?"
        return f"The broker at {where} closed the connection."

    def _client(self) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"rigmon-{secrets.token_hex(6)}",
            protocol=MQTTProtocolVersion.MQTTv311,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_TIMEOUT_S
        client.max_queued_messages_set(QUEUED)
        if self._link.user:
            client.username_pw_set(self._link.user, self._link.password or None)
        if self._link.tls:
            client.tls_set_context(tls_context(self._link))
        if self._will is not None:
            topic, payload = self._will
            client.will_set(topic, payload, qos=2, retain=True)
        client.on_connect = self._connected
        client.on_subscribe = self._subscribed
        client.on_message = lambda _client, _data, message: self._on_message(message)
        return client

    def _connected(
        self, client: Client, _data: Any, _flags: ConnectFlags, code: ReasonCode, _more: Any
    ) -> None:
        self.answered = True
        if code.is_failure:
            self.refused = str(code)
        elif self._filters:
            client.subscribe(self._filters)
        else:
            self._begin([])

    def _subscribed(
        self,
        client: Client,
        _data: Any,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        denied = [
            topic for (topic, _), code in zip(self._filters, codes, strict=False) if code.is_failure
        ]
        if len(denied) == len(self._filters):
            self.refused = f"it lets this user read none of {', '.join(denied)}"
            client.disconnect()
        else:
            self._begin(denied)

    def _begin(self, denied: list[str]) -> None:
        self.ready = True
        self._on_ready(denied)

    @staticmethod
    def _hang_up(client: Client) -> None:
        """Say goodbye, so that the broker need not wonder, and let go of the sockets."""
        client.on_message = None
        client.disconnect()
        for _ in range(_GOODBYE_LOOPS):
            if client.loop(LOOP_S) != MQTTErrorCode.MQTT_ERR_SUCCESS:
                break


def reason(link: MqttLink, why: Exception) -> str:
    """The sentence for a connection that failed with an exception."""
    where = f"{link.host}:{link.port}"
    if isinstance(why, ConfigError):
        return str(why)
    if isinstance(why, socket.gaierror | UnicodeError):
        return f"No machine named {link.host!r} is known. Check the broker's name, or its network."
    if isinstance(why, ssl.SSLCertVerificationError):
        return (
            f"The certificate of the broker at {where} is not trusted ({why.verify_message}). "
            "Name the certificate that signed it as ca_file."
        )
    if isinstance(why, ssl.SSLError):
        detail = getattr(why, "reason", None) or why.strerror
        return f"TLS with {where} failed ({detail}). Does that port speak TLS?"
    if isinstance(why, ConnectionRefusedError):
        return f"No broker answers at {where}: the connection was refused. Is it running there?"
    if isinstance(why, TimeoutError):
        return f"No answer came from {where} in time. Is the machine on, and the port open?"
    detail = isinstance(why, OSError) and why.strerror
    return f"The broker at {where} cannot be reached ({detail or why})."


def check_broker(link: MqttLink) -> None:
    """See that the broker lets us in, once, before watching begins; takes at most 5 s.

    Raises:
        DeviceError: it does not; the message says why and what to do.
    """
    ended = threading.Event()
    said: list[Exception] = []

    def dial() -> None:
        try:
            call = Call(link, (), lambda _denied: ended.set(), lambda _message: None)
            sentence = call.run(ended, lambda _client: None)
            if not call.ready:
                said.append(DeviceError(sentence))
        except Exception as why:  # noqa: BLE001 - whatever broke, the maker gets its sentence
            said.append(DeviceError(reason(link, why)))

    dialling = threading.Thread(target=dial, name="check-broker", daemon=True)
    dialling.start()
    dialling.join(CHECK_WITHIN_S)
    if dialling.is_alive():
        ended.set()
        raise DeviceError(reason(link, TimeoutError()))
    if said:
        raise said[0]
