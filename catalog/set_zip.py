"""Pack a picture set for e-mail: pictures with their scale bars, and the captions as a table."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.match_preview import MatchPreview
from catalog.picture_caption import caption_leaf
from catalog.set_content import SetContent, SetLeaf
from catalog.set_words import (
    COLOUR_CLASS_SHORT,
    MM_PER_INCH,
    colour_words,
    file_word,
    plain_cell,
    size_in,
    size_mm,
)
from vision.picture_file import PictureKind, encode_picture
from vision.picture_scale import scale_picture

STEPS: tuple[tuple[float, int], ...] = (
    (1.0, 90),
    (1.0, 84),
    (0.85, 82),
    (0.7, 80),
    (0.6, 74),
    (0.5, 68),
    (0.4, 60),
)
"""Share of the full size and JPEG quality, tried in turn until the pack is small enough."""


@dataclass(frozen=True, slots=True, eq=False)
class _Picture:
    name: str
    rgb: NDArray[np.uint8]
    px_per_mm: float | None
    row: tuple[str | float, ...]
    """What the table of captions says of it."""


HEADER = (
    "file",
    "shows",
    "leaf",
    "length_mm",
    "width_mm",
    "length_in",
    "width_in",
    "lightness",
    "a",
    "b",
    "colour",
    "remarks",
)


def pack(content: SetContent, *, most_bytes: int) -> tuple[bytes, int]:
    """Return a zip file of a picture set, and the JPEG quality it took.

    Pictures are made smaller step by step (`STEPS`) until the pack has at most ``most_bytes``;
    after the last step it is as small as it gets. The same content gives the same bytes.
    """
    pictures = [*_leaf_pictures(content), *_match_pictures(content)]
    for share, quality in STEPS:
        files = [(one.name, _coded(one, share, quality)) for one in pictures]
        if sum(len(data) for _, data in files) + 400 * len(files) <= most_bytes:
            break
    return _zipped([*files, ("captions.csv", _table(pictures))], content), quality


def _leaf_pictures(content: SetContent) -> list[_Picture]:
    return [
        _Picture(
            name=f"{number:02}-leaf-{file_word(leaf.card.label)}.jpg",
            rgb=caption_leaf(leaf.rgb, _leaf_lines(content, leaf), px_per_mm=_mm_scale(leaf)),
            px_per_mm=_mm_scale(leaf),
            row=_leaf_row(leaf),
        )
        for number, leaf in enumerate(content.leaves, start=1)
    ]


def _match_pictures(content: SetContent) -> list[_Picture]:
    first = len(content.leaves) + 1
    return [
        _Picture(
            name=f"{number:02}-{file_word(preview.title)}.jpg",
            rgb=preview.captioned(),
            px_per_mm=preview.px_per_mm if preview.layout.unit == "mm" else None,
            row=_match_row(preview),
        )
        for number, preview in enumerate(content.previews, start=first)
    ]


def _mm_scale(leaf: SetLeaf) -> float | None:
    return leaf.px_per_mm if leaf.in_mm else None


def _leaf_lines(content: SetContent, leaf: SetLeaf) -> Sequence[str]:
    size = " = ".join(part for part in (size_mm(leaf.card.size), size_in(leaf.card.size)) if part)
    return (
        f"{content.flitch.name}, leaf {leaf.card.label}",
        f"{content.flitch.species}, raw wood{', wet' if leaf.card.shot.wet else ''}",
        size,
        f"{colour_words(leaf.card.colour)}, {COLOUR_CLASS_SHORT[leaf.card.colour.colour_class]}",
    )


def _leaf_row(leaf: SetLeaf) -> tuple[str | float, ...]:
    size, colour = leaf.card.size, leaf.card.colour
    lengths = (size.length_mm, size.width_mm)
    return (
        "leaf",
        leaf.card.label,
        *("" if mm is None else round(mm, 1) for mm in lengths),
        *("" if mm is None else round(mm / MM_PER_INCH, 2) for mm in lengths),
        *(round(value, 2) for value in (colour.lightness, colour.a, colour.b)),
        COLOUR_CLASS_SHORT[colour.colour_class],
        "wet" if leaf.card.shot.wet else "",
    )


def _match_row(preview: MatchPreview) -> tuple[str | float, ...]:
    leaves = " ".join(place.leaf for place in preview.layout.placements)
    return (preview.title, leaves, "", "", "", "", "", "", "", "", " ".join(preview.notes))


def _coded(picture: _Picture, share: float, quality: int) -> bytes:
    rgb, scale = picture.rgb, picture.px_per_mm
    if share < 1:
        rows, columns = (round(side * share) for side in rgb.shape[:2])
        rgb = scale_picture(rgb, rows=rows, columns=columns)
        scale = None if scale is None else scale * share
    return encode_picture(rgb, PictureKind.JPEG, px_per_mm=scale, quality=quality)


def _table(pictures: Sequence[_Picture]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(HEADER)
    for picture in pictures:
        cells = (picture.name, *picture.row)
        writer.writerow([plain_cell(one) if isinstance(one, str) else one for one in cells])
    return text.getvalue().encode("utf-8-sig")


def _zipped(files: Sequence[tuple[str, bytes]], content: SetContent) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in files:
            entry = zipfile.ZipInfo(name, (*content.on.timetuple()[:3], 0, 0, 0))
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            archive.writestr(entry, data)
    return packed.getvalue()
