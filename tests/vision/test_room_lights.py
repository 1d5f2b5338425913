import numpy as np
import pytest

from vision.room_lights import ROOM_WORDS, named_room, scaled_room


def test_a_window_at_the_side_stands_past_the_edge_of_a_wide_panel():
    usual = named_room("window-side", length_mm=2000.0, width_mm=1200.0)
    wide = named_room("window-side", length_mm=2000.0, width_mm=6000.0)

    assert usual.places_mm[:, 0].min() == 2000.0
    assert wide.places_mm[:, 0].min() == 3800.0


@pytest.mark.parametrize("name", sorted(ROOM_WORDS))
def test_a_light_told_in_another_unit_is_the_same_light(name):
    room = named_room(name, length_mm=2000.0)

    halved = scaled_room(room, 0.5)

    assert np.allclose(halved.places_mm * 2, room.places_mm)
    assert np.allclose(np.array(halved.eye_mm) * 2, room.eye_mm)
    assert halved.words == room.words
