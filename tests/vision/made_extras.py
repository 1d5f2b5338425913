"""Packages of the extras: missing, they are a skip at home and a failure on the server."""

from __future__ import annotations

import importlib
import os
from types import ModuleType

import pytest


def extra(name: str) -> ModuleType:
    """Return the package by the name under which it is imported."""
    if os.environ.get("CI"):
        return importlib.import_module(name)
    return pytest.importorskip(name, exc_type=ImportError)
