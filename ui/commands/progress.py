"""Progress bars on standard error."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

import click

Outcome = TypeVar("Outcome")


def with_bar(outcomes: Iterable[Outcome], *, length: int, label: str) -> Iterator[Outcome]:
    """Yield ``outcomes`` one by one behind a progress bar on standard error."""
    with click.progressbar(outcomes, length=length, label=label, file=sys.stderr) as bar:
        yield from bar
