"""What a customer gets: a PDF and a zip that are true, safe to open and small enough to mail."""

import csv
import io
import zipfile
from datetime import date
from pathlib import Path

import pytest
from PIL import Image

from catalog.errors import CatalogError, NotInCatalog
from catalog.picture_set import PictureSet, make_picture_set
from tests.catalog.painted_stock import painted_catalog
from vision.shot import Lamp, Shot

LABELS = ("01", "02", "03")
BOTH_LAMPS = [Shot(f"{leaf}{lamp}.jpg", leaf, lamp=Lamp(lamp)) for leaf in LABELS for lamp in "AB"]
DAY = date(2026, 3, 4)


def made(place: Path, folder: str = "out", **wishes: object) -> PictureSet:
    catalog, bundle = painted_catalog(place, BOTH_LAMPS)
    options: dict[str, object] = {"labels": LABELS, "on": DAY, **wishes}
    return make_picture_set(catalog, bundle, folder=place / folder, **options)  # type: ignore[arg-type]


def pictures_in(made_set: PictureSet) -> dict[str, bytes]:
    with zipfile.ZipFile(made_set.zip) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name.endswith(".jpg")}


def captions_in(made_set: PictureSet) -> list[dict[str, str]]:
    with zipfile.ZipFile(made_set.zip) as archive:
        text = archive.read("captions.csv").decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_zip_holds_every_leaf_and_every_match_in_order(tmp_path: Path) -> None:
    result = made(tmp_path)

    assert list(pictures_in(result)) == [
        "01-leaf-01.jpg",
        "02-leaf-02.jpg",
        "03-leaf-03.jpg",
        "04-book-match-lamp-a.jpg",
        "05-book-match-lamp-b.jpg",
        "06-slip-match-lamp-a.jpg",
        "07-slip-match-lamp-b.jpg",
    ]


def test_every_picture_is_marked_srgb_and_tells_nothing_of_the_camera(tmp_path: Path) -> None:
    for data in pictures_in(made(tmp_path)).values():
        picture = Image.open(io.BytesIO(data))
        assert picture.info["icc_profile"]
        assert not picture.getexif()
        assert b"Exif" not in data


def test_the_captions_give_sizes_in_both_systems_and_colour_with_its_class(tmp_path: Path) -> None:
    first = captions_in(made(tmp_path))[0]

    assert first["file"] == "01-leaf-01.jpg"
    assert (first["length_mm"], first["length_in"]) == ("2000.0", "78.74")
    assert first["colour"] == "relative"


def test_a_label_that_looks_like_a_formula_stays_a_label(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, [Shot("a.jpg", '=HYPERLINK("x")', lamp=Lamp.A)])

    result = make_picture_set(
        catalog, bundle, labels=['=HYPERLINK("x")'], folder=tmp_path / "out", on=DAY
    )

    assert captions_in(result)[0]["leaf"] == '\'=HYPERLINK("x")'
    assert list(pictures_in(result)) == ["01-leaf-hyperlink-x.jpg"]


def test_a_smaller_limit_gives_a_smaller_zip(tmp_path: Path) -> None:
    full = made(tmp_path / "full").zip.stat().st_size

    small = made(tmp_path / "small", most_bytes=full // 2)

    assert small.zip.stat().st_size <= full // 2
    assert len(pictures_in(small)) == 7


def test_a_limit_out_of_reach_is_told(tmp_path: Path) -> None:
    result = made(tmp_path, most_bytes=10_000)

    assert any("Choose fewer leaves" in note for note in result.notes)


def test_the_same_stock_on_the_same_day_gives_the_same_files(tmp_path: Path) -> None:
    one = made(tmp_path / "one")
    two = made(tmp_path / "two")

    assert one.pdf.read_bytes() == two.pdf.read_bytes()
    assert one.zip.read_bytes() == two.zip.read_bytes()


def test_the_pdf_keeps_its_pictures_as_jpeg_with_their_profile(tmp_path: Path) -> None:
    pdf = made(tmp_path).pdf.read_bytes()

    assert pdf.startswith(b"%PDF-")
    assert pdf.count(b"/DCTDecode") >= 7
    assert b"/ICCBased" in pdf


def test_names_go_on_the_cover_whatever_their_alphabet(tmp_path: Path) -> None:
    result = made(tmp_path, customer="Łukasz Żółć", dealer="Фанера Ελιά")

    assert result.pdf.stat().st_size > 20_000


def test_light_and_dark_that_cannot_be_shown_is_told_to_the_dealer(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(
        tmp_path, [Shot(f"{leaf}.jpg", leaf, lamp=Lamp.A) for leaf in LABELS]
    )

    result = make_picture_set(catalog, bundle, labels=LABELS, folder=tmp_path / "out", on=DAY)

    assert any(note.startswith("Light and dark cannot be shown") for note in result.notes)
    names = list(pictures_in(result))
    assert "04-book-match-light-and-dark-not-shown.jpg" in names
    assert "05-slip-match-lamp-a.jpg" in names


def test_a_single_leaf_makes_a_set_without_matches(tmp_path: Path) -> None:
    result = made(tmp_path, labels=("02",))

    assert list(pictures_in(result)) == ["01-leaf-02.jpg"]


def test_leaves_without_a_scale_make_a_set_that_says_so(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS, px_per_mm=None)

    result = make_picture_set(catalog, bundle, labels=LABELS, folder=tmp_path / "out", on=DAY)

    assert captions_in(result)[0]["length_mm"] == ""
    assert any("scale" in note for note in result.notes)


def test_files_are_named_for_the_flitch_and_bundle(tmp_path: Path) -> None:
    result = made(tmp_path)

    assert (result.pdf.name, result.zip.name) == ("ashgrove-17-1.pdf", "ashgrove-17-1.zip")


def test_no_leaf_chosen_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(CatalogError, match="Choose a leaf"):
        made(tmp_path, labels=())


def test_an_unknown_leaf_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(NotInCatalog, match="77"):
        made(tmp_path, labels=("01", "77"))


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, not a folder")

    with pytest.raises(CatalogError, match="Choose another folder"):
        made(tmp_path, folder="taken/out")
