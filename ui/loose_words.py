"""The place of a loose leaf in plain words, and as a record for other programs."""

from __future__ import annotations

from typing import Any

from catalog.loose_leaf import LoosePlace
from ui.words import sure_words
from vision.laying import shows_other_face
from vision.loose_leaf import Placing
from vision.order_words import LAID_WORDS
from vision.shot import Laid

ITSELF_FROM = 0.8
"""From this chance on a leaf is called the very leaf of the catalogue, or of this very joint."""


def loose_sentences(found: LoosePlace) -> tuple[str, ...]:
    """Return what is found of a loose leaf in sentences, the most useful first."""
    placing = found.placing
    if not placing.is_in_catalogue:
        chance = f"{100 * placing.chance:.0f} %"
        nearest = f"Flitch {found.flitch.name} comes nearest, with a chance of {chance}."
        return ("Not in the catalogue.", nearest)
    sure = sure_words(placing.chance)
    near = sure_words(placing.place_chance)
    words = [
        f"Flitch {found.flitch.name}, bundle {found.bundle.label}, {_place_words(placing)}.",
        f"The flitch is {sure}, the place to within one leaf {near}.",
    ]
    if placing.laid is not Laid.AS_LIES:
        words.append(
            f"It lies {LAID_WORDS[placing.laid]} ({sure_words(placing.laid_chance)}), against "
            "the leaves photographed there."
        )
    if shows_other_face(placing.laid):
        words.append(
            "A face turned up looks like the leaf beside it: only a photograph of the other face "
            "tells the leaf from its neighbour."
        )
    return tuple(words)


def loose_record(file: str, found: LoosePlace) -> dict[str, Any]:
    """Return what is found of a loose leaf as other programs read it."""
    placing, held = found.placing, found.placing.is_in_catalogue
    return {
        "file": file,
        "in_catalogue": held,
        "chance": round(placing.chance, 3),
        "flitch": found.flitch.name if held else None,
        "flitch_id": int(found.flitch.flitch_id) if held else None,
        "bundle": found.bundle.label if held else None,
        "bundle_id": int(found.bundle.bundle_id) if held else None,
        "is_leaf": placing.leaf if held else None,
        "after_leaf": placing.before if held else None,
        "before_leaf": placing.after if held else None,
        "laid": str(placing.laid) if held else None,
        "place_chance": round(placing.place_chance, 3) if held else None,
        "exact_chance": round(placing.exact_chance, 3) if held else None,
        "laid_chance": round(placing.laid_chance, 3) if held else None,
        "nearest_flitch": found.flitch.name,
        "summary": list(loose_sentences(found)),
    }


def _place_words(placing: Placing) -> str:
    if placing.leaf is not None:
        if placing.exact_chance >= ITSELF_FROM:
            return f"leaf {placing.leaf} itself"
        return f"leaf {placing.leaf} or right beside it"
    about = "" if placing.exact_chance >= ITSELF_FROM else "about "
    if placing.before is None:
        return f"{about}before leaf {placing.after}"
    if placing.after is None:
        return f"{about}after leaf {placing.before}"
    return f"{about}between leaves {placing.before} and {placing.after}"
