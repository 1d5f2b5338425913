"""What a photograph's file says before any pixel is decoded; unfit files are refused here."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from PIL import ExifTags, Image, UnidentifiedImageError

from vision.colour_profile import NamedColours
from vision.errors import PhotoUnreadable
from vision.settings import VisionSettings

LEAST_SIDE_PX = 200
"""A leaf in fewer pixels has neither a true edge nor a figure."""

_KINDS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF")
_HDR_TRANSFERS = {16: "PQ", 18: "HLG"}
"""Transfer curves of high dynamic range (ITU-T H.273, table 3)."""
_PRIMARIES = {9: NamedColours.BT2020, 12: NamedColours.DISPLAY_P3}
"""Wide primaries (ITU-T H.273, table 2)."""


@dataclass(frozen=True, slots=True)
class PhotoHeader:
    """Kind, size and EXIF words of a photograph."""

    kind: str
    """JPEG, PNG, TIFF, WEBP, AVIF, HEIF or RAW."""
    width: int
    height: int
    """As stored, px."""
    orientation: int
    """1 to 8, as in EXIF; 1 is upright."""
    is_deep: bool
    """More than 8 bits a channel."""
    profile: bytes | None
    named: NamedColours | None
    """Colours that the file names (EXIF, or the numbers of ITU-T H.273), for want of a profile."""
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
    check_size(picture.width, picture.height, settings)
    check_mode(picture.mode)
    words = exif_words(picture.getexif)
    orientation = words.get(ExifTags.Base.Orientation, 1)
    profile = picture.info.get("icc_profile")
    named = words.colours
    if picture.format == "AVIF":
        named = coded_colours(*_nclx(data)) or named
    return PhotoHeader(
        kind="JPEG" if picture.format == "MPO" else str(picture.format),
        width=picture.width,
        height=picture.height,
        orientation=orientation if isinstance(orientation, int) and 1 <= orientation <= 8 else 1,
        is_deep=_bits(picture, data) > 8,
        profile=profile if isinstance(profile, bytes) and profile else None,
        named=named,
        taken_at=words.taken_at,
        focal_35mm=words.focal_35mm,
    )


_INTEROP_INDEX = -1
"""Key for the one word kept from the interoperability block; its tag number is 1."""


class ExifWords(dict[int, object]):
    """The words of all EXIF blocks in one dictionary, by tag number."""

    @property
    def taken_at(self) -> str | None:
        """Date and time, ISO 8601 without zone."""
        return iso_time(self.get(ExifTags.Base.DateTimeOriginal))

    @property
    def focal_35mm(self) -> float | None:
        """Focal length in mm, as if on film of 36 mm x 24 mm."""
        return _positive(self.get(ExifTags.Base.FocalLengthIn35mmFilm))

    @property
    def colours(self) -> NamedColours | None:
        """Adobe RGB, if the interoperability block says so (option file of DCF 2.0)."""
        is_adobe = str(self.get(_INTEROP_INDEX, "")).startswith("R03")
        return NamedColours.ADOBE_RGB if is_adobe else None


def exif_words(exif: Callable[[], Image.Exif]) -> ExifWords:
    """Return the words of all EXIF blocks; none if a block is damaged."""
    try:
        base = exif()
        words = ExifWords({**base, **base.get_ifd(ExifTags.IFD.Exif)})
        words[_INTEROP_INDEX] = base.get_ifd(ExifTags.IFD.Interop).get(1, "")
    except (OSError, SyntaxError, ValueError, KeyError, TypeError, EOFError, struct.error):
        return ExifWords()
    return words


def coded_colours(primaries: int, transfer: int) -> NamedColours | None:
    """Return the wide colours named by numbers of ITU-T H.273; None for those taken as sRGB.

    The curves of television and unknown ones are taken as that of sRGB, as viewers do.

    Raises
    ------
    PhotoUnreadable
        If the picture is of high dynamic range.
    """
    if transfer in _HDR_TRANSFERS:
        raise PhotoUnreadable(
            f"The picture is of high dynamic range ({_HDR_TRANSFERS[transfer]}), whose lightness "
            "depends on the screen; an ordinary photograph is needed. Switch HDR off in the camera."
        )
    return _PRIMARIES.get(primaries)


def _nclx(data: bytes) -> tuple[int, int]:
    """Return primaries and transfer of the first colour box; 2, unspecified, if there is none."""
    at = data.find(b"colrnclx", 0, 1 << 16)
    if at < 0 or len(data) < at + 12:
        return 2, 2
    primaries, transfer = struct.unpack_from(">2H", data, at + 8)
    return primaries, transfer


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
            f"The file is {_guess_kind(data)}; a photograph is needed (JPEG, PNG, TIFF, WebP, "
            "AVIF, HEIC or camera raw). Set the camera or phone to JPEG, or export the picture as "
            "JPEG."
        ) from None
    except (OSError, SyntaxError, ValueError, EOFError, struct.error) as error:
        raise PhotoUnreadable(
            "The head of the file is damaged; a whole photograph is needed. Copy it from the "
            "camera again."
        ) from error


def _guess_kind(data: bytes) -> str:
    if data[4:8] == b"ftyp":
        if data[8:12] in {b"avif", b"avis"}:
            return "an AVIF picture that is damaged, or that Pillow was built without"
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


def check_size(width: int, height: int, settings: VisionSettings) -> None:
    """Raise `PhotoUnreadable` if the picture is too large or too small, px."""
    megapixels = width * height / 1e6
    found = f"The picture is {width} x {height} px"
    if megapixels > settings.max_megapixels:
        raise PhotoUnreadable(
            f"{found}, {megapixels:.0f} megapixels; up to {settings.max_megapixels:g} are opened. "
            "Save it smaller, or raise max_megapixels in the settings if there is memory for it."
        )
    if min(width, height) < LEAST_SIDE_PX:
        raise PhotoUnreadable(
            f"{found}; at least {LEAST_SIDE_PX} px on the shorter side are needed. Use the "
            "camera's own file, not its small preview."
        )


def check_mode(mode: str) -> None:
    """Raise `PhotoUnreadable` if a picture of a mode of Pillow holds no colours of light."""
    if mode in {"RGB", "RGBA", "RGBX", "YCbCr"}:
        return
    if mode in {"1", "L", "LA", "La"} or mode.startswith(("I", "F")):
        found = "a grey picture, which holds no colour"
        do = "Set the camera to colour and photograph the leaf again."
    elif mode == "CMYK":
        found = "in CMYK, the inks of a printing press, which cannot hold the colours of the leaf"
        do = "Use the camera's own file, or export again as sRGB."
    elif mode.startswith("P"):
        found = "reduced to a palette of at most 256 colours"
        do = "Use the camera's own file, or export again in full colour."
    else:
        found = f"in the colour mode {mode}"
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


def iso_time(word: object) -> str | None:
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
