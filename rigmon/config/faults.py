"""What is wrong with a file, said to the maker: all faults, one a line, each with its place."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import NoneType
from typing import Any, NoReturn, TypeGuard, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from rigmon.config.fields import shown
from rigmon.config.places import KeyPath, dotted, line_of
from rigmon.errors import ConfigError

Model = TypeVar("Model", bound=BaseModel)

_REFUSED: Mapping[str, str] = {
    "password": "a password must not stand in this file; write it into a file of its own and give "
    'password_file = "broker.password", or put it into an environment variable and give '
    'password_env = "BROKER_PASSWORD"',
    "freezer": "there are no settings for the freezer, take this table out; "
    'a probe in it is a [[…probe]] with sits_in = "freezer"',
}
"""Keys that are asked for by people who know what they want; each has its own answer."""

_NEAR = 0.5


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: the key it is about, and what is found, what is allowed, what to do."""

    at: KeyPath
    says: str


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A file as read: its name as the maker gave it, its tables, and where its keys stand."""

    name: str
    table: dict[str, Any]
    lines: Mapping[KeyPath, int]

    def place(self, at: KeyPath) -> str:
        """File, line and key path, as in `rig.toml:7 rigs.north-bench.source`."""
        return f"{self.name}:{line_of(self.lines, at)} {dotted(at)}".rstrip()

    def refuse(self, faults: Sequence[Fault], between: Sequence[Fault] = ()) -> NoReturn:
        """Raises the error that lists all faults in the order of the file.

        Args:
            faults: of single keys.
            between: between keys; one about a key with a fault of its own is left out.
        """
        own = {fault.at for fault in faults}
        told = [*faults, *(fault for fault in between if fault.at not in own)]
        ordered = sorted(told, key=lambda fault: line_of(self.lines, fault.at))
        lines = [f"{self.place(fault.at)}: {fault.says}" for fault in ordered]
        raise ConfigError("\n".join(dict.fromkeys(lines)))


def fitted(model: type[Model], table: Mapping[str, Any]) -> tuple[Model | None, list[Fault]]:
    """A table put into its model, or the faults that keep it out."""
    try:
        return model.model_validate(table), []
    except ValidationError as error:
        found = error.errors(include_url=False)
        return None, [
            Fault(item["loc"], _says(model, item["loc"], item["type"], item)) for item in found
        ]


def nearest(word: str, known: Iterable[str]) -> str:
    """The hint behind an unknown word: the nearest known one, or all if none is near.

    >>> nearest("salt_kinds", ["mixer", "bath.salt_kind"])
    'the nearest known one is bath.salt_kind'
    """
    by_last_name: dict[str, str] = {}
    for name in known:
        by_last_name.setdefault(name.rpartition(".")[2], name)
    near = difflib.get_close_matches(word[:100].lower(), by_last_name, n=1, cutoff=_NEAR)
    if near:
        return f"the nearest known one is {by_last_name[near[0]]}"
    return f"known here are {', '.join(name for name in by_last_name.values() if '.' not in name)}"


def _says(model: type[BaseModel], loc: KeyPath, kind: str, item: Mapping[str, Any]) -> str:
    key = loc[-1]
    match kind:
        case "value_error":
            return str(item["ctx"]["error"])
        case "extra_forbidden":
            return _unknown(model, loc, item["input"])
        case "missing":
            owner = _model_at(model, loc[:-1])
            wanted = _fields(owner)[str(key)].description if owner else key
            return f"missing, add {wanted}"
        case "tuple_type":
            inner = _model_at(model, (*loc, 0))
            if inner and isinstance(item["input"], dict):
                return f"found a table, write [[{dotted(loc)}]] with two brackets, once for each"
            return f"found {shown(item['input'])}, allowed is a list in square brackets"
        case _:
            return (
                f"found {shown(item['input'])}, allowed is a table, written {_heading(loc, kind)}"
            )


def _unknown(model: type[BaseModel], loc: KeyPath, value: object) -> str:
    key = str(loc[-1])
    if key in _REFUSED:
        return _REFUSED[key]
    for length in range(len(loc) - 2, -1, -1):
        above = _model_at(model, loc[:length])
        if above and key in _fields(above):
            return f"not known here, {_home(loc[:length], key, value)}"
    owner = _model_at(model, loc[:-1])
    return f"unknown key, {nearest(key, _known(owner) if owner else ())}"


def _heading(loc: KeyPath, kind: str) -> str:
    if isinstance(loc[-1], int):
        return f"[[{dotted(loc[:-1])}]]"
    return f"[{dotted(loc)}.<name>]" if kind == "dict_type" else f"[{dotted(loc)}]"


def _home(table: KeyPath, key: str, value: object) -> str:
    if isinstance(value, dict):
        return f"it is a table of its own: write [{dotted((*table, key))}]"
    if table:
        return f"it belongs right below the line [{dotted(table)}]"
    return "it belongs at the top of the file, above the first line that begins with ["


def _known(model: type[BaseModel]) -> Iterator[str]:
    yield from _fields(model)
    for name, field in _fields(model).items():
        held = _without_none(field.annotation)
        inner = held if _is_model(held) else _element(held)
        if inner:
            path = f"{name}.<name>" if get_origin(held) is dict else name
            yield from (f"{path}.{key}" for key in _fields(inner))


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a model by the names that they have in the file."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _model_at(model: type[BaseModel], loc: KeyPath) -> type[BaseModel] | None:
    here: Any = model
    for part in loc:
        if _is_model(here):
            field = _fields(here).get(str(part))
            here = _without_none(field.annotation) if field else None
        else:
            here = _element(here)
    return here if _is_model(here) else None


def _element(annotation: Any) -> type[BaseModel] | None:
    return next((arg for arg in get_args(annotation) if _is_model(arg)), None)


def _without_none(annotation: Any) -> Any:
    args = get_args(annotation)
    return args[0] if NoneType in args else annotation


def _is_model(annotation: Any) -> TypeGuard[type[BaseModel]]:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)
