"""What the screens show of a bundle: its leaves under a lamp, its joints in a run."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.records import LeafCard, PhotoRecord, PictureKeys
from catalog.set_words import size_mm
from ui.leaf_film import FilmLeaf
from vision.joint_alternation import alternation_at
from vision.match_layout import LeafExtent, Match, lay_out
from vision.readings import PairAlternation
from vision.shot import Laid, Lamp


def picture_address(sha256: str) -> str:
    """Return where a browser finds a stored picture; see `ui.serving`."""
    return f"/picture/{sha256}"


def film_leaves(
    leaves: Sequence[LeafCard], photos: Sequence[PhotoRecord], lamp: Lamp
) -> list[FilmLeaf]:
    """Return the leaves of the film, each as it lies under ``lamp`` where there is such a photo."""
    lit = _lit_pictures(photos, lamp)
    return [
        FilmLeaf(
            label=leaf.label,
            picture=picture_address(lit.get(leaf.label, leaf.pictures).screen),
            note=size_mm(leaf.size),
        )
        for leaf in leaves
    ]


def run_joints(
    labels: Sequence[str], pairs: Sequence[PairAlternation], *, match: Match, lamp: Lamp
) -> list[PairAlternation | None]:
    """Return light and dark at each joint when all the leaves are laid as one run."""
    if not labels:
        return []
    layout = lay_out([LeafExtent(label, 1.0, 1.0) for label in labels], match)
    return [alternation_at(joint, match, lamp, pairs) for joint in layout.joints]


def _lit_pictures(photos: Sequence[PhotoRecord], lamp: Lamp) -> dict[str, PictureKeys]:
    return {
        photo.shot.leaf: photo.pictures[0]
        for photo in photos
        if photo.shot.laid is Laid.AS_LIES
        and photo.shot.lamp is lamp
        and not photo.shot.wet
        and photo.pictures
    }
