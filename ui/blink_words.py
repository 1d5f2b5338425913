"""Two leaves looked at in turn, in words: which shows, how it lies, how one lies on the other."""

from __future__ import annotations

from catalog.blinked_pair import BlinkedPair
from ui.words import LAID_WORDS, sure_words
from vision.shot import Laid

LEAST_LEAN_DEG = 0.05
LEAST_LENGTHENING = 0.0005
NOT_TOLD = "not told by the figure, so middle to middle"
ONE_COLOUR = (
    "Both are shown in one mean colour, so that only the figure jumps; light and dark is told on "
    "the screen Light."
)


def leaf_words(label: str, laid: Laid) -> str:
    """Return which leaf shows and how it lies.

    Examples
    --------
    >>> leaf_words("04", Laid.END_TURNED)
    'Leaf 04, spun end for end'
    """
    return f"Leaf {label}, {LAID_WORDS[laid]}"


def register_words(pair: BlinkedPair) -> tuple[str, ...]:
    """Return how the second leaf of a pair lies on the first: millimetres, and how sure that is."""
    first, second = pair.labels
    move = pair.register
    if move is None:
        words = (
            f"No register: the figure of leaves {first} and {second} does not say how one lies on "
            "the other. They are laid middle to middle."
        )
        return (words,)
    along = _shift(move.along_mm, pair.unit, ("the bottom end", "the top end"))
    across = _shift(move.across_mm, pair.unit, ("the right edge", "the left edge"))
    told = [
        f"along the grain {along}, {sure_words(move.along_sure)}" if along else f"along {NOT_TOLD}",
        f"across {across}, {sure_words(move.across_sure)}" if across else f"across {NOT_TOLD}",
    ]
    if abs(move.lean_deg) >= LEAST_LEAN_DEG:
        way = "clockwise" if move.lean_deg > 0 else "anticlockwise"
        told.append(f"turned by {abs(move.lean_deg):.1f}° {way}")
    if abs(move.lengthening) >= LEAST_LENGTHENING:
        longer = "longer" if move.lengthening > 0 else "shorter"
        told.append(f"drawn {100 * abs(move.lengthening):.1f} % {longer} to fit")
    return (f"Leaf {second} on leaf {first}, from middle on middle: {'; '.join(told)}.",)


def pair_words(pair: BlinkedPair) -> tuple[str, ...]:
    """Return all that is said beside two leaves that are looked at in turn."""
    words = [*register_words(pair)]
    if pair.unit == "px":
        words.append(
            "A leaf has no size in millimetres: both are drawn equally long, and shifts are in "
            "pixels of the photograph."
        )
    if any(laid is not Laid.AS_LIES for laid in pair.laid):
        words.append(
            "A turned leaf is shown turned back; face over, its picture is mirrored, as if seen "
            "through the leaf."
        )
    return (*words, ONE_COLOUR)


def _shift(value: float | None, unit: str, ways: tuple[str, str]) -> str | None:
    """Return a shift with its direction, None where it is not told."""
    if value is None:
        return None
    if round(abs(value), 1) == 0:
        return f"0.0 {unit}"
    return f"{abs(value):.1f} {unit} toward {ways[0] if value > 0 else ways[1]}"
