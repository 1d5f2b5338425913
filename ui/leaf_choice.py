"""Leaves named in a few letters: ``01-04``, ``01,03,05``, or a mixture."""

from __future__ import annotations

from collections.abc import Sequence


class LeafChoiceFaulty(ValueError):
    """The words name a leaf that is not there."""


def choose_leaves(text: str, labels: Sequence[str]) -> tuple[str, ...]:
    """Return the leaves that ``text`` names, in the order named; all of them if it is empty.

    A run from a later to an earlier leaf counts backwards. A label may itself hold a hyphen: a
    part that is a label as it stands is never read as a run.

    Parameters
    ----------
    text : str
        Labels and runs (``FIRST-LAST``) with commas between them.
    labels : sequence of str
        The labels of the bundle, in order.

    Raises
    ------
    LeafChoiceFaulty
        If a label is unknown, or a leaf is named twice.

    Examples
    --------
    >>> choose_leaves("01-03, 05", ["01", "02", "03", "04", "05"])
    ('01', '02', '03', '05')
    """
    if not text.strip():
        return tuple(labels)
    chosen: list[str] = []
    for part in (part.strip() for part in text.split(",")):
        chosen.extend(_run(part, labels))
    for label in chosen:
        if chosen.count(label) > 1:
            raise LeafChoiceFaulty(
                f"Leaf {label} is named twice; there is only one. Name each leaf once."
            )
    return tuple(chosen)


def _run(part: str, labels: Sequence[str]) -> Sequence[str]:
    if part in labels:
        return (part,)
    for cut, letter in enumerate(part):
        first, last = part[:cut].strip(), part[cut + 1 :].strip()
        if letter in "-–" and first in labels and last in labels:
            start, end = labels.index(first), labels.index(last)
            if start <= end:
                return labels[start : end + 1]
            return labels[end : start + 1][::-1]
    raise LeafChoiceFaulty(
        f"There is no leaf {part!r} in this bundle; there are {', '.join(labels)}. "
        "Write for example 01-04 or 01,03."
    )
