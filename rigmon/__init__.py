"""rigmon: a monitor for freezing a mix in a bowl of ice and salt."""

__version__ = "0.1.0"
