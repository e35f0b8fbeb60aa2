"""Where alarms and figures go beside the screen, as the configuration names it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from rigmon.config.faults import Fault
from rigmon.config.models import CommandTable, MailTable, MailTls, OutletsTable, WebhookTable
from rigmon.config.passwords import beside, mqtt_link, password, secrets_faults
from rigmon.config.raw import Raw, table_of, text_of
from rigmon.config.reading import read_text
from rigmon.errors import ConfigError
from rigmon.records import MqttLink, Priority

HOMIE = "homie"
"""What the topics of the Homie convention begin with unless another prefix is configured."""

_HEADER = re.compile(r"([A-Za-z0-9!#$%&'*+.^_`|~-]+): *([\x20-\x7e]*)")
_PORTS: Mapping[MailTls, int] = {"starttls": 587, "ssl": 465, "none": 25}


@dataclass(frozen=True, slots=True)
class Filter:
    """Which alarms an outlet wants.

    Args:
        priorities: of these priorities.
        codes: with these codes; empty for all.
    """

    priorities: frozenset[Priority] = frozenset(Priority)
    codes: frozenset[str] = frozenset()

    def wants(self, code: str, priority: Priority) -> bool:
        """Whether an alarm is wanted.

        >>> Filter(codes=frozenset({"ice-gone"})).wants("plateau-reached", Priority.HIGH)
        False
        """
        return priority in self.priorities and (not self.codes or code in self.codes)


@dataclass(frozen=True, slots=True)
class Webhook:
    """An address that alarms are posted to.

    Args:
        name: what the maker calls it.
        url: the address; it may hold a secret, so only its host is ever shown.
        wanted: which alarms.
        headers: sent along; they may hold a secret.
    """

    name: str
    url: str = field(repr=False)
    wanted: Filter = Filter()
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)

    @property
    def host(self) -> str:
        """The host and port of its address."""
        return urlsplit(self.url).netloc


@dataclass(frozen=True, slots=True)
class Command:
    """A program of this computer that is run for each alarm.

    Args:
        name: what the maker calls it.
        run: the program and its arguments.
        wanted: which alarms.
    """

    name: str
    run: tuple[str, ...]
    wanted: Filter = Filter()


@dataclass(frozen=True, slots=True)
class Mail:
    """Mailboxes that alarms are sent to.

    Args:
        name: what the maker calls it.
        host: the mail server.
        port: its TCP port.
        tls: how the connection is encrypted.
        user: user name, or "".
        password: password, or ""; never shown.
        sender: address that the mail is from.
        to: addresses that it goes to.
        wanted: which alarms.
    """

    name: str
    host: str
    port: int
    tls: MailTls
    sender: str
    to: tuple[str, ...]
    user: str = ""
    password: str = field(default="", repr=False)
    wanted: Filter = Filter()


@dataclass(frozen=True, slots=True)
class Outlets:
    """All outlets of a configuration.

    Args:
        homie: the broker for the Homie convention, its prefix that of the convention's topics.
        webhooks: addresses on the web.
        commands: programs of this computer.
        mails: mailboxes.
    """

    homie: MqttLink | None = None
    webhooks: tuple[Webhook, ...] = ()
    commands: tuple[Command, ...] = ()
    mails: tuple[Mail, ...] = ()


def outlets_of(table: OutletsTable, base: Path) -> Outlets:
    """The outlets that a configuration names, with their secrets.

    Raises:
        ConfigError: a secret cannot be read.
    """
    homie = None
    if table.homie is not None:
        homie = mqtt_link({"prefix": HOMIE, **table.homie.model_dump(exclude_unset=True)}, base)
    return Outlets(
        homie,
        tuple(_webhook(name, hook, base) for name, hook in table.webhook.items()),
        tuple(Command(name, one.run, _filter(one)) for name, one in table.command.items()),
        tuple(_mail(name, mail, base) for name, mail in table.mail.items()),
    )


def _filter(table: WebhookTable | CommandTable | MailTable) -> Filter:
    priorities = Priority if table.priorities is None else table.priorities
    return Filter(frozenset(priorities), frozenset(table.codes or ()))


def _webhook(name: str, table: WebhookTable, base: Path) -> Webhook:
    headers = {} if table.headers_file is None else read_headers(beside(base, table.headers_file))
    return Webhook(name, table.url, _filter(table), headers)


def _mail(name: str, table: MailTable, base: Path) -> Mail:
    tls = table.tls or "starttls"
    return Mail(
        name,
        table.host,
        table.port or _PORTS[tls],
        tls,
        table.sender,
        table.to,
        table.user or "",
        password(base, table.password_file, table.password_env),
        _filter(table),
    )


def read_headers(path: Path) -> dict[str, str]:
    """The headers in a file, one a line, as in `Authorization: Bearer ...`.

    Raises:
        ConfigError: it cannot be read, or a line is no header; the line is not shown.
    """
    headers = {}
    for number, line in enumerate(read_text(path).splitlines(), start=1):
        if not line.strip():
            continue
        found = _HEADER.fullmatch(line.strip())
        if found is None:
            raise ConfigError(f"{path}:{number} is no header, allowed is Name: value, one a line")
        headers[found[1]] = found[2]
    return headers


def outlet_secrets_faults(raw: Raw, base: Path) -> Iterator[Fault]:
    """Faults in what outlets need beside the configuration: passwords, certificates, headers."""
    outlets = table_of(raw, "outlets")
    yield from secrets_faults(table_of(outlets, "homie"), ("outlets", "homie"), base)
    for name in (mails := table_of(outlets, "mail")):
        yield from secrets_faults(table_of(mails, name), ("outlets", "mail", name), base)
    for name in (hooks := table_of(outlets, "webhook")):
        path = text_of(table_of(hooks, name), "headers_file")
        try:
            if path is not None:
                read_headers(beside(base, path))
        except ConfigError as error:
            yield Fault(("outlets", "webhook", name, "headers_file"), str(error))
