"""The signals that end the watching."""

from __future__ import annotations

import signal

import pytest

from rigmon.service import signals


def test_they_are_heard_while_it_lasts_and_given_back() -> None:
    """Ctrl-C is told apart from the others."""
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    heard: list[bool] = []
    with signals.ending(heard.append):
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.raise_signal(number)
    assert heard == [False, True, False]
    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == before


def test_under_nohup_a_closed_terminal_ends_nothing() -> None:
    """What was ignored at the start stays ignored."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    heard: list[bool] = []
    try:
        with signals.ending(heard.append):
            signal.raise_signal(signal.SIGHUP)
    finally:
        signal.signal(signal.SIGHUP, before)
    assert heard == []


def test_what_comes_during_the_set_up_is_kept_and_a_second_interrupt_breaks_it_off() -> None:
    """One is enough to end the watching once it begins; two end a set-up that hangs."""
    with signals.noting() as noted:
        signal.raise_signal(signal.SIGTERM)
        signal.raise_signal(signal.SIGINT)
        assert noted == [False, True]
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert noted == [False, True]
