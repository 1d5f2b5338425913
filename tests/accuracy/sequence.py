"""Print how well stacks are put in order: ``python -m tests.accuracy.sequence``.

Leaves are drawn flat (``--photos`` draws photograph files instead and reads them), then spoilt:
trimmed, lit unevenly, blurred, compressed, laid askew. Scores: Kendall's tau and the share of
joints between true neighbours, forgiven (leaves that show the same cut count as one) and raw.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.stats import kendalltau

from sample_images import Delivered, FlitchPlan, draw_flat, draw_stack, shuffle_stack
from ui.commands.order import see_stack
from vision.laying import compose
from vision.leaf_descriptor import describe_leaf
from vision.leaf_image import LeafImage
from vision.order_leaves import order_leaves
from vision.shot import Laid
from vision.stack_order import StackLeaf, StackOrder

WOODS = (
    ("none", "walnut", "plain"),
    ("none", "oak", "plain"),
    ("none", "cherry", "rift"),
    ("none", "maple", "plain"),
    ("none", "mahogany", "quarter"),
    ("flake", "oak", "quarter"),
    ("fiddleback", "maple", "quarter"),
    ("fiddleback", "walnut", "plain"),
    ("crotch", "walnut", "plain"),
    ("crotch", "mahogany", "plain"),
)
PX_PER_MM = 0.6
SURE = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0001)


@dataclass(frozen=True, slots=True)
class Faults:
    """How carelessly leaves are photographed: standard deviations."""

    trimmed: float
    """Share of the length cut off each end."""
    narrowed: float
    exposure: float
    uneven: float
    blur_px: float
    noise: float
    askew_deg: float
    quality: int


QUALITIES = {
    "good": Faults(0.005, 0.004, 0.03, 0.02, 0.5, 0.01, 0.05, 90),
    "poor": Faults(0.03, 0.04, 0.12, 0.08, 1.2, 0.03, 0.15, 75),
}


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One stack: what is right, joint by joint and leaf by leaf."""

    kind: str
    tau: float
    raw_tau: float
    joints: NDArray[np.bool_]
    raw_joints: NDArray[np.bool_]
    laid: NDArray[np.bool_]
    moved: NDArray[np.bool_]
    """Leaves that do not lie as the most; parallel to ``laid``."""
    sure: NDArray[np.float64]
    gaps: NDArray[np.float64]
    missing: NDArray[np.bool_]
    seconds: float

    @property
    def placed(self) -> NDArray[np.bool_]:
        """Which leaves have only true neighbours."""
        return np.append(True, self.joints) & np.append(self.joints, True)


def spoil(leaf: LeafImage, faults: Faults, rng: np.random.Generator) -> LeafImage:
    """Return a leaf as a careless photograph shows it; independent of `sample_images`."""
    wood, rows_columns = leaf.on_leaf.copy(), leaf.on_leaf.shape
    for axis, share in ((0, faults.trimmed), (1, faults.narrowed)):
        held = np.flatnonzero(wood.any(axis=1 - axis))
        cut = np.abs(rng.normal(0, share, 2)).clip(0, 2 * share) * len(held)
        side = np.moveaxis(wood, axis, 0)
        side[: held[0] + int(cut[0])] = False
        side[held[-1] + 1 - int(cut[1]) :] = False
    y = np.linspace(-1, 1, rows_columns[0])[:, None]
    x = np.linspace(-1, 1, rows_columns[1])[None, :]
    lamp = rng.normal(0, faults.exposure) + faults.uneven * (
        rng.normal() * y
        + 0.5 * rng.normal() * x
        + 0.6 * np.cos(3.5 * y + rng.normal()) * rng.normal()
    )
    cast = np.exp(rng.normal(0, faults.exposure / 4, 3))
    light = leaf.light * (np.exp(lamp)[..., None] * cast).astype(np.float32)
    light = cv2.GaussianBlur(light, (0, 0), faults.blur_px)
    light = light * (1 + rng.normal(0, faults.noise, light.shape)).astype(np.float32)
    middle = (rows_columns[1] / 2, rows_columns[0] / 2)
    turn = cv2.getRotationMatrix2D(middle, rng.normal(0, faults.askew_deg), 1.0)
    size = rows_columns[::-1]
    light = cv2.warpAffine(light, turn, size, borderMode=cv2.BORDER_REPLICATE)
    wood = cv2.warpAffine(wood.astype(np.uint8), turn, size) > 0
    coded = np.clip(255 * np.clip(light, 0, 1) ** (1 / 2.2), 0, 255).astype(np.uint8)
    _, file = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, faults.quality])
    light = (cv2.imdecode(file, cv2.IMREAD_COLOR).astype(np.float32) / 255) ** 2.2
    return LeafImage(light, wood, leaf.px_per_mm)


def draw_leaves(plan: FlitchPlan, stack: Sequence[Delivered], faults: Faults) -> list[StackLeaf]:
    """Return the leaves of a delivered stack, named by their place in it."""
    rng = np.random.default_rng(plan.seed)
    leaves: dict[int, StackLeaf] = {}
    for place in sorted(range(len(stack)), key=lambda at: stack[at].leaf):
        one = stack[place]
        flat = draw_flat(plan, one.leaf, laid=one.laid, lamp="A", px_per_mm=PX_PER_MM)
        seen = spoil(LeafImage(flat.light.copy(), flat.on_leaf.copy(), PX_PER_MM), faults, rng)
        leaves[place] = StackLeaf(str(place), describe_leaf(seen))
    return [leaves[place] for place in range(len(stack))]


def photograph_leaves(plan: FlitchPlan, stack: Sequence[Delivered]) -> list[StackLeaf]:
    """Return the same through photograph files and the ordinary pipeline."""
    with tempfile.TemporaryDirectory() as folder:
        for _ in draw_stack(plan, stack, Path(folder)):
            pass
        seen = see_stack(Path(folder), None)
    return [StackLeaf(str(int(leaf.name) - 1), leaf.front, leaf.back) for leaf in seen.leaves]


def judge(kind: str, leaves: Sequence[StackLeaf], stack: Sequence[Delivered]) -> Judged:
    """Return what is right of the order found."""
    start = time.process_time()
    order = order_leaves(leaves)
    seconds = time.process_time() - start
    return score(kind, order, stack, seconds=seconds)


def score(
    kind: str, order: StackOrder, stack: Sequence[Delivered], *, seconds: float = 0.0
) -> Judged:
    """Return what is right of an order."""
    true = [stack[int(leaf.name)] for leaf in order.leaves]
    number = np.array([one.leaf for one in true])
    cut = number - np.array([one.laid in ("face-over", "end-over") for one in true])
    ranks = [np.unique(values, return_inverse=True)[1] for values in (cut, number)]
    taus = [abs(kendalltau(np.arange(len(rank)), rank).statistic) for rank in ranks]
    steps = [np.abs(np.diff(rank)) <= 1 for rank in ranks]
    found = [leaf.laid for leaf in order.leaves]
    truth = [Laid(one.laid) for one in true]
    ways = [
        np.array([compose(one, way) == other for one, other in zip(found, truth, strict=True)])
        for way in (Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER, Laid.END_OVER)
    ]
    return Judged(
        kind=kind,
        tau=float(taus[0]),
        raw_tau=float(taus[1]),
        joints=steps[0],
        raw_joints=steps[1],
        laid=max(ways, key=lambda right: int(right.sum())),
        moved=np.array([one is not Laid.AS_LIES for one in truth]),
        sure=np.array([leaf.confidence for leaf in order.leaves]),
        gaps=np.array([gap.likelihood for gap in order.gaps]),
        missing=(np.abs(np.diff(number)) > 1) & steps[0],
        seconds=seconds,
    )


def judge_all(
    first_seed: int, *, leaves: int, quality: str, coherence: float, flitches: int, photos: bool
) -> Iterator[Judged]:
    """Yield stacks of all woods in turn; coherence 2 slices the same log half as thick."""
    for index in range(flitches):
        figure, species, cut = WOODS[index % len(WOODS)]
        plan = FlitchPlan(
            seed=first_seed + index,
            species=species,
            cut=cut,
            figure=figure,
            leaves=leaves,
            shots=(),
            thickness_mm=0.6 / coherence,
            photo_px=(1600, 2400) if photos else (4000, 6000),
        )
        stack = shuffle_stack(plan, missing=max(1, leaves // 12))
        seen = (
            photograph_leaves(plan, stack)
            if photos
            else draw_leaves(plan, stack, QUALITIES[quality])
        )
        yield judge(f"{figure} {species} {cut}", seen, stack)


def area_under_curve(judged: Sequence[Judged]) -> tuple[float, int]:
    """Return how well likelihoods tell true gaps from other joints, and how many gaps there are."""
    chance = np.concatenate([one.gaps for one in judged])
    truth = np.concatenate([one.missing for one in judged])
    wide, narrow = chance[truth], chance[~truth]
    if not len(wide) or not len(narrow):
        return float("nan"), len(wide)
    ahead = (wide[:, None] > narrow[None, :]) + 0.5 * (wide[:, None] == narrow[None, :])
    return float(ahead.mean()), len(wide)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--leaves", type=int, default=48)
    parser.add_argument("--flitches", type=int, default=len(WOODS))
    parser.add_argument("--quality", choices=list(QUALITIES), default="good")
    parser.add_argument("--coherence", type=float, default=1.0)
    parser.add_argument("--photos", action="store_true", help="through photograph files")
    parser.add_argument("--seed", type=int, help="first seed; fresh ones without it")
    chosen = parser.parse_args()
    first = chosen.seed
    if first is None:
        first = int(np.random.default_rng().integers(10_000, 2**30))
    print(f"seeds from {first}; {chosen.leaves} leaves, {chosen.quality}, x{chosen.coherence}")
    judged = []
    for one in judge_all(
        first,
        leaves=chosen.leaves,
        quality=chosen.quality,
        coherence=chosen.coherence,
        flitches=chosen.flitches,
        photos=chosen.photos,
    ):
        judged.append(one)
        print(
            f"{one.kind:26} tau {one.tau:.3f}, neighbours {one.joints.mean():4.0%}; raw "
            f"{one.raw_tau:.3f}, {one.raw_joints.mean():4.0%}; laid wrong {(~one.laid).sum()} of "
            f"{len(one.laid)}; {one.seconds:.1f} s",
            flush=True,
        )
    print_together(judged)


def print_together(judged: Sequence[Judged]) -> None:
    for figure in dict.fromkeys(one.kind.split()[0] for one in judged):
        taus = [one.tau for one in judged if one.kind.startswith(figure)]
        joints = np.concatenate([one.joints for one in judged if one.kind.startswith(figure)])
        print(
            f"{figure}: {len(taus)} flitches, tau median {np.median(taus):.3f}, worst "
            f"{min(taus):.3f}, neighbours {joints.mean():.1%}"
        )
    laid = np.concatenate([one.laid for one in judged])
    moved = np.concatenate([one.moved for one in judged])
    print(f"laid right {laid.mean():.1%}; false on unmoved leaves {(~laid[~moved]).mean():.1%}")
    curve, count = area_under_curve(judged)
    print(f"missing leaves: area under curve {curve:.2f} over {count} gaps")
    sure = np.concatenate([one.sure for one in judged])
    right = np.concatenate([one.placed & one.laid for one in judged])
    for low, high in pairwise(SURE):
        held = (sure >= low) & (sure < high)
        if held.any():
            told = f"told {low:.2f} to {min(high, 1):.2f}"
            print(f"  {told}: {held.sum():4}, right {right[held].mean():.1%}")


if __name__ == "__main__":
    main()
