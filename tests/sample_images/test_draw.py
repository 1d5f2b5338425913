import csv
import json
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
import pytest
from PIL import ExifTags, Image, ImageOps

from sample_images import FlitchPlan, Scene, draw_flitch, draw_photo
from sample_images.colour import lab_of
from sample_images.scene import common_exposure, flitch_of
from sample_images.truth import leaf_truth, pair_truth

SMALL = FlitchPlan(seed=11, length_mm=900, width_mm=180, leaves=3, photo_px=(600, 900))
STILL = replace(
    SMALL, exposure_jitter=0, white_balance_jitter=0, pixel_noise=0, pose_jitter=0,
    placing_jitter=0, jpeg_quality=100, stains=0,
)  # fmt: skip


def light_of(path) -> np.ndarray:
    """Return a photograph in linear light."""
    with Image.open(path) as image:
        codes = np.asarray(ImageOps.exif_transpose(image), np.float64) / 255
    return np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)


def exif_of(path) -> Image.Exif:
    with Image.open(path) as image:
        return image.getexif()


def mask_of(outline, shape, *, inward_px: int = 0) -> np.ndarray:
    mask = np.zeros(shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(np.array(outline) * 16).astype(np.int32)], 1, shift=4)
    if inward_px:
        mask = cv2.erode(mask, np.ones((2 * inward_px + 1,) * 2, np.uint8))
    return mask.astype(bool)


def test_one_plan_gives_the_same_files_twice(tmp_path):
    for folder in ("one", "two"):
        list(draw_flitch(replace(SMALL, leaves=2), tmp_path / folder))

    for one in sorted((tmp_path / "one").iterdir()):
        assert one.read_bytes() == (tmp_path / "two" / one.name).read_bytes()


def test_another_seed_gives_other_wood(tmp_path):
    one = flitch_of(SMALL).leaf(1).lay("as-lies").light
    other = flitch_of(replace(SMALL, seed=12)).leaf(1).lay("as-lies").light

    assert np.corrcoef(one[..., 1].ravel(), other[..., 1].ravel())[0, 1] < 0.4


def test_files_list_and_truth_name_the_same_photographs(tmp_path):
    plan = replace(SMALL, leaves=2, shots=("as-lies/A", "opened-pair/B", "blank/A"), label="N7")

    written = list(draw_flitch(plan, tmp_path))

    with (tmp_path / "shots.csv").open() as file:
        rows = list(csv.DictReader(file))
    truth = json.loads((tmp_path / "truth.json").read_text())
    assert [path.name for path in written[-2:]] == ["shots.csv", "truth.json"]
    assert {row["file"] for row in rows} == {path.name for path in written[:-2]}
    assert {row["file"] for row in rows} == {photo["file"] for photo in truth["photos"]}
    assert {(row["leaf"], row["laid"], row["lamp"]) for row in rows} == {
        ("", "as-lies", "blank-A"),
        ("01", "as-lies", "A"),
        ("02", "as-lies", "A"),
        ("01+02", "opened-pair", "B"),
    }
    assert [leaf["label"] for leaf in truth["leaves"]] == ["01", "02"]
    assert truth["plan"]["shots"] == list(plan.shots)


@pytest.mark.parametrize("laid", ["as-lies", "end-turned", "face-over", "end-over"])
def test_the_outline_lies_on_the_edge_of_the_wood(tmp_path, laid):
    plan = replace(
        STILL, pose_jitter=1, placing_jitter=1, waney=True, end_damage=2, board="green", strip=False
    )
    bare = light_of_scene(plan, Scene(leaf=None), tmp_path)
    truth = draw_photo(plan, Scene(leaf=2, laid=laid), tmp_path / "leaf.jpg")
    picture = light_of(tmp_path / "leaf.jpg")
    hue = np.log(picture[..., 0] / picture[..., 1]) - np.log(bare[..., 0] / bare[..., 1]).mean()
    wood = cv2.morphologyEx((hue > 0.25).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))

    mask = mask_of(truth.outlines[0], picture.shape)

    both, either = (mask & (wood > 0)).sum(), (mask | (wood > 0)).sum()
    assert both / either > 0.98


def light_of_scene(plan, scene, tmp_path) -> np.ndarray:
    draw_photo(plan, scene, tmp_path / "scene.jpg")
    return light_of(tmp_path / "scene.jpg")


@pytest.mark.parametrize("lamp", ["A", "B"])
def test_the_true_step_is_what_the_opened_pair_shows(tmp_path, lamp):
    plan = replace(STILL, mean_tilt_deg=2.5, lobe_ratio=0.8, shots=("opened-pair/A",), strip=False)
    flitch = flitch_of(plan)
    truth = pair_truth(flitch.leaf(1), flitch.leaf(2), plan=plan)["lights"][lamp]
    bare = light_of_scene(plan, Scene(leaf=None, lamp=lamp), tmp_path)
    photo = draw_photo(plan, Scene(laid="opened-pair", lamp=lamp), tmp_path / "pair.jpg")

    factor = light_of(tmp_path / "pair.jpg") / bare * 0.28
    found = []
    for outline in photo.outlines:
        mask = mask_of(outline, factor.shape, inward_px=2)
        rows = np.flatnonzero(mask.any(axis=1))
        quarter = len(rows) // 4
        mask[: rows[quarter]] = False
        mask[rows[-quarter] :] = False
        found.append(lab_of(factor[mask].mean(axis=0))[0])

    assert found[1] - found[0] == pytest.approx(truth["lightness_step"], abs=0.15)
    assert abs(truth["lightness_step"]) > 2


def test_the_tilt_part_changes_sign_with_the_lamp_and_the_face_part_does_not():
    plan = replace(SMALL, mean_tilt_deg=2.0, face_albedo_sd=0.05)
    flitch = flitch_of(plan)

    lights = pair_truth(flitch.leaf(1), flitch.leaf(2), plan=plan)["lights"]

    assert lights["A"]["tilt_part"] == pytest.approx(-lights["B"]["tilt_part"])
    assert lights["A"]["face_part"] == pytest.approx(lights["B"]["face_part"])
    assert lights["A"]["tilt_part"] + lights["A"]["face_part"] == pytest.approx(
        lights["A"]["lightness_step"]
    )


def test_a_right_leaf_whose_fibres_fall_toward_the_lamp_is_the_lighter_one():
    plan = replace(SMALL, mean_tilt_deg=3.0, tilt_drift_deg=0, tilt_along_deg=0, lobe_ratio=0.8)
    flitch = flitch_of(plan)

    lights = pair_truth(flitch.leaf(1), flitch.leaf(2), plan=plan)["lights"]

    assert lights["A"]["tilt_only_step"] > 1
    assert lights["B"]["tilt_only_step"] < -1
    assert abs(lights["A"]["slip_step"]) < 0.5


def test_without_tilt_and_face_difference_a_booked_pair_shows_no_step():
    plan = replace(
        SMALL, mean_tilt_deg=0, tilt_drift_deg=0, tilt_along_deg=0, face_albedo_sd=0, face_lobe_sd=0
    )
    flitch = flitch_of(plan)

    lights = pair_truth(flitch.leaf(1), flitch.leaf(2), plan=plan)["lights"]

    assert abs(lights["A"]["lightness_step"]) < 0.15
    assert lights["A"]["delta_e00"] < 0.2


def test_a_leaf_turned_end_for_end_shows_what_the_other_lamp_shows(tmp_path):
    plan = replace(STILL, strip=False)
    one = light_of_scene(plan, Scene(leaf=2, laid="end-turned", lamp="A"), tmp_path)
    other = light_of_scene(plan, Scene(leaf=2, laid="as-lies", lamp="B"), tmp_path)

    assert np.abs(one - other[::-1, ::-1]).mean() < 0.004


def test_neighbouring_leaves_are_nearly_alike_and_drift_slowly():
    flitch = flitch_of(replace(SMALL, leaves=12))
    blurred = [
        cv2.GaussianBlur(np.log(flitch.leaf(number).lay("as-lies").light[..., 1]), (0, 0), 2)
        for number in (1, 2, 12)
    ]
    near, far = (np.corrcoef(blurred[0].ravel(), other.ravel())[0, 1] for other in blurred[1:])

    assert near > 0.9
    assert far < near - 0.02


def test_the_mean_colour_is_that_of_the_species():
    for species, lightness in (("walnut", 48), ("oak", 66), ("maple", 82), ("cherry", 62)):
        plan = replace(SMALL, species=species, sapwood=False)
        truth = leaf_truth(flitch_of(plan).leaf(2))

        assert truth["lab"][0] == pytest.approx(lightness, abs=6)


def test_exposure_is_locked_but_for_its_jitter(tmp_path):
    shot = draw_photo(SMALL, Scene(), tmp_path / "a.jpg")

    assert shot.gain == pytest.approx(common_exposure(SMALL) * shot.exposure)
    assert 0.85 < shot.exposure < 1.15
    assert 0.5 < light_of(tmp_path / "a.jpg").max() <= 1.0


def test_a_second_leaf_a_bare_board_and_a_leaf_past_the_frame_can_be_drawn(tmp_path):
    two = draw_photo(SMALL, Scene(second_leaf=3), tmp_path / "two.jpg")
    none = draw_photo(SMALL, Scene(leaf=None), tmp_path / "none.jpg")
    cut = draw_photo(SMALL, Scene(shift_mm=(0, 300)), tmp_path / "cut.jpg")

    assert (len(two.outlines), len(none.outlines), len(cut.outlines)) == (2, 0, 1)
    assert min(y for _, y in cut.outlines[0]) < 0
    assert (two.leaf, none.leaf, none.lamp) == ("01", "", "blank-A")


def test_marker_rails_stand_where_they_say(tmp_path):
    plan = replace(STILL, rails=True, photo_px=(1000, 1500))
    draw_photo(plan, Scene(), tmp_path / "rails.jpg")
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250))

    corners, ids, _ = detector.detectMarkers(cv2.imread(str(tmp_path / "rails.jpg")))

    middles = dict(
        zip(np.ravel(ids).tolist(), np.reshape(corners, (-1, 4, 2)).mean(1), strict=True)
    )
    left = [middles[number][1] for number in sorted(middles) if number < 100]
    assert len(left) >= 8
    assert all(later > earlier for earlier, later in pairwise(left))
    assert {number for number in middles if number >= 100}


def test_the_file_says_which_camera_and_sometimes_where(tmp_path):
    for share in (0.0, 1.0):
        draw_photo(replace(SMALL, gps_share=share), Scene(), tmp_path / f"{share}.jpg")
    exif = [exif_of(tmp_path / f"{share}.jpg") for share in (0.0, 1.0)]

    assert not exif[0].get_ifd(ExifTags.IFD.GPSInfo)
    assert exif[1].get_ifd(ExifTags.IFD.GPSInfo)
    assert exif[0].get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] == 28


def test_a_turned_file_shows_the_same_upright_picture(tmp_path):
    draw_photo(replace(SMALL, jpeg_quality=100), Scene(), tmp_path / "upright.jpg")
    draw_photo(replace(SMALL, jpeg_quality=100, orientation=6), Scene(), tmp_path / "turned.jpg")

    with Image.open(tmp_path / "turned.jpg") as turned:
        assert turned.size == (900, 600)
    apart = light_of(tmp_path / "turned.jpg") - light_of(tmp_path / "upright.jpg")
    assert np.abs(apart).mean() < 0.003


@pytest.mark.parametrize(
    "wrong", [{"species": "teak"}, {"cut": "sawn"}, {"shots": ("upside/A",)}, {"leaves": 0}]
)
def test_a_plan_that_cannot_be_drawn_is_refused_at_once(wrong):
    with pytest.raises(ValueError, match=r"The (plan|shot)"):
        FlitchPlan(seed=1, **wrong)
