"""The leaves of a folder or a bundle, read and ready to be put in order."""

from __future__ import annotations

from dataclasses import dataclass

from vision.shot_list import Refusal
from vision.stack_order import StackLeaf


@dataclass(frozen=True, slots=True)
class SeenStack:
    """The leaves of a folder, the file that first shows each, and what was refused."""

    leaves: tuple[StackLeaf, ...]
    files: dict[str, str]
    refused: tuple[Refusal, ...]
