from pathlib import Path

import pytest

from vision.errors import ShotListFaulty
from vision.shot import Laid, Lamp
from vision.shot_list import parse_shot_list, read_shot_list


def folder_with(tmp_path: Path, *names: str, shots: str | bytes | None = None) -> Path:
    for name in names:
        (tmp_path / name).write_bytes(b"x")
    if shots is not None:
        data = shots if isinstance(shots, bytes) else shots.encode()
        (tmp_path / "shots.csv").write_bytes(data)
    return tmp_path


def test_without_a_list_the_file_names_in_natural_order_are_the_leaves(tmp_path):
    folder = folder_with(tmp_path, "leaf 10.jpg", "leaf 2.JPG", "notes.txt", "leaf 1.tif")

    listed = read_shot_list(folder)

    assert [shot.leaf for shot in listed.shots] == ["leaf 1", "leaf 2", "leaf 10"]
    assert {(shot.laid, shot.lamp) for shot in listed.shots} == {(Laid.AS_LIES, Lamp.UNKNOWN)}


def test_each_column_is_read(tmp_path):
    folder = folder_with(
        tmp_path,
        "a.jpg",
        "b.jpg",
        "c.jpg",
        shots="file,leaf,laid,lamp,wet,length_mm,width_mm\n"
        "a.jpg,01,end-turned,B,1,2100,\n"
        "b.jpg,01+02,opened-pair,A,0,,\n"
        "c.jpg,,,blank-A,,,\n",
    )

    first, pair, blank = read_shot_list(folder).shots

    assert (first.laid, first.lamp, first.wet) == (Laid.END_TURNED, Lamp.B, True)
    assert (first.length_mm, first.width_mm) == (2100.0, None)
    assert pair.leaves == ("01", "02")
    assert blank.blank
    assert (blank.lamp, blank.leaves) == (Lamp.A, ())


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("gone.jpg,01,as-lies,A", "not in the folder"),
        ("a.jpg,01,sideways,A", "'sideways' in the column laid"),
        ("a.jpg,01,as-lies,C", "'C' in the column lamp"),
        ("a.jpg,01,opened-pair,A", "LEFT+RIGHT"),
        ("a.jpg,01+01,opened-pair,A", "LEFT+RIGHT"),
        ("../a.jpg,01,as-lies,A", "in the folder itself"),
        ("b.jpg,02,as-lies,A", "a second time"),
        (",02,as-lies,A", "names no file"),
    ],
)
def test_a_line_that_cannot_be_used_is_told_and_the_rest_is_kept(tmp_path, line, words):
    folder = folder_with(
        tmp_path, "a.jpg", "b.jpg", shots=f"file,leaf,laid,lamp\nb.jpg,02,as-lies,A\n{line}\n"
    )

    listed = read_shot_list(folder)

    assert [shot.file for shot in listed.shots] == ["b.jpg"]
    assert [words in refusal.reason for refusal in listed.refused] == [True]


@pytest.mark.parametrize("size", ["12", "9000", "two", "-5", "nan"])
def test_a_size_that_is_no_leaf_in_millimetres_is_refused(tmp_path, size):
    folder = folder_with(tmp_path, "a.jpg", shots=f"file,leaf,length_mm\na.jpg,01,{size}\n")

    listed = read_shot_list(folder)

    assert listed.shots == ()
    assert "millimetres" in listed.refused[0].reason


def test_lists_as_spreadsheets_write_them_are_read(tmp_path):
    folder = folder_with(
        tmp_path, "a.jpg", shots="\ufefffile;leaf;length_mm\r\na.jpg;01;2100,5\r\n;;\r\n".encode()
    )

    listed = read_shot_list(folder)

    assert [(shot.leaf, shot.length_mm) for shot in listed.shots] == [("01", 2100.5)]
    assert listed.refused == ()


def test_a_list_without_a_file_column_or_a_missing_folder_is_refused_whole(tmp_path):
    folder = folder_with(tmp_path, "a.jpg", shots="picture,leaf\na.jpg,01\n")

    with pytest.raises(ShotListFaulty, match="column 'file' is needed"):
        read_shot_list(folder)
    with pytest.raises(ShotListFaulty, match="no folder"):
        read_shot_list(tmp_path / "elsewhere")


def test_a_size_typed_once_holds_for_every_shot_of_the_leaf_and_its_pair(tmp_path):
    folder = folder_with(
        tmp_path,
        "a.jpg",
        "b.jpg",
        "c.jpg",
        "d.jpg",
        shots="file,leaf,laid,lamp,length_mm,width_mm\n"
        "a.jpg,01,as-lies,A,2100,240\nb.jpg,01,as-lies,B,,\n"
        "c.jpg,02,as-lies,A,2110,238\nd.jpg,01+02,opened-pair,A,,\n",
    )

    shots = read_shot_list(folder).shots

    assert [(shot.length_mm, shot.width_mm) for shot in shots] == [
        (2100, 240),
        (2100, 240),
        (2110, 238),
        (2105, None),
    ]


def test_the_thickness_of_a_stack_is_read_and_nonsense_refused():
    listed = parse_shot_list(
        "file,leaf,thickness_mm\na.jpg,1,22.5\nb.jpg,2,\nc.jpg,3,250\nd.jpg,4,-1\ne.jpg,5,0\n",
        files=["a.jpg", "b.jpg", "c.jpg", "d.jpg", "e.jpg"],
    )

    assert [shot.thickness_mm for shot in listed.shots] == [22.5, None, 0.0]
    assert [refusal.file for refusal in listed.refused] == ["c.jpg", "d.jpg"]
    assert "0 to 200" in listed.refused[0].reason
