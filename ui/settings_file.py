"""Settings from a file in the user's configuration folder, and what the environment names."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from vision.settings import DEFAULT_VISION_SETTINGS, VisionSettings

CATALOG_VARIABLE = "FLITCHWRIGHT_CATALOG"
PICTURES_VARIABLE = "FLITCHWRIGHT_PICTURES"
SETTINGS_VARIABLE = "FLITCHWRIGHT_SETTINGS"


class SettingsFaulty(Exception):
    """The settings file cannot be used."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that is set from outside."""

    vision: VisionSettings
    catalog_url: str | None
    """None for the catalogue in the user's data folder."""
    pictures: str | None


def read_settings() -> Settings:
    """Return the settings: built-in, then ``settings.toml``, then the environment.

    The file is named by ``FLITCHWRIGHT_SETTINGS``, else it is ``flitchwright/settings.toml`` in
    ``$XDG_CONFIG_HOME`` (default ``~/.config``). Its table ``[vision]`` may hold any field of
    `VisionSettings`.

    Raises
    ------
    SettingsFaulty
        If the file is no TOML or holds a name or a kind of value that is not known.
    """
    return Settings(
        vision=_vision_from(_settings_path()),
        catalog_url=os.environ.get(CATALOG_VARIABLE) or None,
        pictures=os.environ.get(PICTURES_VARIABLE) or None,
    )


def data_folder() -> Path:
    """Return the user's data folder of this tool (it may not exist yet)."""
    base = os.environ.get("XDG_DATA_HOME")
    return (Path(base) if base else Path.home() / ".local" / "share") / "flitchwright"


def _settings_path() -> Path:
    named = os.environ.get(SETTINGS_VARIABLE)
    if named:
        return Path(named)
    base = os.environ.get("XDG_CONFIG_HOME")
    return (Path(base) if base else Path.home() / ".config") / "flitchwright" / "settings.toml"


def _vision_from(path: Path) -> VisionSettings:
    if not path.is_file():
        if os.environ.get(SETTINGS_VARIABLE):
            raise SettingsFaulty(f"There is no settings file {path}; correct {SETTINGS_VARIABLE}.")
        return DEFAULT_VISION_SETTINGS
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")).get("vision", {})
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsFaulty(f"{path} is not readable as TOML: {error}. Correct it.") from error
    return _with(table, path)


def _with(table: dict[str, Any], path: Path) -> VisionSettings:
    known = {field.name for field in fields(VisionSettings)}
    changes: dict[str, Any] = {}
    for name, value in table.items():
        if name not in known:
            raise SettingsFaulty(
                f"{path} sets {name!r}; known are {', '.join(sorted(known))}. Correct the name."
            )
        changes[name] = _checked(name, value, path)
    return replace(DEFAULT_VISION_SETTINGS, **changes)


def _checked(name: str, value: Any, path: Path) -> Any:
    if isinstance(getattr(DEFAULT_VISION_SETTINGS, name), tuple):
        if isinstance(value, list) and all(_is_number(part) for part in value):
            return tuple(float(part) for part in value)
        raise SettingsFaulty(f"{path} sets {name} to {value!r}; a list of numbers is needed.")
    if not _is_number(value) or value < 0:
        raise SettingsFaulty(f"{path} sets {name} to {value!r}; a number from 0 up is needed.")
    return float(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
