"""Readings to JSON and back.

What is stored stays readable: fields that a later version adds are passed over, and a field that
an earlier version did not know takes its default.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import MISSING, asdict, fields, is_dataclass
from enum import Enum
from functools import cache
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
    encoded: dict[str, Any] = _plain(asdict(value))
    return encoded


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
    for name, hint, is_needed in _fields_of(kind):  # type: ignore[arg-type]
        if name in stored:
            values[name] = _decode(hint, stored[name])
        elif is_needed:
            raise ValueError(f"A stored {kind.__name__} lacks its {name!r}.")
    return kind(**values)


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value


@cache
def _fields_of(kind: type[Any]) -> tuple[tuple[str, Any, bool], ...]:
    hints = get_type_hints(kind)
    return tuple(
        (
            field.name,
            hints[field.name],
            field.default is MISSING and field.default_factory is MISSING,
        )
        for field in fields(kind)
    )


def _decode(hint: Any, value: Any) -> Any:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        if value is None:
            return None
        (hint,) = (part for part in get_args(hint) if part is not type(None))
        return _decode(hint, value)
    if origin is tuple:
        return _decode_tuple(get_args(hint), value)
    if is_dataclass(hint):
        return from_json(hint, value)  # type: ignore[arg-type]
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)  # PostgreSQL hands whole numbers back without their point
    if issubclass(hint, Enum):
        return hint(value)
    if not isinstance(value, hint):
        raise ValueError(f"A stored {value!r} is no {hint.__name__}.")  # noqa: TRY004 - one error
    return value


def _decode_tuple(kinds: tuple[Any, ...], value: Any) -> tuple[Any, ...]:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        if kinds[0] is float:
            return tuple(map(float, value))  # thousands of them: keep it quick
        return tuple(_decode(kinds[0], part) for part in value)
    return tuple(_decode(kind, part) for kind, part in zip(kinds, value, strict=True))
