"""Photographs of one drawn station measured through the command line, held against truth."""

from __future__ import annotations

import csv
import secrets
from collections.abc import Iterable, Set
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from tests.accuracy.station_commands import measure, set_up
from tests.spectral.bands import Doubles, delta_e00, xyz_to_lab
from tests.spectral.darkroom import BODIES, Exposure, write_jpeg
from tests.spectral.lamps_and_sensors import XYZ_TO_SRGB, camera_matrix
from tests.spectral.raw_file import write_dng
from tests.spectral.station_scene import draw_leaf, draw_station
from tests.spectral.table_scene import Leaf
from tests.spectral.wood_spectra import RANGES

STEADY_LAMPS = ("LED-V2", "D50", "FL3.15", "PHOS-1", "LED-BH1")


@dataclass(frozen=True)
class StationPlan:
    """What to draw: one table, one camera, some leaves."""

    seed: int
    lamp: str
    body: int = 0
    megapixels: int = 24
    raw: bool = False
    woods: tuple[str, ...] = ("oak", "walnut")
    thickness_mm: float = 0.6
    length_mm: float = 2500.0


@dataclass(frozen=True)
class JudgedLeaf:
    """One photograph of one leaf: what was read, and the truth."""

    plan: StationPlan
    wood: str
    record: dict[str, Any]
    true_length_mm: float
    true_width_mm: float
    true_lab: tuple[float, float, float]
    true_slices: Doubles
    point_misses_mm: tuple[float, ...]
    """From points all round the true outline to the outline read."""

    @property
    def length_error_mm(self) -> float:
        """Read less true."""
        return float(self.record["size"]["length_mm"]) - self.true_length_mm

    @property
    def width_error_mm(self) -> float:
        """Read less true."""
        return float(self.record["size"]["width_mm"]) - self.true_width_mm

    @property
    def lab(self) -> Doubles:
        """The colour read, D50 and 2 degrees."""
        colour = self.record["colour"]
        return np.array([colour["lightness"], colour["a"], colour["b"]])

    @property
    def slices(self) -> Doubles | None:
        """The colour of twenty slices along the leaf as read; None where they are not told."""
        told = self.record.get("light", {}).get("slices")
        if not told:
            return None
        return xyz_to_lab(np.array(told) @ np.linalg.inv(XYZ_TO_SRGB).T)

    @property
    def colour_errors(self) -> Doubles:
        """CIEDE2000 of the slices, else of the whole leaf."""
        if self.slices is None:
            return np.atleast_1d(delta_e00(self.lab, np.array(self.true_lab)))
        return delta_e00(self.slices, self.true_slices)

    @property
    def neighbour_errors(self) -> Doubles:
        """CIEDE2000 by which differences of neighbouring slices are misread."""
        if self.slices is None:
            return np.zeros(0)
        read, true = np.diff(self.slices, axis=0), np.diff(self.true_slices, axis=0)
        return delta_e00(self.true_slices[:-1] + read, self.true_slices[:-1] + true)

    @property
    def unevenness(self) -> float | None:
        """L* from the slice read lightest to the one read darkest, against truth."""
        if self.slices is None:
            return None
        return float(np.ptp(self.slices[:, 0] - self.true_slices[:, 0]))


@dataclass(frozen=True)
class Judged:
    """A station's photographs; each leaf was photographed twice."""

    plan: StationPlan
    leaves: tuple[JudgedLeaf, ...]
    refused: tuple[str, ...]

    @property
    def shot_to_shot(self) -> list[float]:
        """CIEDE2000 between two photographs of one leaf."""
        by_wood: dict[str, list[JudgedLeaf]] = {}
        for leaf in self.leaves:
            by_wood.setdefault(leaf.record["file"].split("-")[0], []).append(leaf)
        return [
            float(delta_e00(one.lab, other.lab))
            for one, other in (pair for pair in by_wood.values() if len(pair) == 2)
        ]


def plans(*, fixed: bool, each: int = 1) -> list[StationPlan]:
    """Return stations: a large camera and a telephone in turn, lamps and woods by lot."""
    rng = np.random.default_rng(41 if fixed else secrets.randbelow(2**31))
    kinds = [(24, 0), (12, 1)] * each
    return [
        StationPlan(
            seed=int(rng.integers(2**31)),
            lamp=STEADY_LAMPS[int(rng.integers(len(STEADY_LAMPS)))],
            body=body,
            megapixels=megapixels,
            woods=tuple(str(one) for one in rng.choice(list(RANGES), 2, replace=False)),
        )
        for megapixels, body in kinds
    ]


def raw_plans(*, fixed: bool) -> list[StationPlan]:
    """Return stations that keep negatives: a large camera, a small one under each other lamp."""
    (first, _) = plans(fixed=fixed)
    woods = tuple(RANGES)[:4]  # so many are drawn for each
    small = under_other_lamps(replace(first, megapixels=6, woods=woods), {first.lamp})
    return [replace(one, raw=True) for one in (first, *small)]


def under_other_lamps(plan: StationPlan, known: Set[str]) -> list[StationPlan]:
    """Return stations with the same camera and as many woods, one under each lamp not known yet."""
    rng = np.random.default_rng(plan.seed)
    others = rng.permutation([lamp for lamp in STEADY_LAMPS if lamp not in known])
    return [
        replace(
            plan,
            seed=int(rng.integers(2**31)),
            lamp=str(lamp),
            woods=tuple(
                str(one) for one in rng.choice(list(RANGES), len(plan.woods), replace=False)
            ),
        )
        for lamp in others
    ]


def judge_all(wanted: Iterable[StationPlan], folder: Path) -> list[Judged]:
    """Return every plan judged, two at a time."""
    todo = list(wanted)
    folders = [folder / f"station-{index}" for index in range(len(todo))]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return list(pool.map(judge_station, todo, folders))


def judge_station(plan: StationPlan, folder: Path) -> Judged:
    """Draw a station and its photographs, run the commands on the files, and judge."""
    rng = np.random.default_rng(plan.seed)
    station = draw_station(
        rng, lamp_name=plan.lamp, body=BODIES[plan.body], megapixels=plan.megapixels
    )
    folder.mkdir(parents=True)
    catalog = f"sqlite:///{folder / 'catalog.db'}"
    ending = "dng" if plan.raw else "jpg"
    first = station.photo(station.table(), rng)
    write_photo(first, folder / f"set-up.{ending}")
    set_up(station, folder / f"set-up.{ending}", catalog=catalog)
    shots: dict[str, tuple[str, Leaf, Exposure]] = {}
    for index, wood in enumerate(plan.woods):
        leaf = draw_leaf(
            station, rng, wood=wood, length_mm=plan.length_mm, height_mm=plan.thickness_mm
        )
        for take in ("a", "b"):
            shot = station.photo(station.table(leaf), rng)
            name = f"{index}-{take}.{ending}"
            write_photo(shot, folder / name)
            shots[name] = (wood, leaf, shot)
    thick = plan.thickness_mm
    write_list(folder, {name: {"thickness_mm": thick} for name in shots})
    records = measure([folder / name for name in shots], catalog=catalog)
    return Judged(
        plan,
        tuple(
            judge_leaf(plan, record, *shots[record["file"]])
            for record in records
            if "size" in record
        ),
        tuple(f"{one['file']}: {one['refused']}" for one in records if "refused" in one),
    )


def judge_leaf(
    plan: StationPlan, record: dict[str, Any], wood: str, leaf: Leaf, shot: Exposure
) -> JudgedLeaf:
    """Hold one record against the leaf that was drawn."""
    lab = leaf.mean_lab()
    outline = outline_of(record)
    return JudgedLeaf(
        plan,
        wood,
        record,
        leaf.length_mm,
        leaf.width_mm,
        (float(lab[0]), float(lab[1]), float(lab[2])),
        leaf.slice_lab(),
        tuple(to_outline(point, outline) for point in round_leaf(leaf)),
    )


def outline_of(record: dict[str, Any]) -> Doubles:
    """Return the outline read, table mm, shape (n, 2)."""
    return np.array(record["outline_mm"], np.float64)


def round_leaf(leaf: Leaf, *, each: int = 12) -> Doubles:
    """Return the corners and points between them all round a leaf, table mm."""
    part = np.arange(each)[:, None] / each
    ends = zip(leaf.corners, np.roll(leaf.corners, -1, axis=0), strict=True)
    return np.vstack([start + part * (end - start) for start, end in ends])


def to_outline(point: Doubles, outline: Doubles) -> float:
    """Return how far a point lies from an outline, mm."""
    start, end = outline, np.roll(outline, -1, axis=0)
    along = end - start
    part = ((point - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12)
    near = start + np.clip(part, 0, 1)[:, None] * along
    return float(np.hypot(*(near - point).T).min())


def largest_step(outline: Doubles, leaf: Leaf, *, over_mm: float = 40.0) -> float:
    """Return the largest sideways step of a long edge, mm, where in truth there is none.

    Where two photographs are joined, a step there is the seam's.
    """
    share = np.arange(each := 400)[:, None] / each  # a straight edge is kept by its ends alone
    ends = zip(outline, np.roll(outline, -1, axis=0), strict=True)
    uv = leaf.from_table(np.vstack([start + share * (end - start) for start, end in ends]))
    rows = np.arange(60.0, leaf.length_mm - 60.0, 10.0)
    lag = round(over_mm / 10)
    steps = []
    for middle in (0.0, leaf.width_mm):
        keep = np.abs(uv[:, 0] - middle) < 5
        keep &= (uv[:, 1] > 5) & (uv[:, 1] < leaf.length_mm - 5)
        order = np.argsort(uv[keep, 1])
        edge = np.interp(rows, uv[keep][order, 1], uv[keep][order, 0])
        steps.append(np.abs(edge[lag:] - edge[:-lag]).max())
    return float(max(steps))


def write_photo(shot: Exposure, path: Path, *, taken: datetime | None = None) -> None:
    """Write a photograph as its name's ending says, dated now or as told."""
    said = (taken or datetime.now().astimezone()).strftime("%Y:%m:%d %H:%M:%S")
    if path.suffix == ".dng":
        matrix = np.linalg.inv(np.linalg.inv(XYZ_TO_SRGB) @ camera_matrix(shot.body.sensor))
        write_dng(shot, path, xyz_to_camera=matrix / shot.balance[:, None], taken=said)
    else:
        write_jpeg(shot, path, taken=said)


def write_list(folder: Path, shots: dict[str, dict[str, object]]) -> None:
    """Write a shot list: for each photograph what else the dealer typed."""
    columns = [
        "file",
        "leaf",
        *sorted({name for said in shots.values() for name in said} - {"leaf"}),
    ]
    with (folder / "shots.csv").open("w", newline="") as file:
        rows = csv.DictWriter(file, columns)
        rows.writeheader()
        for name, said in shots.items():
            rows.writerow({"file": name, "leaf": Path(name).stem, **said})
