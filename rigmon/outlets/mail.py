"""Alarms sent by e-mail, with the thing to do in the subject."""

from __future__ import annotations

import smtplib
import socket
import ssl
from email.message import EmailMessage
from email.utils import formatdate, make_msgid

from rigmon.config import Mail
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.message import Message
from rigmon.records import AlarmState

TIMEOUT_S = 10.0
_LATER = range(400, 500)
"""Replies of a mail server that ask for another try (RFC 5321, section 4.2.1)."""


def letter(mail: Mail, message: Message) -> EmailMessage:
    """An alarm as a mail: what to do first, in the subject and in the body."""
    alarm = message.alarm
    made = EmailMessage()
    call = alarm.text.partition(". ")[0].rstrip(".")
    made["Subject"] = f"{' '.join(call.split())} ({message.place})"
    made["From"] = mail.sender
    made["To"] = ", ".join(mail.to)
    made["Date"] = formatdate(localtime=True)
    made["Message-ID"] = make_msgid(domain=mail.sender.rpartition("@")[2])
    made["Auto-Submitted"] = "auto-generated"
    run = f"Run {message.run}." if message.run else "No run goes on."
    made.set_content(
        f"{alarm.text}\n\nRig: {message.place}\nPriority: {alarm.priority.value}\n"
        f"Code: {alarm.code}\n{run}\n"
    )
    return made


class MailSender:
    """Sends each alarm that sounds.

    Args:
        mail: server and mailboxes.
        timeout_s: how long each reply of the server is waited for [s].
    """

    def __init__(self, mail: Mail, timeout_s: float = TIMEOUT_S) -> None:
        self.name = f"mail {mail.name}"
        self._mail = mail
        self._timeout_s = timeout_s

    def wants(self, message: Message) -> bool:
        """Alarms that sound."""
        alarm = message.alarm
        sounds = alarm.state is AlarmState.UNACKNOWLEDGED
        return sounds and self._mail.wanted.wants(alarm.code, alarm.priority)

    def send(self, message: Message) -> str:
        """Hand it to the server.

        Raises:
            DeviceError: the server is not there, or asks for another try.
            RigmonError: it refuses.
        """
        mail = self._mail
        where = f"{mail.host}:{mail.port}"
        try:
            with self._server() as server:
                if mail.tls == "starttls":
                    server.starttls(context=ssl.create_default_context())
                if mail.user:
                    server.login(mail.user, mail.password)
                refused = server.send_message(letter(mail, message))
        except smtplib.SMTPRecipientsRefused as why:
            raise _refused(where, *next(iter(why.recipients.values()))) from None
        except smtplib.SMTPResponseException as why:
            raise _refused(where, why.smtp_code, why.smtp_error) from None
        except smtplib.SMTPNotSupportedError as why:
            raise RigmonError(f"The mail server at {where} cannot do that: {why}") from None
        except ssl.SSLCertVerificationError as why:
            raise RigmonError(
                f"The certificate of {where} is not trusted ({why.verify_message})."
            ) from None
        except OSError as why:
            said = "no answer in time" if isinstance(why, TimeoutError) else why.strerror or why
            raise DeviceError(f"The mail server at {where} cannot be reached: {said}.") from None
        if refused:
            raise RigmonError(f"The mail server at {where} refuses {', '.join(refused)}.")
        return f"{where} took the mail"

    def _server(self) -> smtplib.SMTP:
        mail = self._mail
        # Asking for this computer's full name may wait for a name server.
        own = socket.gethostname()
        if mail.tls == "ssl":
            return smtplib.SMTP_SSL(
                mail.host,
                mail.port,
                own,
                timeout=self._timeout_s,
                context=ssl.create_default_context(),
            )
        return smtplib.SMTP(mail.host, mail.port, own, timeout=self._timeout_s)


def _refused(where: str, code: int, says: bytes | str) -> RigmonError:
    text = says.decode(errors="replace") if isinstance(says, bytes) else says
    shown = " ".join("".join(c if c.isprintable() else " " for c in text).split())[:200]
    kind = DeviceError if code in _LATER else RigmonError
    return kind(f"The mail server at {where} answered {code}: {shown}.")
