"""Make what goes out to a customer: a PDF to look at and a zip of pictures to keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from catalog.catalog import Catalog
from catalog.errors import CatalogError
from catalog.records import BundleId
from catalog.set_content import SetContent, gather
from catalog.set_pdf import paper_set
from catalog.set_words import file_word
from catalog.set_zip import pack
from vision.match_layout import Match
from vision.shot import Lamp

MAIL_BYTES = 7_000_000
"""Mail servers refuse from 10 to 25 MB, and mail makes a file a third larger (common practice)."""


@dataclass(frozen=True, slots=True)
class PictureSet:
    """The files of one picture set."""

    pdf: Path
    zip: Path
    notes: tuple[str, ...]
    """Sentences for the dealer about what could not be shown."""


def make_picture_set(
    catalog: Catalog,
    bundle_id: BundleId,
    *,
    labels: Sequence[str],
    folder: Path,
    customer: str = "",
    dealer: str = "",
    matches: Sequence[str] = ("book", "slip"),
    lamps: Sequence[Lamp] = (Lamp.A, Lamp.B),
    on: date | None = None,
    most_bytes: int = MAIL_BYTES,
) -> PictureSet:
    """Return the files of a picture set, written into a folder.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        Leaves to show, from left to right of the matches.
    folder : Path
        Made if it is not there. Files of the same name are replaced.
    customer, dealer : str
        Names for the cover; may be empty.
    matches : sequence of str
        Matches to show.
    lamps : sequence of Lamp
        Lights to show each in.
    on : date or None
        The date on the cover and in the files; today if None. All else being equal, the same
        date gives the same bytes.
    most_bytes : int
        Size to which the zip is brought by lowering the quality of its pictures.

    Returns
    -------
    PictureSet

    Raises
    ------
    CatalogError
        If no leaf is chosen, a leaf is not in the bundle, or the folder cannot be written.
    """
    if not labels:
        raise CatalogError("No leaf was chosen; a picture set needs at least one. Choose a leaf.")
    flitch, bundle, leaves, previews = gather(
        catalog, bundle_id, labels, matches=[Match(match) for match in matches], lamps=lamps
    )
    content = SetContent(
        flitch=flitch,
        bundle=bundle,
        leaves=leaves,
        previews=previews,
        customer=customer.strip(),
        dealer=dealer.strip(),
        on=on or datetime.now().astimezone().date(),
    )
    stem = f"{file_word(flitch.name)}-{file_word(bundle.label)}"
    packed, _ = pack(content, most_bytes=most_bytes)
    notes = list(dict.fromkeys(note for preview in previews for note in preview.notes))
    if len(packed) > most_bytes:
        notes.append(
            f"The zip has {len(packed) / 1e6:.1f} MB, more than the {most_bytes / 1e6:.1f} MB "
            "wanted, at the smallest pictures. Choose fewer leaves."
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        made = PictureSet(folder / f"{stem}.pdf", folder / f"{stem}.zip", tuple(notes))
        made.pdf.write_bytes(paper_set(content))
        made.zip.write_bytes(packed)
    except OSError as fault:
        raise CatalogError(
            f"The picture set cannot be written to {folder}: {fault.strerror}. Choose another "
            "folder, or make room."
        ) from fault
    return made
