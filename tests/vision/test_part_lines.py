"""Lines of a shot list that are the parts of one long leaf."""

import pytest

from vision.shot_list import parse_shot_list

FILES = ["a.jpg", "b.jpg", "c.jpg", "d.jpg"]


def listed(*lines: str):
    return parse_shot_list("file,leaf,lamp,part,thickness_mm\n" + "\n".join(lines), files=FILES)


def test_numbered_lines_of_one_leaf_are_one_shot_in_the_order_of_their_numbers():
    found = listed("d.jpg,06,A,,", "b.jpg,07,A,2,", "a.jpg,07,A,1,0.6", "c.jpg,07,A,3,")

    assert [shot.file for shot in found.shots] == ["d.jpg", "a.jpg"]
    assert [shot.parts for shot in found.shots] == [(), ("a.jpg", "b.jpg", "c.jpg")]
    assert found.shots[1].thickness_mm == 0.6
    assert found.refused == ()


def test_parts_under_another_lamp_are_another_shot():
    found = listed("a.jpg,07,A,1,", "b.jpg,07,A,2,", "c.jpg,07,B,1,", "d.jpg,07,B,2,")

    assert [shot.parts for shot in found.shots] == [("a.jpg", "b.jpg"), ("c.jpg", "d.jpg")]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["a.jpg,07,A,1,", "b.jpg,07,A,3,"], "lacks part 2"),
        (["a.jpg,07,A,2,", "b.jpg,07,A,3,"], "lacks part 1"),
        (["a.jpg,07,A,1,"], "lacks part 2"),
        (["a.jpg,07,A,1,", "b.jpg,07,A,1,"], "part 1 twice"),
    ],
)
def test_parts_with_a_gap_are_refused_whole_and_every_file_is_named(lines, words):
    found = listed(*lines, "d.jpg,08,A,,")

    assert [shot.file for shot in found.shots] == ["d.jpg"]
    assert [line.file for line in found.refused] == [line.split(",")[0] for line in lines]
    assert all(words in line.reason for line in found.refused)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("a.jpg,07,A,first,", "'first' in the column part"),
        ("a.jpg,07,A,0,", "from 1 to 20"),
        ("a.jpg,,A,1,", "names no leaf"),
        ("a.jpg,,blank-A,1,", "bare board"),
    ],
)
def test_a_number_that_makes_no_part_is_told(line, words):
    (refused,) = listed(line).refused

    assert words in refused.reason


def test_a_part_whose_file_is_missing_leaves_out_its_leaf():
    found = listed("a.jpg,07,A,1,", "gone.jpg,07,A,2,")

    assert found.shots == ()
    assert ["not in the folder" in line.reason for line in found.refused] == [True, False]
