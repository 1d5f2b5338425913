"""Panels from stock: the leaves of a flitch as a plan sees them, and which flitch does best."""

from __future__ import annotations

import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from catalog.catalog import Catalog
from catalog.errors import NotInCatalog
from catalog.leaf_views import plain_view
from catalog.records import Bundle, BundleId, Flitch, LeafCard
from catalog.store import fold
from vision.errors import PanelNotPossible
from vision.laying import lay_pixels
from vision.match_render import straight_edges
from vision.panel_job import (
    LEAST_PIECE_PLAIN_MM,
    Job,
    LeafState,
    MarkedPlace,
    PlanLeaf,
)
from vision.panel_plan import PanelPlan, plan_panels

ROWS_MOST = 1600
"""Masks are looked at no finer than this along the leaf: about a millimetre."""
LEAST_OPEN_MM2 = 4.0
"""Smaller openings are left to the margin."""
PLAIN_CUT_WORDS = ("plain", "flat", "crown")


@dataclass(frozen=True, slots=True)
class StockLeaf:
    """One leaf of stock with where its straightened left edge and top end lie in its picture."""

    card: LeafCard
    leaf: PlanLeaf
    left_mm: float
    """From the left edge of its kept picture, laid as it lies."""
    top_mm: float
    picture_mm: float
    """Length of wood that the whole height of the picture stands for."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of leaves beyond their photographs; by ``BUNDLE/LEAF``."""

    gone: Collection[str] = ()
    held: Collection[str] = ()
    marks: Mapping[str, tuple[MarkedPlace, ...]] = field(default_factory=dict)


NOTHING_KNOWN = Known()


@dataclass(frozen=True, slots=True)
class StockPlan:
    """A plan and the stock it is made from."""

    flitch: Flitch
    bundles: tuple[Bundle, ...]
    stock: tuple[StockLeaf, ...]
    """Parallel to ``plan.leaves``."""
    plan: PanelPlan


def leaf_name(bundle: str, label: str) -> str:
    """Return how a leaf is named across bundles.

    Examples
    --------
    >>> leaf_name("2", "07")
    '2/07'
    """
    return f"{bundle}/{label}"


def least_piece_for(cut: str, otherwise: float) -> float:
    """Return the least width of a piece that goes with the dealer's word for the cut.

    Examples
    --------
    >>> least_piece_for("Crown cut", 76.0), least_piece_for("quartered", 76.0)
    (152.0, 76.0)
    """
    return LEAST_PIECE_PLAIN_MM if any(w in fold(cut) for w in PLAIN_CUT_WORDS) else otherwise


def stock_leaves(
    catalog: Catalog, bundles: Sequence[Bundle], *, known: Known = NOTHING_KNOWN
) -> tuple[StockLeaf, ...]:
    """Return the leaves of some bundles of one flitch, in order, with their usable sizes.

    Width is that between the straightened edges. Open splits and holes that the photograph shows
    are marked to be avoided, beside what is ``known``.

    Raises
    ------
    PanelNotPossible
        If a leaf has no scale.
    NotInCatalog
        If something is known of a leaf that is not there.
    """
    found = tuple(
        _stock_leaf(catalog, bundle, card, known)
        for bundle in bundles
        for card in catalog.leaves(bundle.bundle_id)
    )
    names = {leaf_name(one.leaf.bundle, one.leaf.label) for one in found}
    unknown = sorted({*known.gone, *known.held, *known.marks} - names)
    if unknown:
        raise NotInCatalog(
            f"There is no leaf {', '.join(unknown)} here; there are {', '.join(sorted(names))}. "
            "Correct the name."
        )
    return found


def plan_from_stock(
    catalog: Catalog,
    job: Job,
    *,
    bundles: Sequence[BundleId] | None = None,
    known: Known = NOTHING_KNOWN,
    by_cut: bool = True,
    most: int = 3,
) -> tuple[tuple[StockPlan, ...], tuple[tuple[Flitch, str], ...]]:
    """Return the best ways to make a job from stock, and why other flitches would not do.

    Parameters
    ----------
    catalog : Catalog
    job : Job
    bundles : sequence of BundleId or None
        Bundles of one flitch, in order; None for every flitch of the catalogue, each with all of
        its bundles.
    known : Known
        Leaves gone or held, and places to avoid or to show.
    by_cut : bool
        Whether a plain sliced flitch asks for wider pieces; see `least_piece_for`.
    most : int
        How many plans to return.

    Returns
    -------
    tuple
        Plans, the best first, and (flitch, sentence) for each flitch that would not do.
    """
    plans: list[StockPlan] = []
    refused: list[tuple[Flitch, str]] = []
    for flitch, taken in _sources(catalog, bundles):
        try:
            stock = stock_leaves(catalog, taken, known=known)
            least = job.allowances.least_piece_mm
            least = least_piece_for(flitch.cut, least) if by_cut else least
            asked = replace(job, allowances=replace(job.allowances, least_piece_mm=least))
            made = plan_panels(asked, [one.leaf for one in stock], most=most)
        except PanelNotPossible as error:
            refused.append((flitch, str(error)))
            continue
        plans += [StockPlan(flitch, taken, stock, plan) for plan in made]
    plans.sort(key=lambda one: (one.plan.spares_lacking, one.plan.cost))
    return tuple(plans[:most]), tuple(refused)


def _sources(
    catalog: Catalog, bundles: Sequence[BundleId] | None
) -> list[tuple[Flitch, tuple[Bundle, ...]]]:
    if bundles is None:
        every = [card.flitch for card in catalog.find_flitches() if card.leaf_count]
        return [(flitch, catalog.bundles(flitch.flitch_id)) for flitch in every]
    chosen = tuple(catalog.bundle(number) for number in bundles)
    if len({bundle.flitch_id for bundle in chosen}) != 1:
        raise NotInCatalog(
            f"{len(chosen)} bundles of more than one flitch were named; a plan keeps to one. "
            "Name bundles of the same flitch."
        )
    return [(catalog.flitch(chosen[0].flitch_id), chosen)]


def _stock_leaf(catalog: Catalog, bundle: Bundle, card: LeafCard, known: Known) -> StockLeaf:
    if card.size.length_mm is None:
        raise PanelNotPossible(
            f"Leaf {card.label} of bundle {bundle.label} has no scale; a plan needs millimetres. "
            "Photograph it between rails, or type its length and width into the shot list."
        )
    mask = _mask(catalog.pictures.read(card.pictures.mask))
    mask = np.ascontiguousarray(lay_pixels(mask, plain_view(card).moved))
    held = np.flatnonzero(mask.any(axis=1))
    px_per_mm = (int(held[-1] - held[0]) + 1 if held.size else len(mask)) / card.size.length_mm
    trim = straight_edges(mask, px_per_mm=px_per_mm)
    inside = mask[trim.top : trim.bottom, trim.left : trim.right]
    name = leaf_name(bundle.label, card.label)
    state = LeafState.FREE
    if name in known.gone or name in known.held:
        state = LeafState.GONE if name in known.gone else LeafState.HELD
    leaf = PlanLeaf(
        label=card.label,
        bundle=bundle.label,
        length_mm=(trim.bottom - trim.top) / px_per_mm,
        width_mm=(trim.right - trim.left) / px_per_mm,
        marks=(*openings_in(inside, px_per_mm), *known.marks.get(name, ())),
        state=state,
    )
    corner = (trim.left / px_per_mm, trim.top / px_per_mm)
    return StockLeaf(card, leaf, *corner, picture_mm=len(mask) / px_per_mm)


def openings_in(on_leaf: NDArray[np.bool_], px_per_mm: float) -> tuple[MarkedPlace, ...]:
    """Return what is open between the straightened edges of a leaf, as places to avoid.

    One that reaches an end or an edge is a split, one with wood all round a hole.

    Examples
    --------
    >>> leaf = np.ones((400, 100), bool)
    >>> leaf[0:80, 40:44] = False
    >>> openings_in(leaf, 1.0)[0].kind, openings_in(leaf, 1.0)[0].bottom_mm
    ('split', 80.0)
    """
    rows, columns = on_leaf.shape
    count, _, stats, _ = cv2.connectedComponentsWithStats((~on_leaf).astype(np.uint8))
    found = []
    for x, y, wide, high, area in stats[1:count].tolist():
        if area / px_per_mm**2 < LEAST_OPEN_MM2:
            continue
        at_rim = x == 0 or y == 0 or x + wide == columns or y + high == rows
        ends = (x / px_per_mm, y / px_per_mm, (x + wide) / px_per_mm, (y + high) / px_per_mm)
        found.append(MarkedPlace("split" if at_rim else "hole", *ends))
    return tuple(found)


def _mask(file: bytes) -> NDArray[np.bool_]:
    with Image.open(io.BytesIO(file)) as picture:
        grey = picture.convert("L")
        if grey.height > ROWS_MOST:
            share = ROWS_MOST / grey.height
            size = (max(1, round(grey.width * share)), ROWS_MOST)
            grey = grey.resize(size, Image.Resampling.BOX)
        return np.asarray(grey) > 127
