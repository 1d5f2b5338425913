from tests.ui.made_pairs import a_pair
from ui.leaf_film import (
    FilmLeaf,
    film_html,
    flag_parts,
    flag_words,
    joint_line_html,
    tag_html,
)

TWO = [FilmLeaf("01", "/picture/a", "1980 mm"), FilmLeaf("02", None, "")]


def test_the_joint_says_flag_step_and_lighter_leaf_in_words():
    html = film_html(TWO, [a_pair(3.0, low=2.5, high=3.5)])

    assert "strong" in html
    assert "+3.0 L*" in html
    assert "02 lighter" in html


def test_an_unmeasured_joint_says_so_and_shows_no_number():
    html = film_html(TWO, [a_pair(None)])

    assert "not measured" in html
    assert "L*" not in html


def test_a_range_is_shown_as_two_patterns_and_both_words():
    assert [str(part) for part in flag_parts("slight to strong")] == ["slight", "strong"]
    assert "fw-slight" in tag_html("slight to strong")
    assert "fw-strong" in tag_html("slight to strong")


def test_not_measured_is_read_as_one_flag_not_as_a_range():
    assert flag_words("not-measured") == "not measured"


def test_labels_typed_by_people_cannot_become_markup():
    html = film_html([FilmLeaf("<b>1</b>", None, "<i>")], [])

    assert "<b>1</b>" not in html
    assert "&lt;b&gt;1&lt;/b&gt;" in html


def test_a_face_of_very_many_joints_counts_them_and_lists_those_that_show_most():
    many = [a_pair(float(step)) for step in range(1, 60)] + [None]

    html = joint_line_html(many)

    assert "59 joints: 59 strong." in html
    assert html.count("fw-entry") == 12
    assert "+59.0 L*" in html
    assert "+47.0 L*" not in html
    assert joint_line_html(many[:24]).count("fw-entry") == 24
