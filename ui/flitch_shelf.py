"""Flitches as cards: a few leaves standing side by side, then what they are.

Every word is escaped here; the caller hands over plain text.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from catalog.records import FlitchCard
from ui.leaf_film import tag_html

LEAVES_SHOWN = 8
"""As many as stand side by side on a card."""


def shelf_html(cards: Sequence[str]) -> str:
    """Return cards on a shelf."""
    return f'<div class="fw-shelf">{"".join(cards)}</div>'


def rack_html(pictures: Sequence[str]) -> str:
    """Return small pictures of leaves standing side by side."""
    stack = "".join(f'<img src="{escape(picture)}" alt="" loading="lazy">' for picture in pictures)
    return f'<div class="fw-stack fw-rack">{stack}</div>'


def card_html(card: FlitchCard, *, link: str | None, pictures: Sequence[str]) -> str:
    """Return one flitch as a card.

    Parameters
    ----------
    card : FlitchCard
    link : str or None
        Address of its first bundle, None where it has none.
    pictures : sequence of str
        Addresses of small pictures of its first leaves.
    """
    flitch = card.flitch
    stack = "".join(f'<img src="{escape(picture)}" alt="">' for picture in pictures)
    kind = " · ".join(escape(word) for word in (flitch.species, flitch.cut, flitch.figure) if word)
    tag = tag_html(str(card.worst)) if card.worst is not None else ""
    inside = (
        f'<div class="fw-stack">{stack or "<span class=fw-empty>no leaves yet</span>"}</div>'
        f'<div class="fw-text"><h3>{escape(flitch.name)}</h3><p>{kind}</p>'
        f"<p>{escape(_tally(card))}</p>{tag}</div>"
    )
    if link is None:
        return f'<div class="fw-card">{inside}</div>'
    return f'<a class="fw-card" href="{escape(link)}" target="_self">{inside}</a>'


def _tally(card: FlitchCard) -> str:
    bundles = "1 bundle" if card.bundle_count == 1 else f"{card.bundle_count} bundles"
    leaves = "1 leaf" if card.leaf_count == 1 else f"{card.leaf_count} leaves"
    if not card.sized_leaf_count:
        return f"{bundles} · {leaves}"
    area = f"{card.area_m2:.2f} m²"
    if card.sized_leaf_count < card.leaf_count:
        area += f" in {card.sized_leaf_count} of them"
    return f"{bundles} · {leaves} · {area}"
