"""Alarms posted to an address on the web, as JSON."""

from __future__ import annotations

import ssl
from http.client import HTTPException
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

from rigmon import __version__
from rigmon.config import Webhook
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.message import ANSWERED, Message
from rigmon.records import AlarmState

TIMEOUT_S = 5.0
_LATER = frozenset({408, 425, 429})
"""Answers below 500 that ask for another try (RFC 9110, RFC 6585, RFC 8470)."""


class _Stay(HTTPRedirectHandler):
    """Follows no redirect: what the headers hold is meant for the configured host alone."""

    def redirect_request(self, *_: object) -> None:
        """None lets the answer through as it is."""


class WebhookSender:
    """Posts each alarm, and that it was acknowledged or has returned to normal.

    Args:
        hook: where to.
        timeout_s: how long an answer is waited for [s].
    """

    def __init__(self, hook: Webhook, timeout_s: float = TIMEOUT_S) -> None:
        self.name = f"webhook {hook.name}"
        self._hook = hook
        self._timeout_s = timeout_s
        self._opener = build_opener(_Stay)

    def wants(self, message: Message) -> bool:
        """Alarms that sound, and what became of them."""
        alarm = message.alarm
        told = alarm.state is AlarmState.UNACKNOWLEDGED or alarm.state in ANSWERED
        return told and self._hook.wanted.wants(alarm.code, alarm.priority)

    def send(self, message: Message) -> str:
        """Post it.

        Raises:
            DeviceError: the host is not there, says nothing in time, or asks for another try.
            RigmonError: it refuses.
        """
        own = {"Content-Type": "application/json", "User-Agent": f"rigmon/{__version__}"}
        request = Request(  # noqa: S310 - the configuration lets only http and https through
            self._hook.url,
            message.as_json().encode(),
            own | dict(self._hook.headers),
            method="POST",
        )
        host = self._hook.host
        try:
            with self._opener.open(request, timeout=self._timeout_s) as answer:
                return f"{host} answered {answer.status}"
        except HTTPError as answer:
            with answer:
                raise self._refused(answer) from None
        except (OSError, HTTPException) as why:
            raise DeviceError(f"{host} cannot be reached: {_reason(why)}.") from None

    def _refused(self, answer: HTTPError) -> RigmonError:
        host = self._hook.host
        if answer.code // 100 == 3:
            there = urlsplit(answer.headers.get("Location", "")).netloc or "another path"
            return RigmonError(
                f"{host} sends on to {there}, which is not followed: give that address as url."
            )
        says = f"{host} answered {answer.code} {answer.reason}"
        if answer.code >= 500 or answer.code in _LATER:
            return DeviceError(f"{says}.")
        return RigmonError(f"{says}: check the address and what its headers_file holds.")


def _reason(why: OSError | HTTPException) -> str:
    cause = why.reason if isinstance(why, URLError) else why
    if isinstance(cause, TimeoutError):
        return "it does not answer in time"
    if isinstance(cause, ssl.SSLCertVerificationError):
        return f"its certificate is not trusted ({cause.verify_message})"
    if isinstance(cause, HTTPException):
        return "what it answers is no HTTP"
    return str((isinstance(cause, OSError) and cause.strerror) or cause)
