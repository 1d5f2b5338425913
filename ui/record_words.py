"""What became of a bundle since it was catalogued, in plain words and as a record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from vision.laying import compose
from vision.order_words import LAID_WORDS, order_words
from vision.record_check import Recognised, RecordCheck
from vision.shot import Laid
from vision.stack_order import PlacedLeaf, StackOrder

LEAST_LEAVES = 3
"""From fewer recognised leaves no order is spoken of."""


def check_sentences(check: RecordCheck, files: Mapping[str, str]) -> tuple[str, ...]:
    """Return what is gone, moved, turned and foreign, in that order.

    Parameters
    ----------
    check : RecordCheck
    files : mapping of str to str
        The photograph of each photographed leaf.
    """
    words = []
    if check.gone:
        words.append(f"{_leaves(check.gone)} {'is' if len(check.gone) == 1 else 'are'} gone.")
    if check.is_reversed and len(check.came) >= LEAST_LEAVES:
        words.append("The stack came the other way round, its last leaf first.")
    if check.usual is not Laid.AS_LIES:
        words.append(f"The whole stack lies {LAID_WORDS[check.usual]} against its record.")
    words += _order_sentences(check)
    for one in check.photographed:
        if one.is_foreign:
            words.append(f"Photo {files[one.name]} is not of this flitch.")
        elif one.leaf is None:
            words.append(
                f"Photo {files[one.name]} is of this flitch but none of its recorded leaves: it "
                f"belongs {_place(one)}."
            )
    return tuple(words) or ("Every leaf of the record is there, in order, as it lay.",)


def check_record_json(
    check: RecordCheck, files: Mapping[str, str], refused: Sequence[Mapping[str, str]]
) -> dict[str, Any]:
    """Return the same as other programs read it."""
    usual = check.usual
    return {
        "photographs": [
            {
                "file": files[one.name],
                "leaf": one.leaf,
                "laid": str(one.laid),
                "laid_chance": round(one.laid_chance, 3),
                "flitch_chance": round(one.wood_chance, 3),
                "chance_by_itself": round(one.chance, 3),
                "after_leaf": None if one.is_foreign else one.before,
                "before_leaf": None if one.is_foreign else one.after,
            }
            for one in check.photographed
        ],
        "gone": list(check.gone),
        "moved": list(check.moved),
        "turned": [
            {"leaf": one.leaf, "laid": str(compose(one.laid, usual))}
            for one in check.photographed
            if one.leaf is not None and one.laid is not usual
        ],
        "foreign": [files[one.name] for one in check.photographed if one.is_foreign],
        "unrecorded": [
            files[one.name] for one in check.photographed if one.leaf is None and not one.is_foreign
        ],
        "reversed": check.is_reversed,
        "whole_stack_laid": str(usual),
        "summary": list(check_sentences(check, files)),
        "refused": list(refused),
    }


def _order_sentences(check: RecordCheck) -> list[str]:
    """Return which leaves lie out of order, and which lie otherwise than most."""
    if len(check.came) < LEAST_LEAVES:
        return []
    laid = {one.leaf: one.laid for one in check.photographed}
    placed = [
        PlacedLeaf(name, at, laid[name], 1.0)
        for at, name in enumerate(name for name in check.record if name in laid)
    ]
    is_as_it_was = not check.moved and all(one.laid is check.usual for one in placed)
    return [] if is_as_it_was else list(order_words(check.came, StackOrder(tuple(placed))))


def _place(one: Recognised) -> str:
    if one.before is None:
        return f"before leaf {one.after}"
    if one.after is None:
        return f"after leaf {one.before}"
    return f"between leaves {one.before} and {one.after}"


def _leaves(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"Leaf {names[0]}"
    return f"Leaves {', '.join(names[:-1])} and {names[-1]}"
