import pytest

from sample_images import FlitchPlan, draw_stack, shuffle_stack
from tests.ui.running import run_ui

PLAN = FlitchPlan(
    seed=77, species="walnut", leaves=10, length_mm=1200, width_mm=200, photo_px=(800, 1200)
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("stack")
    stack = shuffle_stack(PLAN, missing=1)
    for _ in draw_stack(PLAN, stack, place):
        pass
    return place, stack


def test_photographs_of_a_shuffled_stack_come_out_in_log_order(folder):
    place, stack = folder

    done = run_ui("order", place, "--json")

    assert done.code == 0
    found = done.json
    numbers = [stack[int(leaf["leaf"]) - 1].leaf for leaf in found["leaves"]]
    assert numbers in (sorted(numbers), sorted(numbers, reverse=True))
    assert [leaf["position"] for leaf in found["leaves"]] == list(range(1, 10))
    assert all((place / leaf["file"]).is_file() for leaf in found["leaves"])
    assert len(found["gaps"]) == 8
    assert found["refused"] == []
    assert "leaves" in " ".join(found["summary"])


def test_an_order_that_is_known_is_kept(folder, tmp_path):
    place, _ = folder
    known = tmp_path / "known.csv"
    known.write_text("leaf,number,place\n003,2,\n001,1,\n007,,4\n", encoding="utf-8")

    done = run_ui("order", place, "--known", known, "--json")

    at = {leaf["leaf"]: leaf["position"] for leaf in done.json["leaves"]}
    assert at["007"] == 4
    assert len(at) == 9


def test_a_table_without_leaves_is_refused_in_a_sentence(folder, tmp_path):
    known = tmp_path / "known.csv"
    known.write_text("name,number\n003,2\n", encoding="utf-8")

    done = run_ui("order", folder[0], "--known", known)

    assert done.code == 3
    assert "column leaf" in done.stderr


@pytest.fixture(scope="module")
def taken_in(folder, tmp_path_factory):
    place = tmp_path_factory.mktemp("taken-in")
    at = ("--catalog", f"sqlite:///{place / 'catalog.db'}", "--pictures", place / "pictures")
    done = run_ui("take-in", folder[0], "--flitch", "Walnut 77", *at)
    assert done.code == 0, done.stderr
    return at


def test_a_bundle_of_the_catalogue_comes_out_in_log_order_from_its_kept_pictures(folder, taken_in):
    place, stack = folder

    done = run_ui("order", "--bundle", 1, "--json", *taken_in)

    assert done.code == 0
    found = done.json["leaves"]
    numbers = [stack[int(leaf["leaf"]) - 1].leaf for leaf in found]
    assert numbers in (sorted(numbers), sorted(numbers, reverse=True))
    assert len(numbers) == 9
    assert all((place / leaf["file"]).is_file() for leaf in found)
    laid = [leaf["laid"] for leaf in run_ui("order", place, "--json").json["leaves"]]
    assert [leaf["laid"] for leaf in found] in (laid, laid[::-1])


def test_a_bundle_that_is_not_there_is_named(taken_in):
    done = run_ui("order", "--bundle", 9, *taken_in)

    assert done.code == 3
    assert "9" in done.stderr


def test_folder_and_bundle_exclude_each_other(folder, taken_in):
    assert run_ui("order", folder[0], "--bundle", 1, *taken_in).code == 2
    assert run_ui("order", *taken_in).code == 2


def test_neighbours_of_the_recovered_order_are_compared(folder):
    place, stack = folder

    done = run_ui("alternation", place, "--recover-order", "--json")

    pairs = {(pair["left"], pair["right"]) for pair in done.json["pairs"]}
    steps = {abs(stack[int(a) - 1].leaf - stack[int(b) - 1].leaf) for a, b in pairs}
    assert len(pairs) == 8
    assert steps <= {1, 2}


def test_a_folder_without_photographs_gives_code_3(tmp_path):
    assert run_ui("order", tmp_path).code == 3
