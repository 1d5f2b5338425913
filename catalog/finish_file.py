"""What a finish does to one wood, kept in a file of its own."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from pathlib import Path

from vision.errors import FinishUnknown
from vision.finish import Finish


def write_finish(finish: Finish, path: Path) -> None:
    """Write a finish as JSON: factors on highlight, slope and light, and how sure they are."""
    path.write_text(json.dumps(asdict(finish), indent=2) + "\n", encoding="utf-8")


def read_finish_file(path: Path) -> Finish:
    """Return a finish from its file.

    Raises
    ------
    FinishUnknown
        If the file holds something else.
    """
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        values = {one.name: told[one.name] for one in fields(Finish)}
        red, green, blue = (float(value) for value in values.pop("light_times"))
        name = str(values.pop("name"))
        numbers = {key: float(value) for key, value in values.items()}
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise FinishUnknown(
            f"{path.name} is no record of a finish; one written by `finish` is needed. Make it "
            "from photographs of an offcut, raw and finished."
        ) from error
    return Finish(name=name, light_times=(red, green, blue), **numbers)
