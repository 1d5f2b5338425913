"""A proposed order in plain words: what lies wrong in the stack as it came."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from vision.laying import compose
from vision.shot import Laid
from vision.stack_order import StackOrder

GAP_TOLD = 0.5
TWINS_TOLD = 0.5
STRETCH_TOLD = 0.2
DOUBTFUL = 0.5
MOST_TOLD = 8
"""More leaves out of place are counted, not named one by one."""
LAID_WORDS = {
    Laid.END_TURNED: "end for end",
    Laid.FACE_OVER: "face over",
    Laid.END_OVER: "face over and end for end",
}


def order_words(came: Sequence[str], order: StackOrder) -> tuple[str, ...]:
    """Return sentences about a stack, the most useful first.

    Parameters
    ----------
    came : sequence of str
        Names of the leaves in the order in which they came.
    order : StackOrder
        The proposed order of the same leaves.

    Examples
    --------
    >>> from vision.stack_order import PlacedLeaf
    >>> names = ("1", "3", "2", "4", "5")
    >>> placed = [PlacedLeaf(n, at, Laid.AS_LIES, 0.99) for at, n in enumerate(sorted(names))]
    >>> order_words(names, StackOrder(tuple(placed)))
    ('Leaves 3 and 2 look swapped.',)
    """
    if len(order.leaves) < 3:
        return ("Too few leaves to tell an order: at least three are needed.",)
    words = [*_moved(came, order), *_turned(order), *_missing(order)]
    words += [
        f"Leaves {twins.first} and {twins.second} look like one leaf photographed twice."
        for twins in order.twins
        if twins.likelihood >= TWINS_TOLD
    ]
    words += [
        f"The run from leaf {one.first} to leaf {one.last} may lie the other way round."
        for one in order.stretches
        if one.likelihood >= STRETCH_TOLD
    ]
    doubtful = sum(leaf.confidence < DOUBTFUL for leaf in order.leaves)
    if doubtful > len(order.leaves) / 2:
        words.insert(
            0,
            "The leaves look too much alike, or the photographs too unlike: take this "
            "order as a first guess only.",
        )
    elif doubtful:
        words.append(f"{doubtful} of {len(order.leaves)} leaves are doubtful in their place.")
    if order.same_cut:
        pairs = ", ".join(f"{one} and {other}" for one, other in order.same_cut[:MOST_TOLD])
        words.append(
            f"Face to face, so that both show one cut: {pairs}. Which comes first shows only "
            "where both faces are photographed."
        )
    return tuple(words) or ("The stack lies in log order.",)


def _moved(came: Sequence[str], order: StackOrder) -> list[str]:
    """Return what lies elsewhere than it should, reading the stack the way that asks for least."""
    names = [leaf.name for leaf in order.leaves]
    kept = max((_in_order(came, way) for way in (names, names[::-1])), key=len)
    way = names if len(_in_order(came, names)) >= len(_in_order(came, names[::-1])) else names[::-1]
    out = [name for name in came if name not in kept]
    if not out:
        return []
    if len(out) > MOST_TOLD:
        return [f"{len(out)} of {len(names)} leaves lie out of order."]
    place = {name: at for at, name in enumerate(way)}
    at_hand = {name: at for at, name in enumerate(came)}
    words, done = [], set()
    for name in out:
        if name in done:
            continue
        swapped = next(
            (
                other
                for other in came
                if abs(at_hand[other] - at_hand[name]) == 1
                and place[other] - place[name] == at_hand[name] - at_hand[other]
                and {at_hand[other] - place[other], at_hand[name] - place[name]} == {1, -1}
            ),
            None,
        )
        if swapped is not None:
            first, second = sorted((name, swapped), key=lambda one: at_hand[one])
            words.append(f"Leaves {first} and {second} look swapped.")
            done |= {first, second}
        elif place[name] == 0:
            words.append(f"Leaf {name} belongs before {way[1]}.")
        elif place[name] == len(way) - 1:
            words.append(f"Leaf {name} belongs after {way[-2]}.")
        else:
            before, after = way[place[name] - 1], way[place[name] + 1]
            words.append(f"Leaf {name} belongs between {before} and {after}.")
    return words


def _in_order(came: Sequence[str], names: Sequence[str]) -> set[str]:
    """Return the most leaves that already lie in order (a longest rising run)."""
    place = {name: at for at, name in enumerate(names)}
    ends: list[int] = []
    at_end: list[int] = []
    before: list[int] = []
    values = [place[name] for name in came]
    for index, value in enumerate(values):
        length = bisect_left(ends, value)
        before.append(at_end[length - 1] if length else -1)
        ends[length : length + 1] = [value]
        at_end[length : length + 1] = [index]
    kept, index = set(), at_end[-1] if at_end else -1
    while index >= 0:
        kept.add(came[index])
        index = before[index]
    return kept


def _turned(order: StackOrder) -> list[str]:
    """Return which leaves lie otherwise than most."""
    layings = [leaf.laid for leaf in order.leaves]
    most = max(layings, key=layings.count)
    words = []
    for laid, how in LAID_WORDS.items():
        names = [leaf.name for leaf in order.leaves if compose(leaf.laid, most) is laid]
        if len(names) == 1:
            words.append(f"Leaf {names[0]} lies {how}.")
        elif names:
            listed = ", ".join(names[:-1]) + f" and {names[-1]}"
            words.append(f"Leaves {listed} lie {how}.")
    return words


def _missing(order: StackOrder) -> list[str]:
    return [
        f"A leaf is perhaps missing between {gap.after} and {gap.before}."
        for gap in order.gaps
        if gap.likelihood >= GAP_TOLD
    ][:MOST_TOLD]
