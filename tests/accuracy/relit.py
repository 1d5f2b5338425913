"""Print how near the relit preview comes to a photograph taken under that lamp.

``python -m tests.accuracy.relit [--seeds N] [--mismatch]``: leaves of several woods and figures, on
fresh seeds, are photographed under lamps A and B, taken into a catalogue and lit anew at five
places between; the generator then photographs them under a lamp at those very places. With
``--mismatch`` the generator's highlight has another shape, film and sheen than the model's.
"""

from __future__ import annotations

import argparse
import secrets
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog, open_catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.match_preview import preview_match
from catalog.records import BundleId
from catalog.relit_match import RelitMatch, relit_match
from sample_images import FlitchPlan, Scene, draw_flitch, draw_photo
from sample_images.lamps import lamp_at, lamps_of
from vision.colour_space import delta_e00, linear_to_lab, srgb_to_linear
from vision.leaf_image import LeafImage
from vision.match_layout import Match
from vision.match_render import straight_edges
from vision.pipeline import read_shot
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Laid, Lamp, Shot

KINDS = (
    ("walnut", "plain", "none"),
    ("maple", "quarter", "fiddleback"),
    ("mahogany", "quarter", "ribbon"),
    ("oak", "quarter", "none"),
    ("cherry", "rift", "none"),
    ("maple", "plain", "none"),
    ("walnut", "quarter", "fiddleback"),
)
BETWEEN = (-2 / 3, -1 / 3, 0.0, 1 / 3, 2 / 3)
"""Lamp places from B (-1) to A (+1), as shares of the way from the middle."""
RIM_PX = (20, 4)
"""Left out at ends and edges: there two cut-outs differ."""
MISMATCH = (
    {"lobe_shape": "lorentz", "film_index": 1.35, "sheen": 0.05},
    {"lobe_shape": "flat-top", "film_index": 1.6, "sheen": 0.03},
)


@dataclass(frozen=True)
class Compared:
    """One leaf lit anew at one lamp place, beside its photograph there."""

    name: str
    share: float
    pixels: float
    """Mean CIEDE2000 over the picture, pixel by pixel of about 2 mm."""
    slices: float
    """The same of twentieths of the length."""
    unmoved: float
    """Mean CIEDE2000 of the plain mean of the two photographs, for what relighting gains."""
    sd: float
    """As told: one standard deviation of lightness, L*."""
    off: float
    """Root mean square of the slices' true miss in L*."""


def plan_of(kind: tuple[str, str, str], seed: int, **more: object) -> FlitchPlan:
    species, cut, figure = kind
    plan = FlitchPlan(
        seed=seed,
        species=species,
        cut=cut,
        figure=figure,
        leaves=1,
        photo_px=(1200, 1800),
        sapwood=False,
        waney=False,
        end_damage=0.0,
    )
    return replace(plan, **more)  # type: ignore[arg-type]


def compare(plan: FlitchPlan, folder: Path) -> Iterator[Compared]:
    """Yield the leaf of a plan at each lamp place of `BETWEEN`."""
    for _ in draw_flitch(plan, folder):
        pass
    with open_catalog(folder / "stock.db") as catalog:
        flitch = catalog.add_flitch(name="Drawn", species=plan.species, cut=plan.cut)
        bundle = catalog.add_bundle(flitch, label="1")
        taking = plan_intake(folder, bundle, catalog=catalog)
        for _ in take_in(taking, catalog=catalog, settings=DEFAULT_VISION_SETTINGS):
            pass
        finish_bundle(bundle, catalog=catalog, settings=DEFAULT_VISION_SETTINGS)
        match = _lamp_free(catalog, bundle)
        light = next(one for one in catalog.bundles(flitch)).light
    lamp_a, lamp_b = match.marks
    name = f"{plan.species} {plan.figure} {plan.seed}"
    plain = np.mean([srgb_to_linear(one) for one in match.places[0].leaf.pictures], axis=0)
    for share in BETWEEN:
        word = lamp_at(0.0, share * lamps_of(plan, "A")[0].position_mm[1], _height(plan))
        file = folder / f"again{share:+.2f}.jpg"
        draw_photo(plan, Scene(leaf=1, lamp=word), file)
        shot = Shot(
            file.name,
            "01",
            Laid.AS_LIES,
            Lamp.UNKNOWN,
            length_mm=plan.length_mm,
            width_mm=plan.width_mm,
        )
        read = read_shot(file, shot, settings=DEFAULT_VISION_SETTINGS, light=light)
        part = (share + 1) / 2
        along = part * lamp_a.along + (1 - part) * lamp_b.along
        height = part * lamp_a.height + (1 - part) * lamp_b.height
        shown = srgb_to_linear(match.lit(along, height))
        yield _held_against(name, share, shown, plain, read.leaves[0], _sd(match, along, height))


def _height(plan: FlitchPlan) -> float:
    return lamps_of(plan, "A")[0].position_mm[2]


def _lamp_free(catalog: Catalog, bundle: BundleId) -> RelitMatch:
    preview = preview_match(catalog, bundle, ("01",), match=Match.SLIP, lamp=Lamp.A)
    return relit_match(catalog, bundle, preview.layout)


def _sd(match: RelitMatch, along: float, height: float) -> float:
    grid = match.grid
    row = int(np.abs(grid.height - height).argmin())
    return float(np.interp(along, grid.along, grid.sd[row]))


def _held_against(
    name: str,
    share: float,
    shown: NDArray[np.float32],
    plain: NDArray[np.float32],
    leaf: LeafImage,
    sd: float,
) -> Compared:
    again = _on_the_same_grid(leaf, shown)
    inner = np.s_[RIM_PX[0] : -RIM_PX[0], RIM_PX[1] : -RIM_PX[1]]
    labs = [linear_to_lab(one[inner]) for one in (shown, again, plain)]
    slices = [
        linear_to_lab(np.array([piece.mean(axis=(0, 1)) for piece in np.array_split(one, 20)]))
        for one in (shown, again)
    ]
    return Compared(
        name=name,
        share=share,
        pixels=float(delta_e00(labs[0], labs[1]).mean()),
        slices=float(delta_e00(slices[0], slices[1]).mean()),
        unmoved=float(delta_e00(labs[2], labs[1]).mean()),
        sd=sd,
        off=float(np.sqrt(np.mean((slices[0][:, 0] - slices[1][:, 0]) ** 2))),
    )


def _on_the_same_grid(leaf: LeafImage, shown: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the photograph trimmed, made smaller and laid over the picture shown."""
    trim = straight_edges(leaf.on_leaf, px_per_mm=leaf.px_per_mm)
    part = leaf.light[trim.top : trim.bottom, trim.left : trim.right]
    rows, columns = shown.shape[:2]
    again = cv2.resize(part, (columns, rows), interpolation=cv2.INTER_AREA)
    fine = []
    for one in (shown, again):
        log = np.log(np.maximum(one.mean(axis=2), 1e-4)).astype(np.float32)
        fine.append(log - cv2.GaussianBlur(log, (0, 0), 3))
    (across, down), _ = cv2.phaseCorrelate(*fine, cv2.createHanningWindow((columns, rows), 5))
    across = across if abs(across) <= 2.5 else 0.0
    down = down if abs(down) <= 1.2 else 0.0  # more is fiddleback, mistaken for a shift
    back = np.array([[1, 0, -across], [0, 1, -down]], np.float32)
    return cv2.warpAffine(again, back, (columns, rows), borderMode=cv2.BORDER_REPLICATE)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=1, help="seeds for each wood and figure")
    parser.add_argument("--mismatch", action="store_true", help="another highlight than modelled")
    asked = parser.parse_args()
    every: list[Compared] = []
    print("wood figure seed: mean ΔE00 at the five places, mean; slices; plain mean of the two; sd")
    for kind in KINDS:
        for _ in range(asked.seeds):
            for more in MISMATCH if asked.mismatch else ({},):
                with tempfile.TemporaryDirectory() as folder:
                    plan = plan_of(kind, secrets.randbelow(2**31), **more)
                    found = list(compare(plan, Path(folder)))
                every += found
                print(_line(found), more.get("lobe_shape", ""), flush=True)
    pixels = [one.pixels for one in every]
    within = np.mean([one.off <= 2 * one.sd for one in every])
    print(
        f"all: mean {np.mean(pixels):.2f}, {np.mean(np.array(pixels) <= 1.5):.0%} of places within "
        f"1.5; slices {np.mean([one.slices for one in every]):.2f}; lightness within two standard "
        f"deviations as told {within:.0%}"
    )


def _line(found: list[Compared]) -> str:
    each = " ".join(f"{one.pixels:.2f}" for one in found)
    return (
        f"{found[0].name}: {each}, mean {np.mean([one.pixels for one in found]):.2f}; slices "
        f"{np.mean([one.slices for one in found]):.2f}; plain "
        f"{np.mean([one.unmoved for one in found]):.2f}; sd told "
        f"{np.mean([one.sd for one in found]):.2f}, off {np.mean([one.off for one in found]):.2f}"
    )


if __name__ == "__main__":
    main()
