"""Pictures named by the SHA-256 of their bytes, in a folder or wherever fsspec reaches.

A picture is written under a passing name and then renamed, so that it is either there as a whole
or not at all; what is there is never written over. Reading checks the bytes against the name.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import fsspec
from fsspec.implementations.local import LocalFileSystem

from catalog.errors import CatalogError, PictureDamaged, PictureMissing, PicturesNotKept

COMING = "coming"
"""Folder for what is being written; whatever lies there after a power cut is of no use."""
_REPAIR = "take the folder with its photograph in again: python -m ui take-in"


class PictureStore:
    """Pictures by the SHA-256 of their bytes; safe to use from several processes at once.

    Parameters
    ----------
    place : str or Path
        A folder, or an address such as ``s3://bucket/stock``.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     store = PictureStore(folder)
    ...     store.read(store.put(b"a picture"))
    b'a picture'
    """

    def __init__(self, place: str | Path) -> None:
        self.place = str(place)
        try:
            files, root = fsspec.url_to_fs(self.place)
        except (ImportError, ValueError) as error:
            raise CatalogError(
                f"Pictures cannot be kept at {self.place}: {error}. Name a folder, or an address "
                "whose driver is installed."
            ) from error
        self._files: Any = files
        self._root = str(root).rstrip("/")
        self._is_local = isinstance(files, LocalFileSystem)

    def put(self, data: bytes, *, sha256: str | None = None) -> str:
        """Keep ``data`` and return its name; nothing is written if it is there already.

        Parameters
        ----------
        data : bytes
        sha256 : str or None
            That of ``data``, hexadecimal, where it has been worked out before.

        Raises
        ------
        PicturesNotKept
            If there is no room, or the store may not be written to.
        """
        sha256 = sha256 or hashlib.sha256(data).hexdigest()
        try:
            if not self.holds(sha256):
                self._write(self._path(sha256), data)
        except OSError as error:
            raise PicturesNotKept(
                f"Pictures cannot be written to {self.place}: {error.strerror or error}. Make room "
                "there, or allow writing; then take the folder in again."
            ) from error
        return sha256

    def read(self, sha256: str) -> bytes:
        """Return the picture of that name.

        Raises
        ------
        PictureMissing
            If there is none.
        PictureDamaged
            If its bytes are not those it was named for.
        """
        try:
            data: bytes = self._files.cat_file(self._path(sha256))
        except FileNotFoundError as error:
            raise PictureMissing(
                f"The picture {sha256[:12]} is not in {self.place}. Bring it back, or {_REPAIR}"
            ) from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise PictureDamaged(
                f"The picture {self._path(sha256)} is not what was stored. Delete that file, then "
                f"{_REPAIR}"
            )
        return data

    def holds(self, sha256: str) -> bool:
        """Tell whether the picture is there, whole and as it was stored."""
        try:
            data = self._files.cat_file(self._path(sha256))
        except FileNotFoundError:
            return False
        return hashlib.sha256(data).hexdigest() == sha256

    def missing(self, names: Iterable[str]) -> tuple[str, ...]:
        """Return which of the pictures are not there; whether the others are whole is not asked."""
        return tuple(name for name in names if not self._files.exists(self._path(name)))

    def _path(self, sha256: str) -> str:
        if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
            raise PictureMissing(f"{sha256!r} is no name of a picture: 64 hex digits are needed.")
        return f"{self._root}/{sha256[:2]}/{sha256}"

    def _write(self, path: str, data: bytes) -> None:
        name = path.rsplit("/", 1)[1]
        coming = f"{self._root}/{COMING}/{name}-{os.getpid()}-{secrets.token_hex(4)}"
        for folder in (coming.rsplit("/", 1)[0], path.rsplit("/", 1)[0]):
            self._files.makedirs(folder, exist_ok=True)
        try:
            with self._files.open(coming, "wb") as file:
                file.write(data)
                if self._is_local:  # on the disk before its row: a power cut must not part them
                    file.flush()
                    os.fsync(file.fileno())
            self._files.mv(coming, path)
        except BaseException:
            if self._files.exists(coming):
                self._files.rm_file(coming)
            raise
