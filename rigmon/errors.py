"""Every error that rigmon raises on purpose, with the exit code it ends the program with.

::

    RigmonError            1  the run ended with something the maker must know
    ├── LogError           1  the run log cannot be read or written
    │   └── LogStopped     1  it cannot be written now; what was to be written is kept
    ├── UsageError         2  a command was asked for something it cannot do
    │   ├── ConfigError    2  a configuration or recipe says something that cannot be
    │   └── RunFileError   2  a run file has rows that cannot be read
    └── DeviceError        3  a port, board, broker or daemon cannot be reached

A message is one or two sentences: where, what was found, what is allowed, what to do.
"""

from __future__ import annotations


class RigmonError(Exception):
    """The run ended with something the maker must know."""

    exit_code = 1


class LogError(RigmonError):
    """The run log cannot be read or written."""


class LogStopped(LogError):  # noqa: N818 - a state that passes, named as one
    """The run log cannot be written now; what was to be written is kept for the next attempt."""


class UsageError(RigmonError):
    """A command was asked for something it cannot do."""

    exit_code = 2


class ConfigError(UsageError):
    """A configuration or recipe says something that cannot be."""


class RunFileError(UsageError):
    """A run file has rows that cannot be read."""


class DeviceError(RigmonError):
    """A port, board, broker or daemon cannot be reached."""

    exit_code = 3
