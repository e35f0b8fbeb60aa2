"""What a maker writes down of rigs and recipes: files read into values, faults told by the line."""

from rigmon.config.dump import run_document
from rigmon.config.load import load_config, parse_config
from rigmon.config.outlets import Command, Filter, Mail, Outlets, Webhook
from rigmon.config.places import KeyPath
from rigmon.config.reading import where
from rigmon.config.recipes import load_recipe
from rigmon.config.values import Config, LogConfig, PageConfig, Recorded, RigConfig, Units

__all__ = [
    "Command",
    "Config",
    "Filter",
    "KeyPath",
    "LogConfig",
    "Mail",
    "Outlets",
    "PageConfig",
    "Recorded",
    "RigConfig",
    "Units",
    "Webhook",
    "load_config",
    "load_recipe",
    "parse_config",
    "run_document",
    "where",
]
