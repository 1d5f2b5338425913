"""Kinds of file that need a package of their own: fetched when asked for, or named if missing."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from vision.errors import PhotoUnreadable


def extra_package(module: str, *, extra: str, found: str) -> Any:
    """Return a package that comes with an extra.

    Parameters
    ----------
    module : str
        Name under which it is imported.
    extra : str
        Name of the extra in ``pyproject.toml``.
    found : str
        The kind of file, as in "a HEIC picture".

    Raises
    ------
    PhotoUnreadable
        If it is not installed, or cannot be loaded; says how to install it.
    """
    try:
        return import_module(module)
    except ImportError as error:
        package = module.replace("_", "-")
        raise PhotoUnreadable(
            f"The file is {found}; the extra package {package} is needed to open it. Install it, "
            f'in the folder of this tool, with: .venv/bin/pip install -e ".[{extra}]" Or set the '
            "camera to JPEG."
        ) from error
