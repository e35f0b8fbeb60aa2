"""`rigmon mark`: tell a running rigmon what you did."""

from __future__ import annotations

import shlex

import click

from rigmon.cli import options
from rigmon.errors import RigmonError


@click.command("mark", short_help="Tell a running rigmon what you did.")
@click.argument("word")
@click.argument("details", nargs=-1)
@options.rig
def command(word: str, details: tuple[str, ...], rig_id: str | None) -> None:
    r"""Tell a running rigmon what you did; it answers with what it understood.

    \b
    Marks: ice-in, pour, beat-start, beat-stop, rest-start, rest-stop, recharge,
    scrape, mix-in, pack, harden-start, end, note, reading, undo, ack, shelve.

    \b
      rigmon mark ice-in ice_g=2600 salt_g=650
      rigmon mark pour mix_g=1190 mix_c=4
      rigmon mark recharge ice_g=900 salt_g=200
      rigmon mark reading bath_c=-14.5
      rigmon mark ack plateau-reached
      rigmon mark note "second bag of ice"
    """
    hand_over(" ".join([word, *(_quoted(detail) for detail in details)]), rig_id)


def hand_over(mark: str, rig_id: str | None) -> None:
    """Send a mark and tell the answer.

    Raises:
        RigmonError: it was not taken.
    """
    from rigmon.service.doors import send_mark

    answer = send_mark(mark, rig_id)
    if not answer.get("ok"):
        raise RigmonError(str(answer.get("text")))
    click.echo(f"{answer['rig']}: {answer['text']}")


def _quoted(detail: str) -> str:
    key, equals, value = detail.partition("=")
    return f"{key}={shlex.quote(value)}" if equals else shlex.quote(detail)
