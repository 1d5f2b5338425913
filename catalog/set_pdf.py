"""Lay a picture set on A4 paper: cover, leaves, matches, light and dark."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.match_preview import MatchPreview
from catalog.set_content import SetContent, SetLeaf
from catalog.set_light import light_pages
from catalog.set_paper import (
    ACCENT,
    FOOT_MM,
    INNER_MM,
    MARGIN_MM,
    PALE,
    TINT,
    TOP_MM,
    Paper,
)
from catalog.set_words import (
    COLOUR_CLASS_LONG,
    COLOUR_CLASS_SHORT,
    LAMP_WORDS,
    area_words,
    colour_words,
    range_words,
    size_in,
    size_mm,
)
from vision.laying import shows_other_face
from vision.match_layout import Match
from vision.readings import ColourClass
from vision.shot import Lamp

CAUTION = (
    "Raw wood, photographed dry unless a leaf is marked wet. A finish darkens and warms it and "
    "can strengthen light and dark between leaves; a screen, a printer, and the lamps and windows "
    "of another room change its look as well. Pictures are of these very leaves and of no others. "
    "Before cutting, lay the leaves out in the light they will live in, and try the finish on an "
    "offcut."
)
MATCH_LINES: dict[Match, str] = {
    Match.BOOK: (
        "Every other leaf is turned over on its long edge, like the page of a book, so that the "
        "figure is mirrored at each joint."
    ),
    Match.SLIP: (
        "Every leaf lies as it came off the stack, slid to the side, so that the figure repeats."
    ),
}
LEAF_TALL_MM = 196.0
LEAF_WIDE_MM = 84.0
COLUMN_MM = 34.0
"""A leaf's column on the page is at least so wide, for its caption."""
GAP_MM = 6.0
FACTS_MM = 82.0
"""Room that the facts on the cover need beside a narrow picture."""
FACTS_TALL_MM = 62.0
"""Room that they need below a wide one."""
WORDS_MM = 14.0
"""Title above and labels below a match."""
BAR_MM = 10.0
MATCH_TITLES = {Lamp.A: "Lamp A, past the top end", Lamp.B: "Lamp B, past the bottom end"}


def paper_set(content: SetContent) -> bytes:
    """Return a picture set as a PDF; the same content gives the same bytes."""
    title = f"{content.flitch.name}, bundle {content.bundle.label}"
    paper = Paper(title=title, author=content.dealer, on=content.on)
    _cover(paper, content)
    _leaf_pages(paper, content.leaves)
    for match in dict.fromkeys(preview.layout.match for preview in content.previews):
        _match_page(paper, match, [one for one in content.previews if one.layout.match is match])
    light_pages(paper, content.previews)
    return bytes(paper.output())


def _cover(paper: Paper, content: SetContent) -> None:
    flitch = content.flitch
    paper.add_page()
    paper.words("Picture set", MARGIN_MM, TOP_MM - 4, size=9, colour=PALE)
    paper.words(content.dealer, MARGIN_MM, TOP_MM - 4, size=9, colour=PALE, align="R")
    paper.set_fill_color(*ACCENT)
    paper.rect(MARGIN_MM, TOP_MM + 5, 22, 1.2, style="F")
    paper.words(flitch.name, MARGIN_MM, TOP_MM + 10, size=28, bold=True)
    about = ", ".join(part for part in (flitch.species, flitch.cut, flitch.figure) if part)
    paper.words(about, MARGIN_MM, TOP_MM + 24, size=12)
    caution = _caution(paper)
    x, y = _hero(paper, content, TOP_MM + 36, bottom=caution - 8)
    _facts(paper, content, x, y)


def _hero(paper: Paper, content: SetContent, y: float, *, bottom: float) -> tuple[float, float]:
    """Show the first match, or the leaf; return where the facts go: beside it if narrow."""
    rgb, title = content.leaves[0].rgb, f"Leaf {content.leaves[0].card.label}"
    if content.previews:
        rgb, title = content.previews[0].rgb, content.previews[0].title
    rows, columns = rgb.shape[:2]
    narrow_mm = INNER_MM - FACTS_MM - 8
    scale = (bottom - y - 6) / rows
    is_narrow = columns * scale <= narrow_mm
    if not is_narrow:
        scale = min(INNER_MM / columns, (bottom - y - FACTS_TALL_MM) / rows)
        is_narrow = columns * scale < narrow_mm
        scale = narrow_mm / columns if is_narrow else scale
    width = columns * scale
    paper.picture(rgb, MARGIN_MM, y, width=width, words=title)
    end = y + rows * scale + 1.5
    paper.words(title, MARGIN_MM, end, size=8, colour=PALE, width=max(width, 50.0))
    return (MARGIN_MM + width + 8, y) if is_narrow else (MARGIN_MM, end + 8)


def _facts(paper: Paper, content: SetContent, x: float, y: float) -> None:
    cards = [leaf.card for leaf in content.leaves]
    lamps = dict.fromkeys(LAMP_WORDS[card.shot.lamp] for card in cards)
    labels = ", ".join(card.label for card in cards)
    facts = [
        ("Bundle", content.bundle.label),
        ("Leaves", f"{len(cards)}: {labels}"),
        ("Length", range_words(card.size.length_mm for card in cards)),
        ("Width", range_words(card.size.width_mm for card in cards)),
        ("Area", area_words(cards)),
        ("Light", f"leaves photographed under {' or '.join(lamps)}; matches as named"),
        ("Date", f"{content.on.day} {content.on:%B %Y}"),
        ("For", content.customer),
    ]
    names = 20.0
    for name, value in facts:
        if value:
            paper.words(name, x, y, size=9, colour=PALE)
            width = MARGIN_MM + INNER_MM - x - names
            y = paper.text_block(value, x + names, y, width=width) + 1.4


def _caution(paper: Paper) -> float:
    """Write the caution at the foot of the page; return where it begins."""
    inner = INNER_MM - 10
    height = paper.block_height(CAUTION, width=inner, size=8.5) + 7
    y = FOOT_MM - 6 - height
    paper.set_fill_color(*TINT)
    paper.rect(MARGIN_MM, y, INNER_MM, height, style="F")
    paper.text_block(CAUTION, MARGIN_MM + 5, y + 3.5, width=inner, size=8.5)
    return y


def _leaf_pages(paper: Paper, leaves: Sequence[SetLeaf]) -> None:
    """Stand the leaves side by side, all at one scale, as many to a page as fit."""
    scale = _common_scale(leaves)
    sizes = [_paper_size(leaf, scale) for leaf in leaves]
    column = max(COLUMN_MM, max(width for width, _ in sizes) + GAP_MM)
    per_page = max(1, int((INNER_MM + GAP_MM) // column))
    page_count = -(-len(leaves) // per_page)
    per_page = -(-len(leaves) // page_count)  # no page with one leaf left over
    column = min(1.4 * column, (INNER_MM + GAP_MM) / per_page)
    for start in range(0, len(leaves), per_page):
        page = slice(start, start + per_page)
        _leaf_page(paper, leaves[page], sizes[page], column=column, scale=scale)


def _common_scale(leaves: Sequence[SetLeaf]) -> float | None:
    """Return millimetres of paper per millimetre of wood; None where no leaf has a scale."""
    known = [leaf for leaf in leaves if leaf.in_mm]
    if not known:
        return None
    longest = max(float(leaf.rgb.shape[0]) / leaf.px_per_mm for leaf in known)
    widest = max(float(leaf.rgb.shape[1]) / leaf.px_per_mm for leaf in known)
    return min(LEAF_TALL_MM / longest, LEAF_WIDE_MM / widest, 1.0)


def _paper_size(leaf: SetLeaf, scale: float | None) -> tuple[float, float]:
    rows, columns = leaf.rgb.shape[:2]
    if leaf.in_mm and scale is not None:
        per_px = scale / leaf.px_per_mm
    else:
        per_px = min(LEAF_TALL_MM / rows, LEAF_WIDE_MM / columns)
    return columns * per_px, rows * per_px


def _leaf_page(
    paper: Paper,
    leaves: Sequence[SetLeaf],
    sizes: Sequence[tuple[float, float]],
    *,
    column: float,
    scale: float | None,
) -> None:
    top = paper.heading(
        "The leaves", "Each whole, as it lies in the stack, its top end up; all at one scale."
    )
    below = top + max(height for _, height in sizes) + 3
    for index, (leaf, (width, _)) in enumerate(zip(leaves, sizes, strict=True)):
        x = MARGIN_MM + index * column
        paper.picture(leaf.rgb, x, top, width=width, words=f"Leaf {leaf.card.label}")
        _leaf_caption(paper, leaf, x, below, width=column - 2)
    foot = FOOT_MM - 6
    if scale is not None:
        paper.scale_bar(MARGIN_MM, foot, mm_per_mm=scale, width=INNER_MM)
    classes = dict.fromkeys(leaf.card.colour.colour_class for leaf in leaves)
    _colour_foot(paper, tuple(classes), x=MARGIN_MM + 76, bottom=foot + 2)


def _leaf_caption(paper: Paper, leaf: SetLeaf, x: float, y: float, *, width: float) -> None:
    card = leaf.card
    paper.words(card.label, x, y, size=10, bold=True, width=width)
    lines = [
        size_mm(card.size),
        size_in(card.size),
        colour_words(card.colour),
        COLOUR_CLASS_SHORT[card.colour.colour_class] + (", wet" if card.shot.wet else ""),
    ]
    for index, line in enumerate(line for line in lines if line):
        paper.words(line, x, y + 5 + 3.3 * index, size=7, colour=PALE, width=width)


def _colour_foot(
    paper: Paper, classes: tuple[ColourClass, ...], *, x: float, bottom: float
) -> None:
    said = " ".join(COLOUR_CLASS_LONG[one] for one in classes)
    width = MARGIN_MM + INNER_MM - x
    height = paper.block_height(said, width=width, size=7.5)
    paper.text_block(said, x, bottom - height, width=width, size=7.5, colour=PALE)


def _match_page(paper: Paper, match: Match, previews: Sequence[MatchPreview]) -> None:
    """Show a match under each lamp, beside or below each other, whichever is larger."""
    y = paper.heading(f"{match.value.capitalize()} match", MATCH_LINES[match])
    notes = " ".join(dict.fromkeys(note for preview in previews for note in preview.notes))
    room = FOOT_MM - 4 - y - BAR_MM
    if notes:
        room -= paper.block_height(notes, width=INNER_MM, size=8) + 3
    rows, columns = previews[0].rgb.shape[:2]
    count, gaps = len(previews), GAP_MM * (len(previews) - 1)
    beside = min((INNER_MM - gaps) / count / columns, (room - WORDS_MM) / rows)
    below = min(INNER_MM / columns, (room / count - WORDS_MM) / rows)
    scale = max(beside, below)
    across, down = (columns * scale + GAP_MM, 0.0) if beside >= below else (0.0, rows * scale)
    for index, preview in enumerate(previews):
        down_by = index * (down + WORDS_MM) if down else 0.0
        _one_match(paper, preview, MARGIN_MM + index * across, y + down_by, scale=scale)
    y += (rows * scale + WORDS_MM) * (count if down else 1) + 3
    if previews[0].layout.unit == "mm":
        per_mm = scale * previews[0].px_per_mm
        paper.scale_bar(MARGIN_MM, y, mm_per_mm=per_mm, width=columns * scale)
    if notes:
        paper.text_block(notes, MARGIN_MM, y + 5, width=INNER_MM, size=8, colour=PALE)


def _one_match(paper: Paper, preview: MatchPreview, x: float, y: float, *, scale: float) -> None:
    rows, columns = preview.rgb.shape[:2]
    title = MATCH_TITLES.get(preview.lamp, "") if preview.shows_light_and_dark else ""
    title = title or "Light and dark not shown"
    paper.words(title, x, y, size=9, bold=True, width=columns * scale)
    y += 5
    paper.picture(preview.rgb, x, y, width=columns * scale, words=preview.title)
    y += rows * scale + 1
    share = columns * scale / preview.layout.width_mm
    for place in preview.layout.placements:
        left, width = x + place.x_mm * share, place.width_mm * share
        paper.words(place.leaf, left, y, size=7.5, width=width, align="C")
        if shows_other_face(place.laid):
            paper.words("turned", left, y + 3.2, size=6.5, width=width, align="C", colour=PALE)
