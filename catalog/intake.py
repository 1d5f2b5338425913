"""Take a folder of photographs into the catalogue: plan, measure, record, work out the bundle.

    plan_intake     read the shot list, leave out what is in already
    take_in         settle the bundle's light, bare boards first, then leaf after leaf:
                    pictures into the store, then the row, one transaction for each photograph
    finish_bundle   light and dark between neighbours

Kill it anywhere: the same command again finishes the work, without doubles and without losses.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

from catalog.catalog import Catalog
from catalog.measuring import executor_for, measure_all
from catalog.photo_job import Blank, PhotoJob, let_go_of_blanks, sha256_of
from catalog.records import (
    AlreadyIn,
    BundleId,
    IntakePlan,
    KnownPhoto,
    KnownStation,
    Outcome,
    Refused,
)
from catalog.seen_leaves import seen_leaves
from vision.alternation import TURNED_IN, predict_alternation
from vision.bundle_light import BundleLight
from vision.pipeline import survey_light
from vision.readings import PairAlternation
from vision.settings import VisionSettings
from vision.shot import Lamp, Shot
from vision.shot_list import read_shot_list


def plan_intake(folder: Path, bundle_id: BundleId, *, catalog: Catalog) -> IntakePlan:
    """Return what taking in ``folder`` is going to do; nothing is measured or written yet.

    Raises
    ------
    NotInCatalog
        If there is no such bundle.
    ShotListFaulty
        If the folder is missing or its list cannot be read at all.
    """
    catalog.bundle(bundle_id)
    listed = read_shot_list(folder)
    refused = [Refused(_storable(line.file), line.reason) for line in listed.refused]
    shots = []
    for shot in listed.shots:
        names = "".join((*shot.files, shot.leaf))
        if _storable(names) == names:
            shots.append(shot)
        else:
            refused.append(
                Refused(
                    _storable(shot.file),
                    "The name holds letters that cannot be stored. Rename the photograph, with "
                    "plain letters and figures.",
                )
            )
    known: dict[Shot, dict[str, KnownPhoto]] = {}
    for photo in catalog.known_photos(bundle_id):
        known.setdefault(photo.shot, {})[photo.sha256] = photo
    is_in = [_is_in(folder, shot, known, catalog=catalog) for shot in shots]
    already = [shot for shot, there in zip(shots, is_in, strict=True) if there]
    todo = [shot for shot, there in zip(shots, is_in, strict=True) if not there]
    return IntakePlan(
        folder=folder,
        bundle_id=bundle_id,
        shots=tuple(sorted(todo, key=lambda shot: not shot.blank)),
        refused=tuple(refused),
        already=tuple(AlreadyIn(shot.file) for shot in already),
        listed=tuple(shots),
    )


def take_in(
    plan: IntakePlan,
    *,
    catalog: Catalog,
    settings: VisionSettings,
    workers: int = 1,
    executor: Executor | None = None,
    station: KnownStation | None = None,
) -> Iterator[Outcome]:
    """Measure photographs one by one; record each as soon as it is measured.

    Parameters
    ----------
    plan : IntakePlan
        From `plan_intake`.
    catalog : Catalog
    settings : VisionSettings
        Stored with every photograph.
    workers : int
        How many photographs are measured at once, each in a process of its own; 1 measures in
        this process.
    executor : concurrent.futures.Executor or None
        Does the measuring instead, ``workers`` telling how wide it is. Whatever it is, it must
        reach the folder and the picture store.

    station : KnownStation or None
        Where the photographs were taken.

    Yields
    ------
    TakenIn, AlreadyIn or Refused
        ``plan.total`` of them. One bad photograph is one refusal, never the end of the bundle.

    Raises
    ------
    CatalogError
        If the catalogue or the picture store fails; what was taken in before stays.
    """
    _forget_corrected_lines(plan, catalog=catalog)
    yield from plan.already
    for refused in plan.refused:
        yield _recorded(refused, plan, catalog=catalog)
    boards = [shot for shot in plan.shots if shot.blank]
    leaves = [shot for shot in plan.shots if not shot.blank]
    try:
        with executor_for(workers, executor) as chosen:
            jobs = _jobs(boards, plan, catalog=catalog, settings=settings, station=station)
            yield from _measured(jobs, plan, catalog=catalog, executor=chosen, workers=workers)
            jobs = _jobs(leaves, plan, catalog=catalog, settings=settings, station=station)
            yield from _measured(jobs, plan, catalog=catalog, executor=chosen, workers=workers)
    finally:
        let_go_of_blanks()


def finish_bundle(
    bundle_id: BundleId, *, catalog: Catalog, settings: VisionSettings
) -> tuple[PairAlternation, ...]:
    """Work out and store light and dark between neighbours; return those of the book match."""
    known = seen_leaves(catalog, bundle_id)
    for match in TURNED_IN:
        pairs = predict_alternation(known.order, known.seen, match=match, settings=settings)
        catalog.record_alternation(bundle_id, match, pairs)
    return catalog.alternation(bundle_id, match="book")


def _jobs(
    shots: Sequence[Shot],
    plan: IntakePlan,
    *,
    catalog: Catalog,
    settings: VisionSettings,
    station: KnownStation | None,
) -> list[PhotoJob]:
    if not shots:
        return []
    of_leaves = not all(shot.blank for shot in shots)
    light = (
        _common_light(plan, catalog=catalog, settings=settings, station=station)
        if of_leaves
        else None
    )
    blanks = _blanks_taken_in(plan, catalog=catalog) if of_leaves else {}
    outlines = catalog.outlines_by_hand(plan.bundle_id) if of_leaves else {}
    return [
        PhotoJob(
            folder=plan.folder,
            shot=shot,
            settings=settings,
            light=light,
            blank=blanks.get(shot.lamp),
            pictures=catalog.pictures.place,
            station=station,
            today=catalog.now().date(),
            outlines=outlines,
        )
        for shot in shots
    ]


def _measured(
    jobs: Iterable[PhotoJob],
    plan: IntakePlan,
    *,
    catalog: Catalog,
    executor: Executor,
    workers: int,
) -> Iterator[Outcome]:
    labels = tuple(dict.fromkeys(label for shot in plan.listed for label in shot.leaves))
    for result in measure_all(jobs, executor=executor, workers=workers):
        if not isinstance(result, Refused):
            outcome = catalog.record_photo(plan.bundle_id, result, listed=labels)
        else:
            outcome = result
        if isinstance(outcome, Refused):
            outcome = _recorded(outcome, plan, catalog=catalog)
        yield outcome


def _common_light(
    plan: IntakePlan,
    *,
    catalog: Catalog,
    settings: VisionSettings,
    station: KnownStation | None,
) -> BundleLight | None:
    """Return the one scale of the bundle, settled by the first folder taken into it."""
    light = catalog.bundle(plan.bundle_id).light
    if light is not None:
        return light
    leaves = [shot for shot in plan.listed if not shot.blank]
    surveyed = survey_light(
        plan.folder,
        leaves,
        settings=settings,
        station=None if station is None else station.station,
        today=catalog.now().date(),
    )
    return None if surveyed is None else catalog.settle_bundle_light(plan.bundle_id, surveyed)


def _blanks_taken_in(plan: IntakePlan, *, catalog: Catalog) -> dict[Lamp, Blank]:
    """Return the folder's first bare board under each lamp, as far as it could be read."""
    known = {photo.shot: photo.sha256 for photo in catalog.known_photos(plan.bundle_id)}
    blanks: dict[Lamp, Blank] = {}
    for shot in plan.listed:
        if shot.blank and shot in known:
            blanks.setdefault(shot.lamp, Blank(plan.folder / shot.file, shot, known[shot]))
    return blanks


def _is_in(
    folder: Path, shot: Shot, known: Mapping[Shot, Mapping[str, KnownPhoto]], *, catalog: Catalog
) -> bool:
    """Tell whether this very photograph is in the bundle, and all that was kept of it is there."""
    if shot not in known:
        return False
    try:
        photo = known[shot].get(sha256_of(folder, shot))
    except OSError:
        return False
    return photo is not None and not catalog.pictures.missing(photo.pictures)


def _forget_corrected_lines(plan: IntakePlan, *, catalog: Catalog) -> None:
    open_still = [*(shot.file for shot in plan.shots), *(line.file for line in plan.refused)]
    catalog.forget_stale_refusals(
        plan.bundle_id,
        folder=_folder_name(plan),
        still_open=open_still,
        taken_in=[entry.file for entry in plan.already],
    )


def _recorded(refused: Refused, plan: IntakePlan, *, catalog: Catalog) -> Refused:
    refused = replace(refused, reason=_storable(refused.reason))
    catalog.record_refusal(plan.bundle_id, refused, folder=_folder_name(plan))
    return refused


def _folder_name(plan: IntakePlan) -> str:
    return _storable(str(plan.folder.resolve()))


def _storable(text: str) -> str:
    """Return ``text`` with what no database takes (broken letters, zero bytes) spelt out."""
    return text.encode("utf-8", "backslashreplace").decode().replace("\0", "\\0")
