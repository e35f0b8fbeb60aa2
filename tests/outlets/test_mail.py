"""Alarms by mail, through a small mail server on this computer (RFC 5321)."""

from __future__ import annotations

import email
import socketserver
import threading
from collections.abc import Callable, Iterator
from email.message import Message as Letter
from email.policy import default

import pytest

from rigmon.config import Mail
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.mail import MailSender, letter
from rigmon.outlets.message import Message, trial
from rigmon.records import Alarm, AlarmState, Priority

MakeAlarm = Callable[..., Alarm]


class Server(socketserver.ThreadingTCPServer):
    """Takes mail; `says` replaces its reply to a command."""

    says: dict[str, str]
    letters: list[tuple[list[str], Letter]]


class _Session(socketserver.StreamRequestHandler):
    server: Server

    def handle(self) -> None:
        """Talk until the other end hangs up."""
        self._say("220 here")
        boxes: list[str] = []
        while line := self.rfile.readline().decode().strip():
            word = line.split(":")[0].split()[0].upper()
            if word in self.server.says:
                self._say(self.server.says[word])
            elif word == "DATA":
                self._say("354 go on")
                lines = iter(self.rfile.readline, b".\r\n")
                told = email.message_from_bytes(b"".join(lines), policy=default)
                self.server.letters.append((boxes, told))
                self._say("250 taken")
            elif word == "QUIT":
                self._say("221 bye")
                return
            else:
                if word == "RCPT":
                    boxes.append(line.partition("<")[2].rstrip(">"))
                self._say("250 fine")

    def _say(self, reply: str) -> None:
        self.wfile.write(f"{reply}\r\n".encode())


@pytest.fixture
def server() -> Iterator[Server]:
    """A mail server."""
    with Server(("127.0.0.1", 0), _Session) as made:
        made.says, made.letters = {}, []
        thread = threading.Thread(target=made.serve_forever, args=(0.01,))
        thread.start()
        yield made
        made.shutdown()
        thread.join()


def mail(server: Server, user: str = "", password: str = "") -> Mail:
    """Two mailboxes behind a server that does not encrypt."""
    boxes = ("ada@barn.example", "bo@barn.example")
    port = server.server_address[1]
    return Mail("ada", "127.0.0.1", int(port), "none", "rigmon@barn.example", boxes, user, password)


def alarm(text: str) -> Alarm:
    """An alarm that says this."""
    return Alarm(
        700.0, "bath-limit-near", Priority.MEDIUM, AlarmState.UNACKNOWLEDGED, text, {"ice_g": 900}
    )


def test_the_subject_says_what_to_do(server: Server) -> None:
    """The verb first, then the rig, and that it is virtual; all of the alarm in the body."""
    text = "Recharge: 900 g ice, 180 g salt. The bath is at −9.5 °C."
    said = MailSender(mail(server)).send(Message("demo", "demo-1", True, alarm(text)))
    ((boxes, got),) = server.letters
    assert said.endswith("took the mail")
    assert boxes == ["ada@barn.example", "bo@barn.example"]
    assert got["Subject"] == "Recharge: 900 g ice, 180 g salt (demo, virtual rig)"
    assert got["Auto-Submitted"] == "auto-generated"
    body = got.get_payload(decode=True)
    assert isinstance(body, bytes)
    for part in (text, "Priority: medium", "Code: bath-limit-near", "Run demo-1."):
        assert part in body.decode()


def test_words_of_an_alarm_cannot_add_headers() -> None:
    """A line end in a text stays within the subject."""
    box = Mail("x", "h", 25, "none", "a@b.example", ("c@d.example",))
    made = letter(box, Message("demo", None, False, alarm("Stop\r\nBcc: all@world.example")))
    assert made["Bcc"] is None
    assert made["Subject"] == "Stop Bcc: all@world.example (demo)"


def test_a_test_says_that_it_is_one(server: Server) -> None:
    """Nobody runs to the kitchen for it."""
    MailSender(mail(server)).send(trial("kitchen", virtual=False))
    assert server.letters[0][1]["Subject"].startswith("Test: ")


@pytest.mark.parametrize(
    ("says", "again", "told"),
    [
        ({"MAIL": "451 try later"}, True, "answered 451: try later"),
        ({"DATA": "554 no\x07 thanks"}, False, "answered 554: no thanks"),
        ({"RCPT": "550 nobody"}, False, "answered 550: nobody"),
        ({"RCPT": "450 busy"}, True, "answered 450: busy"),
    ],
)
def test_a_server_that_refuses_is_told(
    server: Server, says: dict[str, str], again: bool, told: str
) -> None:
    """A refusal for now is tried again, one for good is not."""
    server.says = says
    with pytest.raises(RigmonError) as raised:
        MailSender(mail(server)).send(Message("demo", None, False, alarm("Stop.")))
    assert told in str(raised.value)
    assert isinstance(raised.value, DeviceError) is again


def test_a_password_is_not_sent_where_it_cannot_be_taken(server: Server) -> None:
    """A server that knows no log-in is told as it is, without the password."""
    box = mail(server, user="me", password="sesame")  # noqa: S106 - a test's own
    with pytest.raises(RigmonError, match="cannot do that") as raised:
        MailSender(box).send(Message("demo", None, False, alarm("Stop.")))
    assert "sesame" not in str(raised.value) + repr(box)


def test_an_unencrypted_server_gets_no_mail_that_was_to_be_encrypted(server: Server) -> None:
    """Encryption is never given up silently."""
    box = Mail("x", "127.0.0.1", int(server.server_address[1]), "starttls", "a@b.c", ("d@e.f",))
    with pytest.raises(RigmonError, match="STARTTLS"):
        MailSender(box).send(Message("demo", None, False, alarm("Stop.")))
    assert server.letters == []


def test_a_server_that_is_not_there_may_come_back(make_alarm: MakeAlarm) -> None:
    """It is a device that cannot be reached."""
    with Server(("127.0.0.1", 0), _Session) as gone:
        box = mail(gone)
    with pytest.raises(DeviceError, match="cannot be reached: Connection refused"):
        MailSender(box).send(Message("demo", None, False, make_alarm()))
    assert not MailSender(box).wants(
        Message("demo", None, False, make_alarm(state=AlarmState.ACKNOWLEDGED))
    )
