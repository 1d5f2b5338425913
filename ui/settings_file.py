"""Settings from a file in the user's configuration folder, and what the environment names."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, TypeVar

from vision.joint_cut import RunCosts
from vision.panel_job import Allowances
from vision.settings import DEFAULT_VISION_SETTINGS, VisionSettings

CATALOG_VARIABLE = "FLITCHWRIGHT_CATALOG"
PICTURES_VARIABLE = "FLITCHWRIGHT_PICTURES"
SETTINGS_VARIABLE = "FLITCHWRIGHT_SETTINGS"

_S = TypeVar("_S", VisionSettings, Allowances, RunCosts)


class SettingsFaulty(Exception):
    """The settings file cannot be used."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that is set from outside."""

    vision: VisionSettings
    panels: Allowances
    """What the customers' shops take off, for panel plans."""
    joints: RunCosts
    """What the cuts of a run must gain for what they cost."""
    catalog_url: str | None
    """None for the catalogue in the user's data folder."""
    pictures: str | None


def read_settings() -> Settings:
    """Return the settings: built-in, then ``settings.toml``, then the environment.

    The file is named by ``FLITCHWRIGHT_SETTINGS``, else it is ``flitchwright/settings.toml`` in
    ``$XDG_CONFIG_HOME`` (default ``~/.config``). Its table ``[vision]`` may hold any field of
    `VisionSettings`, its table ``[panels]`` any of `Allowances`, its table ``[joints]`` any of
    `RunCosts`.

    Raises
    ------
    SettingsFaulty
        If the file is no TOML or holds a name or a kind of value that is not known.
    """
    path = _settings_path()
    tables = _tables_of(path)
    return Settings(
        vision=_with(DEFAULT_VISION_SETTINGS, tables.get("vision", {}), path),
        panels=_with(Allowances(), tables.get("panels", {}), path),
        joints=_with(RunCosts(), tables.get("joints", {}), path),
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


def _tables_of(path: Path) -> dict[str, Any]:
    if not path.is_file():
        if os.environ.get(SETTINGS_VARIABLE):
            raise SettingsFaulty(f"There is no settings file {path}; correct {SETTINGS_VARIABLE}.")
        return {}
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsFaulty(f"{path} is not readable as TOML: {error}. Correct it.") from error


def _with(defaults: _S, table: dict[str, Any], path: Path) -> _S:
    known = {field.name for field in fields(defaults)}
    changes: dict[str, Any] = {}
    for name, value in table.items():
        if name not in known:
            raise SettingsFaulty(
                f"{path} sets {name!r}; known are {', '.join(sorted(known))}. Correct the name."
            )
        changes[name] = _checked(name, value, getattr(defaults, name), path)
    return replace(defaults, **changes)


def _checked(name: str, value: Any, default: Any, path: Path) -> Any:
    if isinstance(default, tuple):
        if isinstance(value, list) and all(_is_number(part) for part in value):
            return tuple(float(part) for part in value)
        raise SettingsFaulty(f"{path} sets {name} to {value!r}; a list of numbers is needed.")
    if not _is_number(value) or value < 0:
        raise SettingsFaulty(f"{path} sets {name} to {value!r}; a number from 0 up is needed.")
    return float(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
