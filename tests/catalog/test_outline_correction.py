"""An outline drawn by hand: measured with, kept with its history, taken back by undo."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from catalog.catalog import Catalog
from catalog.database import connect, database_url, writing
from catalog.errors import AlreadyThere, EntryFaulty, NotInCatalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.new_photo import NewPhoto
from catalog.outline_correction import (
    correct_outline,
    found_outline,
    standing_outline,
    undo_outline,
)
from catalog.records import OutlineAct, OutlineCorrection, PhotoId, PhotoRecord
from tests.catalog.made_photos import a_bundle
from tests.outlines import overlap
from vision.errors import OutlineFaulty
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Laid, Lamp

SETTINGS = DEFAULT_VISION_SETTINGS


def filled(catalog: Catalog, folder: Path) -> dict[tuple[str, Laid, Lamp], PhotoRecord]:
    """Take the drawn photographs in; return them by leaf, laying and lamp."""
    bundle = a_bundle(catalog)
    for _outcome in take_in(
        plan_intake(folder, bundle, catalog=catalog), catalog=catalog, settings=SETTINGS
    ):
        pass
    finish_bundle(bundle, catalog=catalog, settings=SETTINGS)
    return {(p.shot.leaf, p.shot.laid, p.shot.lamp): p for p in catalog.photos(bundle)}


@pytest.fixture
def shots(sqlite_catalog: Catalog, photos: Path) -> dict[tuple[str, Laid, Lamp], PhotoRecord]:
    return filled(sqlite_catalog, photos)


def box(photo: PhotoRecord, *, side: int = 0, lower: float = 1.0) -> list[tuple[float, float]]:
    """Return the box round a leaf, cut off at a share of its length."""
    x, y = zip(*photo.reading.leaves[side].outline, strict=True)
    bottom = min(y) + lower * (max(y) - min(y))
    return [(min(x), min(y)), (max(x), min(y)), (max(x), bottom), (min(x), bottom)]


def same(one: Sequence[Sequence[float]], other: Sequence[Sequence[float]]) -> bool:
    """Tell whether two outlines are the same but for the rounding of stored points."""
    return np.asarray(one) == pytest.approx(np.asarray(other), abs=0.01)


def test_a_leaf_is_as_long_as_the_outline_drawn_round_it(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    photo = shots["01", Laid.AS_LIES, Lamp.A]
    drawn = box(photo, lower=0.6)

    after = correct_outline(sqlite_catalog, photo.photo_id, drawn, settings=SETTINGS)

    size = after.reading.leaves[0].size
    assert size.length_px == pytest.approx(drawn[2][1] - drawn[0][1], abs=1.0)
    assert size.width_px == pytest.approx(drawn[1][0] - drawn[0][0], abs=1.0)
    assert same(after.reading.leaves[0].outline, drawn)
    assert after.pictures != photo.pictures


def test_the_bundle_is_finished_again(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    photo = shots["01", Laid.AS_LIES, Lamp.A]
    before = sqlite_catalog.alternation(photo.bundle_id, match="slip")

    correct_outline(sqlite_catalog, photo.photo_id, box(photo, lower=0.6), settings=SETTINGS)

    after = sqlite_catalog.alternation(photo.bundle_id, match="slip")
    assert len(after) == len(before) > 0  # a photograph measured again makes it forgotten


def test_undo_and_back_to_the_found_outline_bring_every_figure_back(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    photo = shots["02", Laid.AS_LIES, Lamp.A]
    number = photo.photo_id
    first, second = box(photo, lower=0.7), box(photo, lower=0.5)
    correct_outline(sqlite_catalog, number, first, settings=SETTINGS, who="Ines")
    half = correct_outline(sqlite_catalog, number, second, settings=SETTINGS, who="Tom")

    once = undo_outline(sqlite_catalog, number, settings=SETTINGS)
    assert same(once.reading.leaves[0].outline, first)
    twice = undo_outline(sqlite_catalog, number, settings=SETTINGS)
    assert twice.reading == photo.reading
    with pytest.raises(EntryFaulty, match="Nothing was changed"):
        undo_outline(sqlite_catalog, number, settings=SETTINGS)
    again = correct_outline(sqlite_catalog, number, second, settings=SETTINGS)
    found = found_outline(sqlite_catalog, number, settings=SETTINGS)
    assert found.reading == photo.reading
    back = undo_outline(sqlite_catalog, number, settings=SETTINGS)

    assert half.reading == again.reading == back.reading
    history = sqlite_catalog.outline_corrections(number)
    assert [one.act for one in history] == [
        OutlineAct.DRAWN,
        OutlineAct.DRAWN,
        OutlineAct.UNDONE,
        OutlineAct.UNDONE,
        OutlineAct.DRAWN,
        OutlineAct.FOUND,
        OutlineAct.UNDONE,
    ]
    assert [one.who for one in history[:2]] == ["Ines", "Tom"]
    whats = [change.what for change in sqlite_catalog.changes(of=("photo", number))]
    assert whats[1:4] == ["outline corrected by hand"] * 2 + ["correction of the outline undone"]


def test_each_leaf_of_an_opened_pair_has_its_own_outline(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    photo = shots["01+02", Laid.OPENED_PAIR, Lamp.A]
    left, right = photo.reading.leaves
    drawn = box(photo, side=1, lower=0.6)

    after = correct_outline(sqlite_catalog, photo.photo_id, drawn, side=1, settings=SETTINGS)

    assert after.reading.leaves[1].size.length_px == pytest.approx(drawn[2][1] - drawn[0][1], abs=1)
    kept = after.reading.leaves[0].outline
    assert overlap(np.asarray(kept), np.asarray(left.outline)) > 0.999
    assert after.reading.leaves[0].size.width_px == pytest.approx(left.size.width_px, rel=0.02)
    back = undo_outline(sqlite_catalog, photo.photo_id, side=1, settings=SETTINGS)
    assert back.reading.leaves == (left, right)


def test_taking_the_folder_in_again_keeps_the_corrected_outline(
    sqlite_catalog: Catalog, photos: Path, tmp_path: Path
) -> None:
    shots = filled(sqlite_catalog, photos)
    photo = shots["01", Laid.AS_LIES, Lamp.A]
    drawn = box(photo, lower=0.6)
    correct_outline(sqlite_catalog, photo.photo_id, drawn, settings=SETTINGS)
    folder = shutil.copytree(photos, tmp_path / "again")
    listed = (folder / "shots.csv").read_text()
    line = next(line for line in listed.splitlines() if line.startswith(photo.shot.file))
    cells = dict(zip(listed.splitlines()[0].split(","), line.split(","), strict=True))
    cells["length_mm"] = "777"
    (folder / "shots.csv").write_text(listed.replace(line, ",".join(cells.values())))

    plan = plan_intake(folder, photo.bundle_id, catalog=sqlite_catalog)
    list(take_in(plan, catalog=sqlite_catalog, settings=SETTINGS))

    after = sqlite_catalog.photo(photo.photo_id)
    assert after.shot.length_mm == 777
    assert after.reading.leaves[0].size.length_mm == pytest.approx(777)
    assert same(after.reading.leaves[0].outline, drawn)


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        ([(50, 50), (90, 90)], "three are needed"),
        ([(50, 50), (50, 50), (90, 90), (90, 90)], "has 2 different points"),
        ([(100, 100), (400, 700), (400, 100), (100, 700)], "crosses itself"),
        ([(100, 100), (400, 100), (400, 2000), (100, 700)], "outside the picture of 600 × 900"),
        ([(100, 100), (104, 100), (104, 104), (100, 104)], "encloses 0.00 % of the picture"),
        ([(100, 100), (400, float("nan")), (400, 700)], "no number"),
        ([(100, 100), ("left", 3), (400, 700)], "no list of points"),
        ([(i % 590, i // 590) for i in range(5000)], "has 5000 points"),
        (7, "no list of points"),
    ],
)
def test_an_outline_that_no_leaf_has_is_refused_and_nothing_is_lost(
    sqlite_catalog: Catalog,
    shots: dict[tuple[str, Laid, Lamp], PhotoRecord],
    points: object,
    sentence: str,
) -> None:
    photo = shots["01", Laid.AS_LIES, Lamp.A]
    kept = sqlite_catalog.alternation(photo.bundle_id)

    with pytest.raises(OutlineFaulty, match=sentence):
        correct_outline(sqlite_catalog, photo.photo_id, points, settings=SETTINGS)  # type: ignore[arg-type]

    assert sqlite_catalog.photo(photo.photo_id) == photo
    assert sqlite_catalog.alternation(photo.bundle_id) == kept
    assert sqlite_catalog.outline_corrections(photo.photo_id) == ()


def test_a_bare_board_a_missing_side_and_a_missing_photograph_are_told_apart(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    leaf, board = shots["01", Laid.AS_LIES, Lamp.A], shots["", Laid.AS_LIES, Lamp.A]
    drawn = box(leaf)

    with pytest.raises(EntryFaulty, match="bare board"):
        correct_outline(sqlite_catalog, board.photo_id, drawn, settings=SETTINGS)
    with pytest.raises(EntryFaulty, match="one leaf only"):
        correct_outline(sqlite_catalog, leaf.photo_id, drawn, side=1, settings=SETTINGS)
    with pytest.raises(NotInCatalog, match="no photograph number 999"):
        correct_outline(sqlite_catalog, PhotoId(999), drawn, settings=SETTINGS)


def test_two_who_correct_the_same_outline_at_once_do_not_overwrite_each_other(
    sqlite_catalog: Catalog, shots: dict[tuple[str, Laid, Lamp], PhotoRecord]
) -> None:
    photo = shots["01", Laid.AS_LIES, Lamp.A]
    mine, theirs = tuple(box(photo, lower=0.8)), box(photo, lower=0.6)
    seen = len(sqlite_catalog.outline_corrections(photo.photo_id))
    correct_outline(sqlite_catalog, photo.photo_id, theirs, settings=SETTINGS)
    late = OutlineCorrection(
        photo.photo_id, 0, OutlineAct.DRAWN, mine, mine, sqlite_catalog.now(), "Tom"
    )
    measured = NewPhoto(photo.shot, photo.reading, photo.pictures, SETTINGS)

    with pytest.raises(AlreadyThere, match="Somebody else"):
        sqlite_catalog.record_correction(late, measured, seen=seen)

    assert same(sqlite_catalog.photo(photo.photo_id).reading.leaves[0].outline, theirs)


def test_the_history_of_outlines_can_only_grow(
    catalog: Catalog, database: str, photos: Path
) -> None:
    photo = filled(catalog, photos)["01", Laid.AS_LIES, Lamp.A]
    correct_outline(catalog, photo.photo_id, box(photo), settings=SETTINGS)
    engine = connect(database_url(database))

    for statement in ("UPDATE outline_correction SET who = 'x'", "DELETE FROM outline_correction"):
        with pytest.raises(DatabaseError), writing(engine) as connection:
            connection.execute(text(statement))

    engine.dispose()
    assert same(standing_outline(catalog, photo.photo_id) or (), box(photo))
