"""From photograph files to light and dark, on scenes whose every number is known."""

import numpy as np
import pytest

from tests.vision.made_scenes import GREYS, WOODS, MadeLeaf, Scene, sent_by_fibres
from vision.alternation import SeenLeaf, predict_alternation
from vision.colour_space import LUMINANCE, lightness_of_y
from vision.errors import LeafNotFound
from vision.flags import PhotoFlag
from vision.folder_walk import Read, open_folder, read_folder
from vision.pipeline import read_shot
from vision.readings import ColourClass, ScaleClass
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp, Shot
from vision.shot_list import Refusal

SETTINGS = VisionSettings(strip_reflectances=GREYS)
WALNUT = np.array(WOODS["walnut"])
SLOPES_DEG = {"01": 3.0, "02": 1.5, "03": -2.5}
"""Of the fibres; with them a leaf gains light under one lamp and loses it under the other."""


def leaf(label: str, *, turned: bool = False) -> MadeLeaf:
    slope = SLOPES_DEG[label] * (-1 if turned else 1)
    return MadeLeaf(tuple(WALNUT), grain_seed=7, mirrored=turned, slope_deg=slope, sheen=0.25)


MIDDLE_MM = np.linspace(-350, 350, 141)


def make_folder(folder, *, strip=True, jitter=0.05):
    rng = np.random.default_rng(11)
    rows = ["file,leaf,laid,lamp,length_mm,width_mm"]
    for lamp, sign in (("A", 1), ("B", -1)):
        for label in SLOPES_DEG:
            scene = Scene(
                (leaf(label),),
                lamp=sign,
                strip=strip,
                exposure=float(np.exp(-0.1 + jitter * rng.standard_normal())),
                turned_deg=float(rng.uniform(-1, 1)),
                seed=int(rng.integers(1e6)),
            )
            scene.save(folder / f"{label}{lamp}.jpg")
            rows.append(f"{label}{lamp}.jpg,{label},as-lies,{lamp},1400,240")
        scene = Scene(
            (leaf("01"), leaf("02", turned=True)),
            lamp=sign,
            strip=strip,
            seed=int(rng.integers(1e6)),
        )
        scene.save(folder / f"pair{lamp}.jpg")
        rows.append(f"pair{lamp}.jpg,01+02,opened-pair,{lamp},1400,")
    (folder / "shots.csv").write_text("\n".join(rows))
    return folder


def read(folder, keep, settings=SETTINGS):
    opened = open_folder(folder, settings=settings)
    outcomes = list(read_folder(opened, settings=settings))
    assert all(isinstance(one, Read) for one in outcomes)
    return [
        SeenLeaf(one.shot, tuple(side.light for side in one.result.reading.leaves))
        for one in outcomes
        if keep(one.shot)
    ]


def true_step(left: str, right: str, sign: int) -> float:
    """Return the step, right less left, of the middle half of two leaves 1400 mm long."""
    sides = (leaf(left), leaf(right, turned=True))
    light = [sent_by_fibres(side, sign, MIDDLE_MM).mean() * WALNUT @ LUMINANCE for side in sides]
    return float(lightness_of_y(light[1]) - lightness_of_y(light[0]))


def test_lamp_swap_gives_the_step_of_every_pair_through_exposure_and_fall_off(tmp_path):
    seen = read(make_folder(tmp_path), lambda shot: shot.laid is Laid.AS_LIES)

    pairs = predict_alternation(list(SLOPES_DEG), seen, settings=SETTINGS)

    assert len(pairs) == 4
    for pair in pairs:
        sign = 1 if pair.light == "lamp A" else -1
        assert pair.lightness_step == pytest.approx(
            true_step(pair.left, pair.right, sign), abs=0.15
        )


def test_an_opened_pair_is_parted_at_its_joint_and_measured(tmp_path):
    seen = read(make_folder(tmp_path), lambda shot: shot.laid is Laid.OPENED_PAIR)

    for pair in predict_alternation(["01", "02"], seen, settings=SETTINGS):
        sign = 1 if pair.light == "lamp A" else -1
        assert pair.lightness_step == pytest.approx(true_step("01", "02", sign), abs=0.1)


def test_without_the_strip_the_board_alone_holds_exposures_together(tmp_path):
    folder = make_folder(tmp_path, strip=False, jitter=0.1)
    seen = read(folder, lambda shot: shot.laid is Laid.AS_LIES)

    for pair in predict_alternation(list(SLOPES_DEG), seen, settings=SETTINGS):
        sign = 1 if pair.light == "lamp A" else -1
        true = true_step(pair.left, pair.right, sign)
        assert pair.lightness_step == pytest.approx(true, rel=0.3, abs=0.1)
        assert pair.lightness_low < true < pair.lightness_high


def test_one_photograph_gives_size_colour_and_outline(tmp_path):
    scene = Scene((leaf("01"),), turned_deg=0.8)
    scene.save(tmp_path / "a.jpg")
    shot = Shot("a.jpg", "01", lamp=Lamp.A, length_mm=1400, width_mm=240)

    result = read_shot(tmp_path / "a.jpg", shot, settings=SETTINGS)

    (reading,) = result.reading.leaves
    rows = np.linspace(-700, 700, 281)
    luminance = float(WALNUT @ LUMINANCE) * sent_by_fibres(leaf("01"), 1, rows).mean()
    assert reading.size.width_mm == pytest.approx(240, abs=2)
    assert reading.size.scale_class is ScaleClass.TYPED
    assert reading.colour.lightness == pytest.approx(lightness_of_y(luminance), abs=0.5)
    assert reading.colour.colour_class is ColourClass.GREY_STEPS
    assert result.leaves[0].on_leaf.mean() > 0.9
    assert result.reading.flags == ()


def test_what_is_missing_is_flagged(tmp_path):
    Scene((leaf("01"),), strip=False).save(tmp_path / "a.jpg")

    result = read_shot(tmp_path / "a.jpg", Shot("a.jpg", "01"), settings=SETTINGS)

    assert set(result.reading.flags) == {PhotoFlag.SCALE_MISSING, PhotoFlag.STRIP_MISSING}


def test_typed_sizes_that_contradict_the_picture_are_flagged(tmp_path):
    Scene((leaf("01"),)).save(tmp_path / "a.jpg")
    shot = Shot("a.jpg", "01", length_mm=1400, width_mm=300)

    result = read_shot(tmp_path / "a.jpg", shot, settings=SETTINGS)

    assert result.reading.flags == (PhotoFlag.SIZE_DISAGREES,)


def test_a_pair_where_one_leaf_was_promised_is_taken_for_one_wide_leaf_or_refused(tmp_path):
    scene = Scene((leaf("01"), leaf("02", turned=True)), gap_mm=40, strip=False)
    scene.save(tmp_path / "a.jpg")

    with pytest.raises(LeafNotFound, match="opened-pair with LEFT"):
        read_shot(tmp_path / "a.jpg", Shot("a.jpg", "01"), settings=SETTINGS)


def test_a_pair_laid_with_a_gap_is_read_leaf_by_leaf(tmp_path):
    scene = Scene((leaf("01"), leaf("02", turned=True)), gap_mm=40, strip=False)
    scene.save(tmp_path / "a.jpg")
    shot = Shot("a.jpg", "01+02", Laid.OPENED_PAIR, Lamp.A, length_mm=1400)

    result = read_shot(tmp_path / "a.jpg", shot, settings=SETTINGS)

    assert [one.leaf for one in result.reading.leaves] == ["01", "02"]
    assert [one.size.width_mm for one in result.reading.leaves] == pytest.approx([240, 240], abs=3)


def test_one_bad_photograph_is_one_refusal_and_the_same_one_twice_counts_once(tmp_path):
    folder = make_folder(tmp_path)
    (folder / "shots.csv").unlink()
    (folder / "00.jpg").write_bytes((folder / "01A.jpg").read_bytes())
    (folder / "zz.jpg").write_text("not a picture")

    outcomes = list(read_folder(open_folder(folder, settings=SETTINGS), settings=SETTINGS))

    refused = {one.file: one.reason for one in outcomes if isinstance(one, Refusal)}
    assert "same photograph as 00.jpg" in refused["01A.jpg"]
    assert "zz.jpg" in refused
    assert sum(isinstance(one, Read) for one in outcomes) >= 5
