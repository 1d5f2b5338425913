"""What a photograph's file says before any pixel is decoded; unfit files are refused here."""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from datetime import datetime

from PIL import ExifTags, Image, UnidentifiedImageError

from vision.errors import PhotoUnreadable
from vision.settings import VisionSettings

LEAST_SIDE_PX = 200
"""A leaf in fewer pixels has neither a true edge nor a figure."""

_KINDS = ("JPEG", "PNG", "TIFF", "WEBP")
_RAW_TAGS = (50706,)
"""DNGVersion."""
_REDUCED_COPY = 254
"""NewSubfileType; bit 0 marks a reduced copy (TIFF 6.0), as camera raw files show outwardly."""


@dataclass(frozen=True, slots=True)
class PhotoHeader:
    """Kind, size and EXIF words of a photograph."""

    kind: str
    """JPEG, PNG, TIFF or WEBP."""
    width: int
    height: int
    """As stored, px."""
    orientation: int
    """1 to 8, as in EXIF; 1 is upright."""
    is_deep: bool
    """More than 8 bits a channel."""
    profile: bytes | None
    is_adobe_rgb: bool
    """Said by EXIF alone (the option file of the camera design rule DCF 2.0), with no profile."""
    taken_at: str | None
    focal_35mm: float | None

    @property
    def upright_size(self) -> tuple[int, int]:
        """Width and height once turned upright, px."""
        sides = (self.width, self.height)
        return sides if self.orientation < 5 else sides[::-1]


def read_header(data: bytes, *, settings: VisionSettings) -> PhotoHeader:
    """Return what the file says of its picture.

    Raises
    ------
    PhotoUnreadable
        If the kind, the size or the way of holding colour cannot be used.
    """
    picture = _open(data, settings)
    _check_kind(picture, data)
    _check_size(picture, settings)
    _check_colour(picture)
    exif = _exif(picture)
    orientation = exif.get(ExifTags.Base.Orientation, 1)
    profile = picture.info.get("icc_profile")
    return PhotoHeader(
        kind="JPEG" if picture.format == "MPO" else str(picture.format),
        width=picture.width,
        height=picture.height,
        orientation=orientation if isinstance(orientation, int) and 1 <= orientation <= 8 else 1,
        is_deep=_bits(picture, data) > 8,
        profile=profile if isinstance(profile, bytes) and profile else None,
        is_adobe_rgb=str(exif.get(_INTEROP_INDEX, "")).startswith("R03"),
        taken_at=_iso_time(exif.get(ExifTags.Base.DateTimeOriginal)),
        focal_35mm=_positive(exif.get(ExifTags.Base.FocalLengthIn35mmFilm)),
    )


_INTEROP_INDEX = -1
"""Key for the one word kept from the interoperability block; its tag number is 1."""


def _open(data: bytes, settings: VisionSettings) -> Image.Image:
    try:
        return Image.open(io.BytesIO(data), formats=_KINDS)
    except Image.DecompressionBombError:
        most = 2 * (Image.MAX_IMAGE_PIXELS or 0) / 1e6
        raise PhotoUnreadable(
            f"The picture has more than {most:.0f} megapixels; up to "
            f"{min(most, settings.max_megapixels):.0f} are opened. Save it smaller."
        ) from None
    except UnidentifiedImageError:
        raise PhotoUnreadable(
            f"The file is {_guess_kind(data)}; a JPEG, PNG, TIFF or WebP photograph is needed. "
            "Set the camera or phone to JPEG, or export the picture as JPEG."
        ) from None
    except (OSError, SyntaxError, ValueError, EOFError, struct.error) as error:
        raise PhotoUnreadable(
            "The head of the file is damaged; a whole photograph is needed. Copy it from the "
            "camera again."
        ) from error


def _guess_kind(data: bytes) -> str:
    if data[4:8] == b"ftyp":
        brand = data[8:12]
        if brand in {b"heic", b"heix", b"mif1", b"msf1", b"heim", b"heis", b"hevc"}:
            return "a HEIC picture, which is not read here"
        if brand in {b"avif", b"avis"}:
            return "an AVIF picture, which is not read here"
        return "a film or another kind of container"
    if data[:3] == b"\xff\xd8\xff":
        return "a JPEG whose head is damaged"
    if data[:5] == b"%PDF-":
        return "a PDF"
    if not data.strip(b"\0"):
        return "nothing but zeros"
    sample = data[:512]
    if all(byte >= 32 or byte in b"\t\r\n\f" for byte in sample):
        return "text, not a picture"
    return "not a picture of a known kind"


def _check_kind(picture: Image.Image, data: bytes) -> None:
    if picture.format != "TIFF":
        return
    tags = getattr(picture, "tag_v2", {})
    is_raw = any(tag in tags for tag in _RAW_TAGS) or data[8:10] == b"CR"
    copy = tags.get(_REDUCED_COPY, 0)
    if is_raw or (isinstance(copy, int) and copy & 1):
        raise PhotoUnreadable(
            "The file is a camera raw file, which is not read here; a JPEG, PNG, TIFF or WebP "
            "photograph is needed. Develop it to TIFF or JPEG in sRGB, or set the camera to JPEG."
        )


def _check_size(picture: Image.Image, settings: VisionSettings) -> None:
    megapixels = picture.width * picture.height / 1e6
    found = f"The picture is {picture.width} x {picture.height} px"
    if megapixels > settings.max_megapixels:
        raise PhotoUnreadable(
            f"{found}, {megapixels:.0f} megapixels; up to {settings.max_megapixels:g} are opened. "
            "Save it smaller, or raise max_megapixels in the settings if there is memory for it."
        )
    if min(picture.size) < LEAST_SIDE_PX:
        raise PhotoUnreadable(
            f"{found}; at least {LEAST_SIDE_PX} px on the shorter side are needed. Use the "
            "camera's own file, not its small preview."
        )


def _check_colour(picture: Image.Image) -> None:
    if picture.mode in {"RGB", "RGBA", "RGBX", "YCbCr"}:
        return
    if picture.mode in {"1", "L", "LA", "La"} or picture.mode.startswith(("I", "F")):
        found = "a grey picture, which holds no colour"
        do = "Set the camera to colour and photograph the leaf again."
    elif picture.mode == "CMYK":
        found = "in CMYK, the inks of a printing press, which cannot hold the colours of the leaf"
        do = "Use the camera's own file, or export again as sRGB."
    elif picture.mode.startswith("P"):
        found = "reduced to a palette of at most 256 colours"
        do = "Use the camera's own file, or export again in full colour."
    else:
        found = f"in the colour mode {picture.mode}"
        do = "Export again as sRGB."
    raise PhotoUnreadable(f"The picture is {found}; a photograph in RGB is needed. {do}")


def _bits(picture: Image.Image, data: bytes) -> int:
    if picture.format == "PNG":
        return data[24]  # bit depth in the IHDR chunk (PNG specification, 11.2.2)
    if picture.format == "TIFF":
        bits = getattr(picture, "tag_v2", {}).get(258, 8)  # BitsPerSample
        each = [b for b in (bits if isinstance(bits, tuple) else (bits,)) if isinstance(b, int)]
        return max(each, default=8)
    return 8


def _exif(picture: Image.Image) -> dict[int, object]:
    """Return the words of all EXIF blocks in one dictionary; a damaged block is an empty one."""
    try:
        base = picture.getexif()
        words: dict[int, object] = {**base, **base.get_ifd(ExifTags.IFD.Exif)}
        interop = base.get_ifd(ExifTags.IFD.Interop)
    except (OSError, SyntaxError, ValueError, KeyError, TypeError, EOFError, struct.error):
        return {}
    words[_INTEROP_INDEX] = interop.get(1, "")
    return words


def _iso_time(word: object) -> str | None:
    """Return an EXIF time, ``2026:03:14 15:09:26``, in ISO 8601; None if it is no time."""
    try:
        taken = datetime.strptime(str(word).strip("\0 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
    except ValueError:
        return None
    return taken.isoformat()


def _positive(word: object) -> float | None:
    try:
        value = float(str(word))
    except ValueError:
        return None
    return value if 0 < value < 5000 else None
