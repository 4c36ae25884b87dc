"""Real photos of printed boards: the camera solved from one of them against the print and the published calibration."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from photo.real_boards import AS_PRINTED, charuco_layout, chessboard, held_out
from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.sighting import sight

REAL = Path(__file__).parents[1] / "data" / "photo" / "real"
# of the camera behind the chessboards, from thirteen photos together (left_intrinsics.yml of Debian's opencv-doc 4.6.0):
# focal length in pixels; by photo the board's place before the camera, metres
PUBLISHED_FOCAL_PX = 535.916
PUBLISHED_PLACE_M = {
    "chess02": (-0.0586, 0.0829, 0.3538),
    "chess05": (0.0585, -0.1153, 0.3172),
    "chess13": (0.0337, -0.0916, 0.2914),
}


def _grey(name):
    return cv2.imread(str(REAL / name), cv2.IMREAD_GRAYSCALE)


def test_a_real_board_is_found_whole_whatever_focal_length_it_is_told():
    layout = charuco_layout()
    grey = _grey("charuco.jpg")
    focal = []
    for told in (0.7, 1.0):
        seen = sight(
            grey,
            layout=layout,
            scale=AS_PRINTED,
            prior=FocalPrior(told * grey.shape[1], 0.3),
            bow_sigma_mm=1.5,
        )
        assert seen.corners == 24
        assert seen.view.residual_px < 0.3
        focal.append(seen.view.focal_px)
    assert abs(focal[0] / focal[1] - 1) < 0.01
    miss = [
        held_out(grey, layout.chess_xy_mm, seen.view, layout.square_mm, np.arange(24) == k).miss_px[0]
        for k in range(24)
    ]
    # a square has 48 pixels
    assert np.sqrt(np.mean(np.square(miss))) < 0.4


@pytest.mark.parametrize("name", sorted(PUBLISHED_PLACE_M))
def test_a_window_in_a_real_chessboard_is_carried_over_from_what_lies_round_it(name):
    got = chessboard(_grey(f"{name}.png"))
    assert got is not None
    assert len(got.miss_px) == 20
    assert got.view.residual_px < 0.2
    assert got.rms_mm < 0.006 * 25.0
    assert abs(got.view.focal_px / PUBLISHED_FOCAL_PX - 1) < 0.05
    # from one photo focal length and distance are known together only by their ratio
    far = np.linalg.norm(got.view.parameters[3:6]) / got.view.focal_px
    assert abs(far / (1000 * np.linalg.norm(PUBLISHED_PLACE_M[name]) / PUBLISHED_FOCAL_PX) - 1) < 0.01
