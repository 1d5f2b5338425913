"""``What you will see, in which light``: a page or two on a run of leaves for a customer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from catalog.catalog import Catalog
from catalog.errors import CatalogError
from catalog.light_forecast import LightForecast, forecast_light
from catalog.light_words import MATCH_WORDS, choice_words, worst_pair, worst_room_words
from catalog.match_preview import MatchPreview, preview_match
from catalog.records import BundleId
from catalog.set_light import THE_WORDS, flag_boxes
from catalog.set_paper import FOOT_MM, INNER_MM, MARGIN_MM, PALE, TINT, Paper
from catalog.set_words import flag_words, step_sentence
from vision.finish import Finish
from vision.match_layout import Match
from vision.readings import PairAlternation
from vision.room_lights import ROOM_WORDS
from vision.settings import DEFAULT_VISION_SETTINGS, VisionSettings
from vision.shot import Lamp

REPORT_MATCHES = (Match.BOOK, Match.SLIP, Match.REVERSE_SLIP)
TITLE = "What you will see, in which light"
PICTURE_PX = 1600
PICTURES_MM = 72.0
"""Height that the two pictures may take."""
LAMP_TITLES = {
    Lamp.A: "Lit from past the upper end (lamp A)",
    Lamp.B: "Lit from past the lower end (lamp B)",
}
LIGHT_MM, WORD_MM = 62.0, 42.0
ROW_MM = 9.9
GAP_MM = 6.0
NOT_PHOTOGRAPHED = (
    "The lights of the table were not photographed. What they show is worked out from photographs "
    "of each leaf under a lamp past each end, from how its fibres slope and shine; the ranges say "
    "how far that can be trusted. Another place of lamp or eye gives another picture."
)
RAW = (
    "All of it is said of the wood as photographed, taken to be raw and dry. A finish darkens it "
    "and usually deepens light and dark: try it on an offcut."
)
FACES = (
    "Where a turned leaf's other face was not photographed, it is taken to be like the first. The "
    "two faces of a leaf may take light and stain differently."
)
DRAWN = (
    "The pictures are put together from photographs of these very leaves, cut straight in the "
    "picture only; nothing has been cut yet. A screen and a printer change their look."
)


def light_report(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: Sequence[str],
    *,
    match: Match,
    customer: str = "",
    dealer: str = "",
    finish: Finish | None = None,
    on: date | None = None,
    settings: VisionSettings = DEFAULT_VISION_SETTINGS,
) -> bytes:
    """Return the report on a run of leaves as a PDF; the same date gives the same bytes.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        At least two leaves, in the order in which they are used.
    match : Match
        One of `REPORT_MATCHES`.
    customer, dealer : str
        Names; may be empty.
    finish : Finish or None
        The table is said of the wood with that finish; the pictures show it as photographed.
    on : date or None
        Today if None.
    settings : VisionSettings
        Limits of the words for light and dark.

    Raises
    ------
    CatalogError
        If fewer than two leaves are chosen, or the match is another.
    """
    if len(labels) < 2:
        raise CatalogError(
            f"{len(labels)} leaf was chosen; light and dark show between two. Choose two or more."
        )
    if match not in REPORT_MATCHES:
        known = ", ".join(REPORT_MATCHES)
        raise CatalogError(f"There is no report of a {match} match; choose one of {known}.")
    told = forecast_light(
        catalog, bundle_id, labels, match=match.value, finish=finish, settings=settings
    )
    previews = [
        preview_match(
            catalog,
            bundle_id,
            labels,
            match=match,
            lamp=lamp,
            long_px=PICTURE_PX,
            settings=settings,
        )
        for lamp in LAMP_TITLES
    ]
    bundle = catalog.bundle(bundle_id)
    flitch = catalog.flitch(bundle.flitch_id)
    about = [f"{flitch.name}, bundle {bundle.label}", _leaves_words(labels)]
    day = on or datetime.now().astimezone().date()
    about += [MATCH_WORDS[match.value], f"{day.day} {day:%B %Y}"]
    about += [f"for {customer.strip()}"] if customer.strip() else []
    paper = Paper(title=f"{flitch.name}, bundle {bundle.label}", author=dealer.strip(), on=day)
    y = paper.heading(TITLE, "; ".join(about) + ".")
    y = _pictures(paper, previews, y)
    y = _table(paper, told.by_room, y + 3)
    y = paper.text_block(THE_WORDS, MARGIN_MM, y, width=INNER_MM, size=7.5, colour=PALE)
    y = _block(paper, "What we would take", _advice(told), y + 4)
    _block(paper, "What is not known", _cautions(told, previews), y + 2, tinted=True)
    return bytes(paper.output())


def _leaves_words(labels: Sequence[str]) -> str:
    if len(labels) <= 8:
        return f"leaves {', '.join(labels)}"
    return f"{len(labels)} leaves, {labels[0]} to {labels[-1]}"


def _pictures(paper: Paper, previews: Sequence[MatchPreview], y: float) -> float:
    """Show the match under each lamp, beside or below each other, whichever is larger."""
    rows, columns = previews[0].rgb.shape[:2]
    beside = min((INNER_MM - GAP_MM) / 2 / columns, PICTURES_MM / rows)
    below = min(INNER_MM / columns, (PICTURES_MM - 8) / 2 / rows)
    scale = max(beside, below)
    width, height = columns * scale, rows * scale
    across = max(width, 80.0) + GAP_MM if beside >= below else 0.0
    for index, preview in enumerate(previews):
        x, top = MARGIN_MM + index * across, y + (0.0 if across else index * (height + 8))
        title = LAMP_TITLES[preview.lamp]
        if not preview.shows_light_and_dark:
            title = "As photographed; light and dark not shown"
        paper.words(title, x, top, size=9, bold=True, width=max(width, 80.0))
        paper.picture(preview.rgb, x, top + 5, width=width, words=preview.title)
    end = y + (height + 5 if across else 2 * (height + 8) - 3) + 4
    if previews[0].layout.unit == "mm":
        paper.scale_bar(
            MARGIN_MM, end, mm_per_mm=scale * previews[0].px_per_mm, width=max(width, 80.0)
        )
    return float(end + 3)


def _table(paper: Paper, by_room: Mapping[str, Sequence[PairAlternation]], y: float) -> float:
    if y + 6 + len(by_room) * ROW_MM > FOOT_MM - 6:
        y = paper.heading(TITLE)
    middle = MARGIN_MM + LIGHT_MM
    for words, x in (
        ("In the light of", MARGIN_MM),
        ("Worst pair shows", middle),
        ("All joints", middle + WORD_MM),
    ):
        paper.words(words, x, y, size=8, colour=PALE)
    paper.rule(y + 4.5)
    y += 6
    for room, pairs in by_room.items():
        _row(paper, room, pairs, y)
        y += ROW_MM
        paper.rule(y - 1.4)
    return y


def _row(paper: Paper, room: str, pairs: Sequence[PairAlternation], y: float) -> None:
    middle, last = MARGIN_MM + LIGHT_MM, MARGIN_MM + LIGHT_MM + WORD_MM
    words = ROOM_WORDS[room]
    paper.text_block(words[:1].upper() + words[1:], MARGIN_MM, y, width=LIGHT_MM - 4, size=8.5)
    worst = worst_pair(pairs)
    flag_boxes(paper, worst, middle, y + 0.6)
    if worst is None:
        paper.words("not measured", middle + 10, y, bold=True, width=WORD_MM - 12)
        return
    paper.words(flag_words(worst), middle + 10, y, bold=True, width=WORD_MM - 12)
    paper.words(f"{worst.left} | {worst.right}", middle + 10, y + 4, size=7.5, colour=PALE)
    width = INNER_MM - LIGHT_MM - WORD_MM
    known = [pair.delta_e00 for pair in pairs if pair.delta_e00 is not None]
    span = f"{min(known):.1f} to {max(known):.1f}" if len(known) > 1 else f"{known[0]:.1f}"
    sure = ""
    if worst.delta_e00_low is not None and worst.delta_e00_high is not None:
        sure = f"; worst {worst.delta_e00_low:.1f} to {worst.delta_e00_high:.1f}, 19 times in 20"
    paper.words(f"ΔE00 {span}{sure}", last, y, size=8.5, width=width)
    paper.words(step_sentence(worst), last, y + 4, size=7.5, colour=PALE, width=width)


def _advice(told: LightForecast) -> list[str]:
    said = [choice_words(told.matches), worst_room_words(told.by_room)]
    return [words for words in said if words]


def _cautions(told: LightForecast, previews: Sequence[MatchPreview]) -> list[str]:
    raw = RAW
    if told.finish:
        raw = (
            f"The table is said of the wood with {told.finish}, worked out from one finished "
            "offcut; the pictures show it as photographed."
        )
    notes = dict.fromkeys(note for preview in previews for note in preview.notes)
    missing = [f"Not measured: {words}" for words in told.missing]
    return [*missing, raw, FACES, NOT_PHOTOGRAPHED, DRAWN, *notes]


def _block(
    paper: Paper, title: str, paragraphs: Sequence[str], y: float, *, tinted: bool = False
) -> float:
    """Write a titled paragraph, on a new page if it does not fit; return where it ends."""
    inset, size = (3.5, 8.0) if tinted else (0.0, 8.5)
    width = INNER_MM - 2 * inset
    words = " ".join(paragraphs)
    height = paper.block_height(words, width=width, size=size) + 5 + 2 * inset
    if y + height > FOOT_MM - 4:
        y = paper.heading(TITLE)
    if tinted:
        paper.set_fill_color(*TINT)
        paper.rect(MARGIN_MM, y, INNER_MM, height, style="F")
    paper.words(title, MARGIN_MM + inset, y + inset, size=9.5, bold=True, width=width)
    return paper.text_block(words, MARGIN_MM + inset, y + inset + 5, width=width, size=size) + inset
