"""The picture store."""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from catalog.errors import CatalogError, PictureDamaged, PictureMissing, PicturesNotKept
from catalog.pictures import PictureStore

PLACES = ["folder", "memory://veneer-pictures"]


@pytest.fixture(params=PLACES)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> PictureStore:
    return PictureStore(tmp_path / "kept" if request.param == "folder" else request.param)


def files_under(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_picture_is_named_by_its_digest_and_comes_back(store: PictureStore) -> None:
    data = os.urandom(5000)

    name = store.put(data)

    assert name == hashlib.sha256(data).hexdigest()
    assert store.read(name) == data
    assert store.holds(name)


def test_a_missing_picture_is_said_with_the_command_that_helps(store: PictureStore) -> None:
    with pytest.raises(PictureMissing, match="python -m ui take-in"):
        store.read("ab" * 32)
    assert not store.holds("ab" * 32)
    assert store.missing([store.put(b"x"), "ab" * 32]) == ("ab" * 32,)


@pytest.mark.parametrize("name", ["", "../" * 20 + "etc", "AB" * 32, "ab" * 31, "/" * 64])
def test_what_is_no_digest_names_no_picture(store: PictureStore, name: str) -> None:
    with pytest.raises(PictureMissing, match="64 hex digits"):
        store.read(name)


def test_a_picture_that_is_there_is_not_written_again(tmp_path: Path) -> None:
    store = PictureStore(tmp_path)
    name = store.put(b"grain")
    path = tmp_path / name[:2] / name
    before = path.stat()

    store.put(b"grain")

    after = path.stat()
    assert (before.st_ino, before.st_mtime_ns) == (after.st_ino, after.st_mtime_ns)
    assert files_under(tmp_path) == [path]


@pytest.mark.parametrize("torn", [b"", b"gra", b"grait"])
def test_a_torn_picture_is_told_on_reading_and_mended_by_putting_it_again(
    tmp_path: Path, torn: bytes
) -> None:
    store = PictureStore(tmp_path)
    name = store.put(b"grain")
    path = tmp_path / name[:2] / name
    path.write_bytes(torn)

    with pytest.raises(PictureDamaged, match=f"{name} is not what was stored. Delete that file"):
        store.read(name)
    assert not store.holds(name)

    store.put(b"grain")
    assert store.read(name) == b"grain"


def test_what_a_power_cut_left_behind_does_no_harm(tmp_path: Path) -> None:
    store = PictureStore(tmp_path)
    name = hashlib.sha256(b"grain").hexdigest()
    (tmp_path / "coming").mkdir()
    (tmp_path / "coming" / f"{name}-17-abcd").write_bytes(b"gr")

    store.put(b"grain")

    assert store.read(name) == b"grain"


def test_many_may_put_the_same_picture_at_once(tmp_path: Path) -> None:
    store = PictureStore(tmp_path)
    data = os.urandom(300_000)

    with ThreadPoolExecutor(8) as pool:
        names = set(pool.map(lambda _: store.put(data), range(40)))

    (name,) = names
    assert store.read(name) == data
    assert len(files_under(tmp_path)) == 1


def test_a_place_that_cannot_be_written_to_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    store = PictureStore(tmp_path / "file" / "pictures")

    with pytest.raises(PicturesNotKept, match="Make room there, or allow writing"):
        store.put(b"grain")


def test_an_address_of_an_unknown_kind_is_said() -> None:
    with pytest.raises(CatalogError, match="Name a folder"):
        PictureStore("nowhere-known://x")
