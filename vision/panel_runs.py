"""Which runs of a flitch make the panels of a job at the least cost: exact, by dynamic programming.

A plan takes one run a panel, in flitch order. Its `Cost` adds up over the runs and the gaps
between them, so the best way to go on depends only on where one stands: which panel is next, which
leaf is next, and for a running face what is left of the last leaf.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from operator import add
from typing import NamedTuple

from vision.panel_faces import columns_of, rows_of, slots_of
from vision.panel_job import Face, Job, LeafState, Panel, PlanLeaf
from vision.panel_running import Laying, Left, RunningPiece, lay_running
from vision.panel_window import HAIR_MM, Cut, Strips, Wood, find_cut, heights_to_try, wood_of


class Cost(NamedTuple):
    """What a plan costs, weightiest first; the smaller of two is the better plan."""

    breaks: int
    """Places where one panel's leaves do not follow on the last one's."""
    leaves: int
    """Leaves used, and leaves left over in runs too short to sell, more than before."""
    used: int
    """Leaves used, spares among them."""
    skipped: int
    """Leaves between one panel's and the next one's."""
    bundles: int
    """Bundles that are opened."""
    pieces_left: int
    """Runs that stay free, more than before: a run taken from the middle leaves two."""
    area_mm2: float
    """Of the leaves used, whole."""

    def plus(self, other: Cost) -> Cost:
        """Return both together."""
        return Cost(*map(add, self, other))


NOTHING = Cost(0, 0, 0, 0, 0, 0, 0.0)


@dataclass(frozen=True, slots=True)
class Run:
    """The leaves of one panel: ``first`` to before ``end`` in the flitch, spares outside them."""

    panel: int
    first: int
    end: int
    spares_before: int
    spares_after: int
    cut: Cut | None
    """Of all its leaves; None for a running face."""
    running: tuple[RunningPiece, ...] = ()
    """Pieces of a running face, left to right."""
    left: Left | None = None
    """What a running face leaves of its last leaf."""


class Way(NamedTuple):
    """The rest of a plan: its cost, and the runs still to come."""

    cost: Cost
    runs: tuple[Run, ...]


Ways = dict[int, Way]
"""Leaves laid from here on, spares apart -> the best way to do it."""


def spares_for(leaves: int, leaves_per_spare: float) -> int:
    """Return how many spare leaves go with so many laid.

    Examples
    --------
    >>> spares_for(7, 9), spares_for(10, 9), spares_for(10, 0)
    (1, 2, 0)
    """
    return math.ceil(leaves / leaves_per_spare) if leaves_per_spare > 0 else 0


@dataclass(slots=True)
class Search:
    """All the runs of one flitch that would do for a job; ask it for `best_from_each_start`."""

    job: Job
    leaves: Sequence[PlanLeaf]
    _woods: list[Wood] = field(init=False)
    _strips: Strips = field(init=False)
    _free_to: list[int] = field(init=False)
    """For each leaf, up to which leaf all are free."""
    _at: dict[tuple[object, ...], Ways] = field(default_factory=dict)
    _from: dict[tuple[object, ...], Ways] = field(default_factory=dict)
    _cuts: dict[tuple[object, ...], Cut | None] = field(default_factory=dict)
    _laid: dict[tuple[object, ...], Laying | None] = field(default_factory=dict)
    _left: dict[tuple[int, int], Cost] = field(default_factory=dict)

    def __post_init__(self) -> None:
        allowances, register = self.job.allowances, self.job.register
        self._woods = [wood_of(leaf, allowances, register) for leaf in self.leaves]
        self._strips = Strips(self._woods, allowances.overhang_end_mm)
        self._free_to = [len(self.leaves)] * (len(self.leaves) + 1)
        for i in range(len(self.leaves) - 1, -1, -1):
            free = self.leaves[i].state is LeafState.FREE
            self._free_to[i] = self._free_to[i + 1] if free else i

    def best_from_each_start(self) -> list[Way]:
        """Return the best plan for every leaf at which one can begin, the best of all first."""
        best: dict[int, Way] = {}
        for spares in self._ways_to_spare():
            for start in range(len(self.leaves)):
                way = self._whole(start, spares)
                if way is not None and (start not in best or way.cost < best[start].cost):
                    best[start] = way
        order = sorted(best, key=lambda start: (best[start].cost, start))
        return [best[start] for start in order]

    def orphans(self, start: int, end: int) -> int:
        """Return how many free leaves between two places are in runs too short to sell."""
        return self._left_between(start, end).leaves

    def free_runs(self, start: int, end: int) -> list[tuple[int, int]]:
        """Return (first leaf, number) of each run of free leaves of one bundle."""
        runs: list[tuple[int, int]] = []
        for i in range(start, end):
            leaf = self.leaves[i]
            if leaf.state is not LeafState.FREE:
                continue
            if runs and sum(runs[-1]) == i and self.leaves[i - 1].bundle == leaf.bundle:
                runs[-1] = (runs[-1][0], runs[-1][1] + 1)
            else:
                runs.append((i, 1))
        return runs

    def _ways_to_spare(self) -> list[tuple[int, int]]:
        """Return how many spares may lie before the first panel and behind the last.

        Whatever works with spares works without: plans without them tell how many leaves are laid.
        """
        per_spare = self.job.allowances.leaves_per_spare
        starts = range(len(self.leaves))
        laid = {count for start in starts for count in self._ways_at(0, start, None, (0, 0))}
        sums = sorted({spares_for(count, per_spare) for count in laid})
        return [(before, total - before) for total in sums for before in range(total + 1)]

    def _whole(self, start: int, spares: tuple[int, int]) -> Way | None:
        """Return the best plan whose first leaf, a spare or not, is ``start``."""
        if self._must_show(0, start):
            return None
        per_spare = self.job.allowances.leaves_per_spare
        total = len(self.leaves)
        before, whole = self._left_between(0, start), self._left_between(0, total)
        lead = before._replace(
            leaves=before.leaves - whole.leaves, pieces_left=before.pieces_left - whole.pieces_left
        )
        ways = self._ways_at(0, start, None, spares)
        fitting = [
            Way(way.cost.plus(lead), way.runs)
            for laid, way in ways.items()
            if spares_for(laid, per_spare) == sum(spares)
        ]
        return min(fitting, key=lambda way: way.cost, default=None)

    def _ways_at(
        self, panel: int, start: int, carried: Left | None, spares: tuple[int, int]
    ) -> Ways:
        """Return the best ways to make the panels from ``panel`` on, beginning at ``start``."""
        is_last = panel == len(self.job.panels) - 1
        before, after = spares[0] if panel == 0 else 0, spares[1] if is_last else 0
        key = (panel, start, carried, before, spares[1])
        if key not in self._at:
            ways: Ways = {}
            for run in self._runs(panel, start + before, carried, (before, after)):
                own = self._cost_of(start, run.end + after)
                rest = self._ways_from(panel + 1, run.end + after, run.left, spares)
                for laid, way in rest.items():
                    total = Way(own.plus(way.cost), (run, *way.runs))
                    _keep_best(ways, laid + run.end - run.first, total)
            self._at[key] = ways
        return self._at[key]

    def _ways_from(
        self, panel: int, place: int, carried: Left | None, spares: tuple[int, int]
    ) -> Ways:
        """Return the best ways to make the panels from ``panel`` on, ``place`` being free."""
        total = len(self.leaves)
        if panel == len(self.job.panels):
            if self._must_show(place, total):
                return {}
            return {0: Way(self._left_between(place, total), ())}
        ways: Ways = {}
        if carried is not None:
            for laid, way in self._ways_at(panel, place, carried, spares).items():
                own = way.runs[0]
                is_same = own.end + own.spares_after > place and self._is_one_bundle(place)
                _keep_best(ways, laid, Way(_less_bundle(way.cost, is_same), way.runs))
            for laid, way in self._ways_from(panel, place, None, spares).items():
                _keep_best(ways, laid, way)
            return ways
        key = (panel, place, spares[1])
        if key not in self._from:
            for start in range(place, total + 1):
                if self._must_show(place, start):
                    break
                gap = self._left_between(place, start)._replace(
                    breaks=int(start > place), skipped=start - place
                )
                is_same = start < total and self.leaves[place - 1].bundle == (
                    self.leaves[start].bundle
                )
                for laid, way in self._ways_at(panel, start, None, spares).items():
                    cost = _less_bundle(gap.plus(way.cost), is_same)
                    _keep_best(ways, laid, Way(cost, way.runs))
            self._from[key] = ways
        return self._from[key]

    def levelled(self, runs: Sequence[Run]) -> tuple[Run, ...]:
        """Return the runs with panels of one length cut at one height along, where that can be.

        Lines across the figure then go on from panel to panel.
        """
        level = list(runs)
        allowances = self.job.allowances
        first_top = allowances.end_trim_mm + allowances.overhang_end_mm
        for length in {self._length_of(run) for run in runs}:
            alike = [i for i, run in enumerate(runs) if self._length_of(run) == length]
            own = {run.cut.top for run in (runs[i] for i in alike) if run.cut is not None}
            if self.job.face is Face.RUNNING or len(own) < 2:
                continue
            woods = [wood for i in alike for wood in self._woods[runs[i].first : runs[i].end]]
            tops = own | {first_top} | {box.bottom for wood in woods for box in wood.avoid}
            for top in sorted(tops):
                cuts = [self._cut_of(runs[i], top) for i in alike]
                if all(cut is not None for cut in cuts):
                    for i, cut in zip(alike, cuts, strict=True):
                        level[i] = replace(runs[i], cut=cut)
                    break
        return tuple(level)

    def _length_of(self, run: Run) -> float:
        return self.job.panels[run.panel].length_mm

    def _cut_of(self, run: Run, top: float) -> Cut | None:
        spares = (run.spares_before, run.spares_after)
        panel = self.job.panels[run.panel]
        return self._cut(panel, run.first, run.end - run.first, spares, top=top)

    def _runs(
        self, panel: int, first: int, carried: Left | None, spares: tuple[int, int]
    ) -> Iterator[Run]:
        if self.job.face is Face.RUNNING:
            yield from self._running_runs(panel, first, carried, spares)
            return
        size = self.job.panels[panel]
        for count in self._counts(size):
            cut = self._cut(size, first, count, spares)
            if cut is not None:
                yield Run(panel, first, first + count, *spares, cut)

    def _counts(self, panel: Panel) -> list[int]:
        """Return with how many leaves a panel could be made, its pieces being wide enough."""
        allowances, rows = self.job.allowances, rows_of(self.job.face)
        found = []
        for count in range(1, len(self.leaves) + 1):
            columns = columns_of(self.job.face, count)
            if columns is None:
                continue
            width = panel.width_mm / columns
            least = allowances.least_edge_mm if columns > 1 else 0.0
            if columns > 2:
                least = max(least, allowances.least_piece_mm)
            if width < least - HAIR_MM:
                break
            if any(w.usable.width >= width for w in self._woods) and (
                panel.length_mm / rows <= max(w.usable.height for w in self._woods)
            ):
                found.append(count)
        return found

    def _cut(
        self,
        panel: Panel,
        first: int,
        count: int,
        spares: tuple[int, int],
        *,
        top: float | None = None,
    ) -> Cut | None:
        low, high = first - spares[0], first + count + spares[1]
        if low < 0 or high > len(self.leaves) or self._free_to[low] < high:
            return None
        key = (panel.width_mm, panel.length_mm, first, count, *spares, top)
        if key not in self._cuts:
            slots = slots_of(self.job.face, self.job.match, count)
            columns, rows = columns_of(self.job.face, count) or 1, rows_of(self.job.face)
            pack = [
                (self._woods[i], slots[i - first] if first <= i < first + count else None)
                for i in range(low, high)
            ]
            self._cuts[key] = find_cut(
                pack,
                self.job.allowances,
                size=(panel.width_mm / columns, panel.length_mm / rows),
                shape=(columns, rows),
                top_mm=top,
            )
        return self._cuts[key]

    def _running_runs(
        self, panel: int, first: int, carried: Left | None, spares: tuple[int, int]
    ) -> Iterator[Run]:
        size, allowances = self.job.panels[panel], self.job.allowances
        low = first - spares[0]
        if first > len(self.leaves) or low < 0 or self._free_to[low] < first:
            return
        if carried is not None:
            tops: tuple[float, ...] = (carried.top,) if carried.length == size.length_mm else ()
        else:
            free = self._woods[first : self._free_to[first]]
            tops = heights_to_try(free, allowances, length=size.length_mm)
        for top in tops:
            key = (size.width_mm, size.length_mm, first, top, carried)
            if key not in self._laid:
                fresh = range(first, self._free_to[first])
                self._laid[key] = lay_running(
                    self.job, size, self._strips, fresh, top=top, carried=carried
                )
            laid = self._laid[key]
            if laid is None:
                continue
            pieces, end, left = laid
            if panel == len(self.job.panels) - 1:
                left = None
            if self._has_spares(size, top, (low, first), (end, end + spares[1])):
                yield Run(panel, first, end, *spares, None, pieces, left)

    def _has_spares(self, panel: Panel, top: float, *places: tuple[int, int]) -> bool:
        """Tell whether the leaves in some places would do as spares of a running face."""
        allowances = self.job.allowances
        for low, high in places:
            if high > len(self.leaves) or (low < high and self._free_to[low] < high):
                return False
            for leaf in range(low, high):
                strip = self._strips.at(leaf, top, panel.length_mm)
                least = allowances.least_piece_mm + 2 * allowances.joint_cut_mm
                if self._woods[leaf].show or strip is None or strip[1] - strip[0] < least:
                    return False
        return True

    def _left_between(self, start: int, end: int) -> Cost:
        """Return what leaving the leaves between two places costs: orphans, and runs."""
        key = (start, end)
        if key not in self._left:
            runs = [length for _, length in self.free_runs(start, end)]
            short = sum(length for length in runs if length < self.job.allowances.least_run)
            self._left[key] = NOTHING._replace(leaves=short, pieces_left=len(runs))
        return self._left[key]

    def _must_show(self, start: int, end: int) -> bool:
        """Tell whether a leaf that is passed over holds something that must show."""
        return any(wood.show for wood in self._woods[start:end])

    def _is_one_bundle(self, place: int) -> bool:
        return 0 < place < len(self.leaves) and (
            self.leaves[place - 1].bundle == self.leaves[place].bundle
        )

    def _cost_of(self, start: int, end: int) -> Cost:
        if start == end:
            return NOTHING
        count = end - start
        taken = self.leaves[start:end]
        bundles = len(dict.fromkeys(leaf.bundle for leaf in taken))
        area = sum(leaf.length_mm * leaf.width_mm for leaf in taken)
        return Cost(0, count, count, 0, bundles, 0, area)


def _less_bundle(cost: Cost, is_same: bool) -> Cost:
    return cost._replace(bundles=cost.bundles - 1) if is_same else cost


def _keep_best(ways: Ways, laid: int, way: Way) -> None:
    if laid not in ways or way.cost < ways[laid].cost:
        ways[laid] = way
