"""The catalogue: one object, one method for each thing that can be asked of it or done to it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Engine

from catalog import (
    search,
    store,
    store_findings,
    store_orders,
    store_outlines,
    store_photos,
    store_stations,
    store_traces,
)
from catalog.database import connect, database_url, reading, writing
from catalog.errors import CatalogError, EntryFaulty
from catalog.migrations import migrate
from catalog.new_photo import NewPhoto
from catalog.pictures import PictureStore
from catalog.reading_json import to_json
from catalog.records import (
    Bundle,
    BundleId,
    Change,
    ChangeId,
    Flitch,
    FlitchCard,
    FlitchId,
    KnownPhoto,
    KnownStation,
    LeafCard,
    OrderCorrection,
    Outcome,
    OutlineCorrection,
    PhotoId,
    PhotoRecord,
    Refused,
    StationId,
)
from catalog.standing_outlines import standing_outlines
from catalog.store_traces import StockLeaf, TraceKey
from vision.bundle_light import BundleLight
from vision.hand_outline import Points
from vision.leaf_trace import TRACE_VERSION
from vision.readings import PairAlternation, PhotoQuality
from vision.shooting_station import ShootingStation


def utc_now() -> datetime:
    """Return the time of this machine's clock."""
    return datetime.now(UTC)


def default_folder() -> Path:
    """Return the user's folder for catalogue and pictures (it may not exist yet)."""
    base = os.environ.get("XDG_DATA_HOME")
    return (Path(base) if base else Path.home() / ".local" / "share") / "flitchwright"


def open_catalog(
    url: str | Path | None = None,
    *,
    pictures: str | Path | None = None,
    who: str = "",
    now: Callable[[], datetime] = utc_now,
) -> Catalog:
    """Return the catalogue at ``url``, made if it is new and brought up to date if it is older.

    Parameters
    ----------
    url : str, Path or None
        Path of an SQLite file, or an address such as ``postgresql+psycopg://user@host/name``;
        without it ``catalog.db`` in `default_folder`.
    pictures : str, Path or None
        Folder or address of the pictures; without it the folder ``pictures`` beside an SQLite
        file. A catalogue on a server needs it.
    who : str
        Who makes the changes, for the change table.
    now : callable
        The clock; its times carry a time zone.

    Raises
    ------
    CatalogTooNew
        If a newer program wrote it.
    CatalogOutOfReach
        If it cannot be opened.
    CatalogError
        If the addresses cannot be used.
    """
    address = database_url(default_folder() / "catalog.db" if url is None else url)
    if pictures is None:
        if address.get_backend_name() != "sqlite":
            raise CatalogError(
                "A catalogue on a server needs a place for its pictures that everybody reaches. "
                "Name it with --pictures: a shared folder, or an address such as s3://bucket/stock."
            )
        pictures = Path(str(address.database)).expanduser().resolve().parent / "pictures"
    engine = connect(address)
    try:
        migrate(engine, now=now)
        return Catalog(engine, PictureStore(pictures), who=who, now=now)
    except BaseException:
        engine.dispose()
        raise


class Catalog:
    """Flitches, bundles, leaves and their photographs; see `open_catalog`.

    Methods may be called from several threads, and several processes may have the same
    catalogue open. Every change to stock leaves a row in the change table, in the same
    transaction.
    """

    def __init__(
        self, engine: Engine, pictures: PictureStore, *, who: str, now: Callable[[], datetime]
    ) -> None:
        self._engine = engine
        self.pictures = pictures
        self._who = who
        self._now = now

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def now(self) -> datetime:
        """Return the time by the catalogue's clock."""
        return self._now()

    # Flitches and bundles

    def add_flitch(
        self, *, name: str, species: str, cut: str, figure: str = "", note: str = ""
    ) -> FlitchId:
        """Add a flitch and return its number.

        Raises
        ------
        EntryFaulty
            If it has no name.
        AlreadyThere
            If another flitch has that name.
        """
        values = {"name": name, "species": species, "cut": cut, "figure": figure, "note": note}
        values = {field: text.strip() for field, text in values.items()}
        _check_not_empty(values["name"], "A flitch needs a name, for example its log number.")
        with writing(self._engine) as connection:
            return store.add_flitch(connection, values, by=self._signature())

    def edit_flitch(self, flitch_id: FlitchId, **fields: str) -> None:
        """Set fields of a flitch: ``name``, ``species``, ``cut``, ``figure``, ``note``."""
        unknown = set(fields) - set(store.FLITCH_FIELDS)
        if unknown:
            raise TypeError(f"A flitch has no {', '.join(sorted(unknown))}.")
        values = {field: text.strip() for field, text in fields.items()}
        if "name" in values:
            _check_not_empty(values["name"], "A flitch needs a name, for example its log number.")
        with writing(self._engine) as connection:
            store.edit_flitch(connection, flitch_id, values, by=self._signature())

    def flitch(self, flitch_id: FlitchId) -> Flitch:
        """Return one flitch; `NotInCatalog` if there is none of that number."""
        with reading(self._engine) as connection:
            return store.flitch(connection, flitch_id)

    def find_flitches(
        self,
        *,
        text: str = "",
        species: str = "",
        cut: str = "",
        flag: str = "",
        after: FlitchId | None = None,
        limit: int | None = None,
    ) -> tuple[FlitchCard, ...]:
        """Return flitches as cards, newest first.

        Parameters
        ----------
        text : str
            Words that name, species, cut, figure or note must hold, each of them, in any case and
            with or without accents.
        species, cut : str
            Exactly as entered; see `species_in_use`, `cuts_in_use`.
        flag : str
            Worst light and dark of the book match: none, slight, strong or not-measured.
        after, limit
            For turning pages: the last flitch of the page before, and how many to return.
        """
        given = {"species": species, "cut": cut}
        with reading(self._engine) as connection:
            return search.find_flitches(
                connection,
                words=text,
                exactly={column: value for column, value in given.items() if value},
                flag=flag,
                after=after,
                limit=limit,
            )

    def species_in_use(self) -> tuple[str, ...]:
        """Return the species of the flitches, each once."""
        with reading(self._engine) as connection:
            return search.values_in_use(connection, "species")

    def cuts_in_use(self) -> tuple[str, ...]:
        """Return the cuts of the flitches, each once."""
        with reading(self._engine) as connection:
            return search.values_in_use(connection, "cut")

    def add_bundle(self, flitch_id: FlitchId, *, label: str, note: str = "") -> BundleId:
        """Add a bundle to a flitch and return its number.

        Raises
        ------
        AlreadyThere
            If the flitch has a bundle of that label.
        """
        label = label.strip()
        _check_not_empty(label, "A bundle needs a label, for example 1.")
        with writing(self._engine) as connection:
            return store.add_bundle(
                connection, flitch_id, label=label, note=note.strip(), by=self._signature()
            )

    def edit_bundle(self, bundle_id: BundleId, **fields: str) -> None:
        """Set ``label`` or ``note`` of a bundle."""
        if not set(fields) <= {"label", "note"}:
            raise TypeError(f"A bundle has no {', '.join(sorted(fields))}.")
        values = {field: text.strip() for field, text in fields.items()}
        if "label" in values:
            _check_not_empty(values["label"], "A bundle needs a label, for example 1.")
        with writing(self._engine) as connection:
            store.edit_bundle(connection, bundle_id, values, by=self._signature())

    def bundle(self, bundle_id: BundleId) -> Bundle:
        """Return one bundle; `NotInCatalog` if there is none of that number."""
        with reading(self._engine) as connection:
            return store.bundle(connection, bundle_id)

    def bundles(self, flitch_id: FlitchId) -> tuple[Bundle, ...]:
        """Return the bundles of a flitch in the order they were added."""
        with reading(self._engine) as connection:
            return store.bundles(connection, flitch_id)

    # Leaves and photographs

    def leaves(self, bundle_id: BundleId) -> tuple[LeafCard, ...]:
        """Return the leaves of a bundle in order, as cards."""
        with reading(self._engine) as connection:
            return search.leaves(connection, bundle_id)

    def photos(self, bundle_id: BundleId) -> tuple[PhotoRecord, ...]:
        """Return the photographs of a bundle by file name, 2 before 10."""
        with reading(self._engine) as connection:
            return store_photos.photos(connection, bundle_id)

    def known_photos(self, bundle_id: BundleId) -> tuple[KnownPhoto, ...]:
        """Return the photographs of a bundle with the names of what is kept of each."""
        with reading(self._engine) as connection:
            return store_photos.known_photos(connection, bundle_id)

    def record_photo(self, bundle_id: BundleId, new: NewPhoto, *, listed: Sequence[str]) -> Outcome:
        """Record one measured photograph; its pictures must be in `pictures` already.

        Returns
        -------
        TakenIn, AlreadyIn or Refused
            Refused if the same bytes are in the bundle under another name or as another shot;
            TakenIn also if the photograph was in and has been measured again: its pictures were
            lost, or the typed size has changed.
        """
        with writing(self._engine) as connection:
            return store_photos.record_photo(
                connection, bundle_id, new, listed=listed, by=self._signature()
            )

    def settle_bundle_light(self, bundle_id: BundleId, light: BundleLight) -> BundleLight:
        """Give a bundle its common light, and return it; an earlier one stays."""
        with writing(self._engine) as connection:
            return store.settle_bundle_light(connection, bundle_id, to_json(light))

    def photo(self, photo_id: PhotoId) -> PhotoRecord:
        """Return one photograph; `NotInCatalog` if there is none of that number."""
        with reading(self._engine) as connection:
            return store_photos.photo(connection, photo_id)

    # Shooting stations

    def add_station(self, station: ShootingStation, quality: PhotoQuality) -> StationId:
        """Record a station as set up; what was set up before under its name stays."""
        _check_not_empty(station.name, "A station needs a name.")
        with writing(self._engine) as connection:
            return store_stations.add_station(connection, station, quality, by=self._signature())

    def stations(self) -> tuple[KnownStation, ...]:
        """Return the newest set-up of every station, by name."""
        with reading(self._engine) as connection:
            return store_stations.stations(connection)

    def station_named(self, name: str) -> KnownStation:
        """Return the newest set-up of a station; `NotInCatalog` if there is none."""
        with reading(self._engine) as connection:
            return store_stations.station_named(connection, name)

    def station(self, station_id: StationId) -> KnownStation:
        """Return one set-up of a station; `NotInCatalog` if there is none of that number."""
        with reading(self._engine) as connection:
            return store_stations.station(connection, station_id)

    # Outlines corrected by hand

    def outline_corrections(self, photo_id: PhotoId) -> tuple[OutlineCorrection, ...]:
        """Return what was done to the outlines of a photograph, oldest first."""
        with reading(self._engine) as connection:
            return store_outlines.corrections(connection, photo_id)

    def outlines_by_hand(self, bundle_id: BundleId) -> dict[str, tuple[Points, ...]]:
        """Return the outlines to measure with, by SHA-256, of photographs corrected by hand."""
        with reading(self._engine) as connection:
            done = store_outlines.corrections_in(connection, bundle_id)
            photos = store_photos.photos(connection, bundle_id) if done else ()
        chosen = {
            photo.sha256: standing_outlines(
                done[photo.sha256], [leaf.outline for leaf in photo.reading.leaves]
            )
            for photo in photos
            if photo.sha256 in done
        }
        return {sha256: outlines for sha256, outlines in chosen.items() if outlines is not None}

    def record_correction(self, correction: OutlineCorrection, new: NewPhoto, *, seen: int) -> None:
        """Record an outline corrected by hand with what the photograph then measured.

        Raises
        ------
        AlreadyThere
            If there are other than ``seen`` corrections of the photograph by now.
        """
        by = self._signature(correction.who)
        with writing(self._engine) as connection:
            store_outlines.record_correction(connection, correction, new, seen=seen, by=by)

    # Orders set by hand

    def order_corrections(self, bundle_id: BundleId) -> tuple[OrderCorrection, ...]:
        """Return what was done to the order of a bundle, oldest first."""
        with reading(self._engine) as connection:
            return store_orders.orders(connection, bundle_id)

    def record_order(self, correction: OrderCorrection, *, seen: int) -> None:
        """Give the leaves of a bundle other places, and keep who did it and when.

        Raises
        ------
        AlreadyThere
            If there are other than ``seen`` corrections by now, or the leaves lie otherwise.
        """
        by = self._signature(correction.who)
        with writing(self._engine) as connection:
            store_orders.record_order(connection, correction, seen=seen, by=by)

    # Looking for a loose leaf

    def stock_leaves(self) -> tuple[StockLeaf, ...]:
        """Return every leaf of the catalogue, bundle by bundle in order."""
        with reading(self._engine) as connection:
            return store_traces.stock_leaves(connection)

    def leaf_traces(self) -> dict[TraceKey, bytes]:
        """Return the traces kept so far, by the pictures that they were drawn from."""
        with reading(self._engine) as connection:
            return store_traces.leaf_traces(connection, TRACE_VERSION)

    def keep_traces(self, traces: Mapping[TraceKey, bytes]) -> None:
        """Keep traces for the next search; each can be drawn again at any time."""
        with writing(self._engine) as connection:
            store_traces.keep_traces(connection, traces, TRACE_VERSION)

    # Refusals

    def record_refusal(self, bundle_id: BundleId, refused: Refused, *, folder: str) -> None:
        """Record why a photograph could not be taken in."""
        with writing(self._engine) as connection:
            store_findings.record_refusal(
                connection, bundle_id, refused, folder=folder, at=self._now()
            )

    def forget_stale_refusals(
        self,
        bundle_id: BundleId,
        *,
        folder: str,
        still_open: Sequence[str],
        taken_in: Sequence[str],
    ) -> None:
        """Forget refusals of lines no longer in a folder's list, and of files ``taken_in``."""
        with writing(self._engine) as connection:
            store_findings.forget_stale_refusals(
                connection, bundle_id, folder=folder, still_open=still_open, taken_in=taken_in
            )

    def refusals(self, bundle_id: BundleId) -> tuple[Refused, ...]:
        """Return what stands refused in a bundle, oldest first."""
        with reading(self._engine) as connection:
            return store_findings.refusals(connection, bundle_id)

    # Light and dark

    def record_alternation(
        self, bundle_id: BundleId, match: str, pairs: Sequence[PairAlternation]
    ) -> None:
        """Store light and dark between the neighbours of a bundle in one match."""
        with writing(self._engine) as connection:
            store_findings.record_alternation(connection, bundle_id, match, pairs, at=self._now())

    def alternation(
        self, bundle_id: BundleId, *, match: str = "book"
    ) -> tuple[PairAlternation, ...]:
        """Return light and dark between neighbours; empty before it is worked out."""
        with reading(self._engine) as connection:
            return store_findings.alternation(connection, bundle_id, match)

    # The change table

    def changes(
        self,
        *,
        of: tuple[str, int] | None = None,
        after: ChangeId | None = None,
        limit: int | None = None,
    ) -> tuple[Change, ...]:
        """Return changes in the order they were made.

        Parameters
        ----------
        of : (kind, number) or None
            Only those of one thing, for example ``("bundle", 3)``.
        after, limit
            For turning pages: the last change of the page before, and how many to return.
        """
        with reading(self._engine) as connection:
            return store.changes(connection, of=of, after=after, limit=limit)

    def _signature(self, who: str = "") -> store.Signature:
        return store.Signature(who or self._who, self._now())


def _check_not_empty(text: str, sentence: str) -> None:
    if not text:
        raise EntryFaulty(sentence)
