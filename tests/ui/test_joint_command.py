"""``joint`` from the command line."""

from PIL import Image

from tests.ui.running import run_ui


def test_a_joint_is_told_in_words_and_drawn(stock, tmp_path):
    out = tmp_path / "joint.png"

    ran = run_ui("joint", "--bundle", 1, "--leaves", "02,03", "--out", out, environment=stock)

    assert ran.code == 0, ran.stderr
    assert "Leaf 02" in ran.stdout
    assert "leaf 03:" in ran.stdout
    assert "off its right edge as it lies in the stack" in ran.stdout
    with Image.open(out) as picture:
        assert picture.height > 3 * picture.width


def test_a_joint_keeps_to_what_may_be_lost(stock):
    words = ["--bundle", 1, "--leaves", "02,03", "--most-loss-mm", 16, "--json"]

    cut = run_ui("joint", *words, environment=stock).json

    assert cut["left_mm"] + cut["right_mm"] <= 16.1
    assert min(cut["left_mm"], cut["right_mm"]) >= 2.9


def test_a_joint_takes_two_leaves(stock):
    assert run_ui("joint", "--bundle", 1, "--leaves", "01-03", environment=stock).code == 2
