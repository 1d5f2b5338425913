"""Panel plans by trying everything, millimetre by millimetre: slow, plain, and on its own."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby, pairwise, product
from random import Random

import numpy as np

from vision.match_layout import Match
from vision.panel_job import (
    Allowances,
    Edge,
    Face,
    Job,
    LeafState,
    MarkedPlace,
    Panel,
    Place,
    PlanLeaf,
)

REACH = 140
"""No leaf drawn is wider, mm; places across count from REACH to either side of the common line."""


def drawn_case(chance: Random) -> tuple[Job, list[PlanLeaf]]:
    """Return a small job and flitch; every length is a whole number of millimetres."""
    face = chance.choice(list(Face))
    fewest, most = {Face.RUNNING: (3, 5), Face.FOUR_WAY: (5, 9)}.get(face, (4, 7))
    count = chance.randint(fewest, most)
    widest = chance.choice([80, 120, 140])
    leaves = [_drawn_leaf(chance, i, widest) for i in range(count)]
    panels = tuple(
        Panel(f"p{i}", chance.choice([48, 72, 96, 144]), chance.choice([60, 60, 80]))
        for i in range(chance.choice([1, 2, 3] if face is Face.BALANCE else [1, 1, 2]))
    )
    allowances = Allowances(
        side_trim_mm=chance.choice([0, 2]),
        end_trim_mm=chance.choice([0, 4]),
        joint_cut_mm=chance.choice([0, 2]),
        overhang_side_mm=chance.choice([0, 5]),
        overhang_end_mm=chance.choice([0, 6]),
        defect_margin_mm=chance.choice([0, 3]),
        at_within_mm=chance.choice([0, 8]),
        least_piece_mm=chance.choice([0, 20]),
        least_edge_mm=chance.choice([4, 14]),
        leaves_per_spare=chance.choice([0, 2, 9]),
        least_run=chance.choice([0, 2, 3]),
    )
    match = chance.choice([Match.BOOK, Match.SLIP])
    return Job(panels, match, face, allowances, chance.choice(list(Edge))), leaves


def _drawn_leaf(chance: Random, place: int, widest: int) -> PlanLeaf:
    width, length = widest - 2 * chance.randint(0, 6), 100 + chance.randint(0, 20)
    state = chance.choices(list(LeafState), weights=(14, 1, 1))[0]
    marks = []
    for _ in range(chance.choice([0, 0, 0, 1, 2])):
        left, top = chance.randint(0, width - 4), chance.randint(0, length - 4)
        right, bottom = left + chance.randint(2, 12), top + chance.randint(2, 40)
        is_shown = state is LeafState.FREE and chance.random() < 0.06
        place_of = Place.SHOW if is_shown else Place.AVOID
        at = chance.choice([None, 20]) if is_shown else None
        marks.append(MarkedPlace("knot", left, top, right, bottom, place_of, at))
    bundle = "1" if place < 4 else "2"
    return PlanLeaf(f"{place:02}", bundle, length, width, tuple(marks), state)


class Trial:
    """All plans of one case."""

    def __init__(self, job: Job, leaves: list[PlanLeaf]) -> None:
        self.job, self.leaves, self.allow = job, leaves, job.allowances
        self._fits: dict[tuple[int, ...], bool] = {}
        self._strips: dict[tuple[float, ...], tuple[float, float] | None] = {}

    def best(self) -> tuple[float, ...] | None:
        """Return the least cost of all plans, None if there is none."""
        costs = [self._cost(plan) for plan in self._plans() if self._is_whole(plan)]
        return min(costs, default=None)

    def _plans(self) -> Iterator[list[tuple[int, int, int, int]]]:
        """Yield (first, end, spares before, after) of every panel's fresh leaves."""
        total, last = len(self.leaves), len(self.job.panels) - 1
        per = self.allow.leaves_per_spare
        most = math.ceil(total / per) if per else 0
        for before, after in product(range(most + 1), repeat=2):
            if before + after > most:
                continue
            if self.job.face is Face.RUNNING:
                yield from self._running(0, 0, None, (before, after), [])
                continue
            stack: list[list[tuple[int, int, int, int]]] = [[]]
            while stack:
                plan = stack.pop()
                panel = len(plan)
                if panel > last:
                    yield plan
                    continue
                place = plan[-1][1] if plan else 0
                b, a = (before if panel == 0 else 0), (after if panel == last else 0)
                stack.extend(
                    [*plan, (first, end, b, a)]
                    for first in range(place + b, total)
                    for end in range(first + 1, total - a + 1)
                    if self._can(panel, first, end, b, a)
                )

    def _is_whole(self, plan: list[tuple[int, int, int, int]]) -> bool:
        laid = {i for first, end, _, _ in plan for i in range(first, end)}
        spares = sum(b + a for _, _, b, a in plan)
        per = self.allow.leaves_per_spare
        must = {i for i, leaf in enumerate(self.leaves) if _shown(leaf)}
        return must <= laid and spares == (math.ceil(len(laid) / per) if per else 0)

    def _cost(self, plan: list[tuple[int, int, int, int]]) -> tuple[float, ...]:
        ranges = [(first - b, end + a) for first, end, b, a in plan]
        used = sorted({i for start, end in ranges for i in range(start, end)})
        gaps = [start - end for (_, end), (start, _) in pairwise(ranges)]
        runs, old = self._free_runs(set(used)), self._free_runs(set())
        lost = self._short(runs) - self._short(old)
        taken = [self.leaves[i] for i in used]
        return (
            sum(gap > 0 for gap in gaps),
            len(used) + lost,
            len(used),
            sum(gaps),
            len({leaf.bundle for leaf in taken}),
            len(runs) - len(old),
            sum(leaf.length_mm * leaf.width_mm for leaf in taken),
        )

    def _free_runs(self, used: set[int]) -> list[int]:
        states = [
            (leaf.state is LeafState.FREE and i not in used, leaf.bundle)
            for i, leaf in enumerate(self.leaves)
        ]
        return [len(list(group)) for (is_free, _), group in groupby(states) if is_free]

    def _short(self, runs: list[int]) -> int:
        return sum(n for n in runs if n < self.allow.least_run)

    # Faces of equal pieces

    def _can(self, panel: int, first: int, end: int, before: int, after: int) -> bool:
        key = (panel, first, end, before, after)
        if key not in self._fits:
            self._fits[key] = self._try(*key)
        return self._fits[key]

    def _try(self, panel: int, first: int, end: int, before: int, after: int) -> bool:
        taken = self.leaves[first - before : end + after]
        if any(leaf.state is not LeafState.FREE for leaf in taken):
            return False
        count, face, allow = end - first, self.job.face, self.allow
        rows = 2 if face is Face.FOUR_WAY else 1
        allowed = {
            Face.BALANCE: True,
            Face.CENTRE_BALANCE: count % 2 == 0,
            Face.SLIP_CENTRE_BOOK: count % 2 == 0 and count >= 4,
            Face.FOUR_WAY: count % 4 == 0,
        }[face]
        if not allowed:
            return False
        columns = count // rows
        size = self.job.panels[panel]
        width, length = size.width_mm / columns, size.length_mm / rows
        if columns > 1 and width < allow.least_edge_mm:
            return False
        if columns > 2 and width < allow.least_piece_mm:
            return False
        # One mm apart, from every place where a whole cut of this width can begin.
        offset = 0.0 if float(width).is_integer() else width % 1
        lefts = np.unique(
            np.concatenate([np.arange(-REACH, REACH + 1.0), np.arange(-REACH, REACH) - offset])
        )[:, None]
        tops = np.arange(0.0, 130.0, 0.5)[None, :]
        fits = np.ones((len(lefts), tops.shape[1]), bool)
        for i, leaf in enumerate(taken):
            place = i - before
            spare = not 0 <= place < count
            fits &= self._leaf_fits(leaf, place, spare, columns, rows, (width, length), lefts, tops)
        return bool(fits.any())

    def _leaf_fits(self, leaf, place, spare, columns, rows, size, lefts, tops):
        allow, (width, length) = self.allow, size
        shift = self._shift(leaf)
        if spare:
            if _shown(leaf):
                return np.zeros((len(lefts), tops.shape[1]), bool)
            low = high = allow.joint_cut_mm
            head = allow.overhang_end_mm
            foot = allow.joint_cut_mm if rows == 2 else allow.overhang_end_mm
            is_spun, row = False, 0
        else:
            column, row, is_over, is_spun = self._place(place, columns, rows)
            left_out = allow.overhang_side_mm if column == 0 else allow.joint_cut_mm
            right_out = allow.overhang_side_mm if column == columns - 1 else allow.joint_cut_mm
            low, high = (right_out, left_out) if is_over else (left_out, right_out)
            up = allow.overhang_end_mm if row == 0 else allow.joint_cut_mm
            down = allow.overhang_end_mm if row == rows - 1 else allow.joint_cut_mm
            head, foot = (down, up) if is_spun else (up, down)
        near = 1e-6
        fits = (lefts - low >= shift + allow.side_trim_mm - near) & (
            lefts + width + high <= shift + leaf.width_mm - allow.side_trim_mm + near
        )
        fits = fits & (
            (tops - head >= allow.end_trim_mm - near)
            & (tops + length + foot <= leaf.length_mm - allow.end_trim_mm + near)
        )
        for mark in leaf.marks:
            x0, x1 = mark.left_mm + shift, mark.right_mm + shift
            if mark.place is Place.AVOID:
                m = allow.defect_margin_mm
                apart = (x1 + m <= lefts + near) | (x0 - m >= lefts + width - near)
                fits &= apart | (
                    (mark.bottom_mm + m <= tops + near) | (mark.top_mm - m >= tops + length - near)
                )
            elif not spare:
                fits &= (lefts <= x0 + near) & (lefts + width >= x1 - near)
                fits &= (tops <= mark.top_mm + near) & (tops + length >= mark.bottom_mm - near)
                if mark.at_mm is not None:
                    middle = (mark.top_mm + mark.bottom_mm) / 2
                    down = tops + length - middle if is_spun else middle - tops
                    off = np.abs(down + row * length - mark.at_mm)
                    fits &= off <= allow.at_within_mm + near
        return fits

    def _place(self, place: int, columns: int, rows: int) -> tuple[int, int, bool, bool]:
        """Return column, row, whether turned over left to right, whether head to foot."""
        if rows == 2:
            group, step = divmod(place, 4)
            column, row = [(0, 0), (1, 0), (1, 1), (0, 1)][step]
            return 2 * group + column, row, column == 1, row == 1
        if self.job.face is Face.SLIP_CENTRE_BOOK:
            return place, 0, place >= columns // 2, False
        return place, 0, self.job.match is Match.BOOK and place % 2 == 1, False

    def _shift(self, leaf: PlanLeaf) -> float:
        return {Edge.LEFT: 0.0, Edge.MIDDLE: -leaf.width_mm / 2, Edge.RIGHT: -leaf.width_mm}[
            self.job.register
        ]

    # Running faces

    def _running(self, panel, place, carried, spares, done):
        total, last = len(self.leaves), len(self.job.panels) - 1
        if panel > last:
            yield done
            return
        size = self.job.panels[panel]
        before, after = (spares[0] if panel == 0 else 0), (spares[1] if panel == last else 0)
        begins = [(place, carried)] if carried else []
        begins += [(first, None) for first in range(place + before, total)]
        for first, strip in begins:
            tops = [strip["top"]] if strip else np.arange(0.0, 130.0, 0.5)
            if strip and strip["length"] != size.length_mm:
                continue
            seen = set()
            for top in tops:
                laid = self._lay(size, first, strip, top)
                if laid is None:
                    continue
                end, left = laid
                others = [*range(first - before, first), *range(end, end + after)]
                if end + after > total or not all(self._is_spare(i, top, size) for i in others):
                    continue
                # Heights that leave the same behind are the same to what follows.
                same = (end, panel == last or (left and tuple(sorted(left.items()))))
                if same in seen:
                    continue
                seen.add(same)
                step = (first, end, before, after)
                yield from self._running(panel + 1, end + after, left, spares, [*done, step])

    def _is_spare(self, i: int, top: float, size: Panel) -> bool:
        leaf = self.leaves[i]
        strip = self._strip(i, top, size.length_mm)
        least = self.allow.least_piece_mm + 2 * self.allow.joint_cut_mm
        is_free = leaf.state is LeafState.FREE and not _shown(leaf)
        return is_free and strip is not None and strip[1] - strip[0] >= least

    def _strip(self, i: int, top: float, length: float) -> tuple[float, float] | None:
        if (i, top, length) not in self._strips:
            self._strips[i, top, length] = self._widest(self.leaves[i], top, length)
        return self._strips[i, top, length]

    def _widest(self, leaf: PlanLeaf, top: float, length: float) -> tuple[float, float] | None:
        allow = self.allow
        if top - allow.overhang_end_mm < allow.end_trim_mm:
            return None
        if top + length + allow.overhang_end_mm > leaf.length_mm - allow.end_trim_mm:
            return None
        clear = np.ones(int(leaf.width_mm), bool)
        clear[: int(allow.side_trim_mm)] = False
        clear[len(clear) - int(allow.side_trim_mm) :] = False
        m = allow.defect_margin_mm
        for mark in leaf.marks:
            if mark.place is Place.SHOW:
                continue
            if mark.top_mm - m < top + length and mark.bottom_mm + m > top:
                clear[max(0, int(mark.left_mm - m)) : max(0, int(mark.right_mm + m))] = False
        best, start = (0, 0), None
        for x, is_clear in enumerate([*clear, False]):
            if is_clear and start is None:
                start = x
            if not is_clear and start is not None:
                best = max(best, (start, x), key=lambda span: span[1] - span[0])
                start = None
        return float(best[0]), float(best[1])

    def _lay(self, size: Panel, first: int, carried, top: float):
        """Return the leaf after the last one laid, and what is left of that one."""
        allow, is_book = self.allow, self.job.match is Match.BOOK
        side, joint = allow.overhang_side_mm, allow.joint_cut_mm
        strips, i = [], first
        if carried:
            strips.append((carried["leaf"], carried["low"], carried["high"], carried["turn"]))
        turn = carried["turn"] + 1 if carried else 0
        widths: list[float] = []
        while True:
            if len(strips) == len(widths):
                if i >= len(self.leaves) or self.leaves[i].state is not LeafState.FREE:
                    return None
                strip = self._strip(i, top, size.length_mm)
                if strip is None:
                    return None
                strips.append((i, *strip, turn))
                i, turn = i + 1, turn + 1
            _, low, high, _ = strips[-1]
            raw, begins = high - low, side if len(strips) == 1 else joint
            need = size.width_mm - sum(widths)
            if raw - begins - side >= need:
                break
            if raw - begins - joint <= 0:
                return None
            widths.append(min(raw - begins - joint, need))
        self._no_sliver(widths, need, raw - begins - side)
        widths.append(size.width_mm - sum(widths))
        if len(widths) > 1 and min(widths[0], widths[-1]) < allow.least_edge_mm:
            return None
        if any(width < allow.least_piece_mm for width in widths[1:-1]):
            return None
        for k, (leaf, low, high, way) in enumerate(strips):
            begins = side if k == 0 else joint
            is_over = is_book and way % 2 == 1
            x0 = high - begins - widths[k] if is_over else low + begins
            if not (carried and k == 0) and not self._shows(leaf, x0, widths[k], top, size):
                return None
        leaf, low, high, way = strips[-1]
        gone = (side if len(strips) == 1 else joint) + widths[-1] + side
        is_over = is_book and way % 2 == 1
        low, high = (low, high - gone) if is_over else (low + gone, high)
        left = {"leaf": leaf, "low": low, "high": high, "turn": way, "top": top}
        left["length"] = size.length_mm
        return i, left if high - low >= allow.least_edge_mm + side + joint else None

    def _no_sliver(self, widths: list[float], need: float, most: float) -> None:
        """Let the pieces before a last one that would be a sliver give it what it lacks."""
        allow = self.allow
        lacking = allow.least_edge_mm - need
        if lacking > 0 and most >= allow.least_edge_mm:
            for k in reversed(range(len(widths))):
                floor = allow.least_piece_mm if k else allow.least_edge_mm
                given = max(0.0, min(widths[k] - floor, lacking))
                widths[k] -= given
                lacking -= given

    def _shows(self, leaf: int, x0: float, width: float, top: float, size: Panel) -> bool:
        for mark in self.leaves[leaf].marks:
            if mark.place is Place.AVOID:
                continue
            if mark.left_mm < x0 or mark.right_mm > x0 + width:
                return False
            if mark.top_mm < top or mark.bottom_mm > top + size.length_mm:
                return False
            middle = (mark.top_mm + mark.bottom_mm) / 2 - top
            if mark.at_mm is not None and abs(middle - mark.at_mm) > self.allow.at_within_mm:
                return False
        return True


def _shown(leaf: PlanLeaf) -> bool:
    return any(mark.place is Place.SHOW for mark in leaf.marks)
