"""From photographs to the leaves of a stack: every shot of a face adds to its drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.laying import shows_other_face
from vision.leaf_descriptor import STEPS, LeafDescriptor, describe_leaf
from vision.leaf_image import LeafImage
from vision.shot import Laid, Shot
from vision.stack_order import StackLeaf


class StackViews:
    """Collects the drawings of leaves, photograph by photograph; pixels are let go."""

    def __init__(self) -> None:
        self._faces: dict[str, tuple[list[LeafDescriptor], list[LeafDescriptor]]] = {}

    def add(self, shot: Shot, leaves: Sequence[LeafImage]) -> None:
        """Take the leaves of one photograph, left to right.

        Raises
        ------
        LeafNotFound
            If a leaf shows too little wood to be compared.
        """
        pair = (Laid.AS_LIES, Laid.FACE_OVER)
        layings = pair if shot.laid is Laid.OPENED_PAIR else (shot.laid,)
        described = [describe_leaf(leaf, laid) for leaf, laid in zip(leaves, layings, strict=True)]
        for name, drawing, laid in zip(shot.leaves, described, layings, strict=True):
            faces = self._faces.setdefault(name, ([], []))
            faces[shows_other_face(laid)].append(drawing)

    def leaves(self) -> tuple[StackLeaf, ...]:
        """Return the leaves in the order in which they were first seen."""
        found = []
        for name, (front, back) in self._faces.items():
            if front:
                found.append(StackLeaf(name, merge(front), merge(back) if back else None))
            else:
                found.append(StackLeaf(name, merge(back)))
        return tuple(found)


def merge(drawings: Sequence[LeafDescriptor]) -> LeafDescriptor:
    """Return the mean of several drawings of one face: lamps at both ends even out its shine."""
    if len(drawings) == 1:
        return drawings[0]
    weight = np.sum([drawing.seen for drawing in drawings], axis=0)
    seen = weight > 0
    kept = []
    for channel in (0, 1):
        cells = np.sum([drawing.channels[channel] for drawing in drawings], axis=0)
        cells = cells / np.maximum(weight, 1)
        step = max(float(np.abs(cells).max()), 1e-4) / STEPS
        kept.append((np.round(cells / step).astype(np.int8), step))
    return replace(
        drawings[0],
        lightness=kept[0][0],
        hue=kept[1][0],
        seen=seen,
        lightness_step=kept[0][1],
        hue_step=kept[1][1],
        length=float(np.median([drawing.length for drawing in drawings])),
        width=float(np.median([drawing.width for drawing in drawings])),
    )
