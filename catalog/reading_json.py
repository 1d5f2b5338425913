"""Readings to JSON and back.

What is stored stays readable: fields that a later version adds are passed over, and a field that
an earlier version did not know takes its default.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache, partial
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

_T = TypeVar("_T")


def to_json(value: Any) -> dict[str, Any]:
    """Return a dataclass of plain values, enums, tuples and dataclasses as a JSON object.

    Examples
    --------
    >>> from vision.shot import Shot
    >>> to_json(Shot("01.jpg", "01"))["laid"]
    'as-lies'
    """
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}


def from_json(kind: type[_T], stored: Mapping[str, Any]) -> _T:
    """Return the dataclass ``kind`` from what `to_json` made of it.

    Raises
    ------
    ValueError
        If a field without a default is missing, or a value is not of its kind.

    Examples
    --------
    >>> from vision.shot import Shot
    >>> from_json(Shot, {"file": "01.jpg", "leaf": "01", "weather": "fine"}).leaf
    '01'
    """
    values: dict[str, Any] = {}
    for name, decode, is_needed in _fields_of(kind):  # type: ignore[arg-type]
        if name in stored:
            values[name] = decode(stored[name])
        elif is_needed:
            raise ValueError(f"A stored {kind.__name__} lacks its {name!r}.")
    return kind(**values)


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        is_ready = set(map(type, value)) == {float}  # a light profile holds thousands
        return list(value) if is_ready else [_plain(part) for part in value]
    return to_json(value) if is_dataclass(value) else value


@cache
def _fields_of(kind: type[Any]) -> tuple[tuple[str, Callable[[Any], Any], bool], ...]:
    """Return name, decoder, and whether it must be there, for each field of a dataclass."""
    hints = get_type_hints(kind)
    return tuple(
        (
            field.name,
            _decoder(hints[field.name]),
            field.default is MISSING and field.default_factory is MISSING,
        )
        for field in fields(kind)
    )


@cache
def _decoder(hint: Any) -> Callable[[Any], Any]:
    """Return what makes a value of a field's type from JSON; found once for each type."""
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        (inner,) = (_decoder(part) for part in get_args(hint) if part is not type(None))
        return lambda value: None if value is None else inner(value)
    if origin is tuple:
        return _tuple_decoder(get_args(hint))
    if hint is date:
        return date.fromisoformat
    if hint is float:
        return _float
    if isinstance(hint, type) and is_dataclass(hint):
        return partial(from_json, hint)
    if issubclass(hint, Enum):
        return partial(hint)
    return partial(_checked, hint)


def _tuple_decoder(kinds: tuple[Any, ...]) -> Callable[[Any], tuple[Any, ...]]:
    each = [_decoder(kind) for kind in kinds if kind is not Ellipsis]
    if Ellipsis in kinds:
        (one,) = each
        if one is _float:
            return _floats
        return lambda value: tuple(map(one, value))
    return lambda value: tuple(decode(part) for decode, part in zip(each, value, strict=True))


def _float(value: Any) -> float:
    if isinstance(value, float):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return float(value)  # PostgreSQL hands whole numbers back without their point
    raise ValueError(f"A stored {value!r} is no float.")


def _floats(values: Any) -> tuple[float, ...]:
    """Return many floats; a light profile holds thousands, and nearly always they are ready."""
    return tuple(values) if set(map(type, values)) == {float} else tuple(map(_float, values))


def _checked(kind: type[Any], value: Any) -> Any:
    if not isinstance(value, kind):
        raise ValueError(f"A stored {value!r} is no {kind.__name__}.")  # noqa: TRY004 - one error
    return value
