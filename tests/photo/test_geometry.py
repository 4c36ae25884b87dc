"""Camera, lens, bow, print and typed values alone, without a picture: forty of the cases of ``benchmarks/photo_geometry.py``."""

import numpy as np
import pytest

from photo.geometry_cases import Case, card, measured, random_case


def test_the_camera_is_good_to_hundredths_and_says_how_good():
    layout = card()
    error, sigma, alone = (
        np.stack(part) for part in zip(*(measured(random_case(k), layout) for k in range(40)), strict=True)
    )
    rms, plain = (np.sqrt((one**2).mean(axis=1)) for one in (error, alone))
    assert rms.max() < 0.04
    assert np.median(plain) > 4 * np.median(rms)
    assert (np.abs(error) <= 2 * sigma).mean() > 0.97
    assert np.median(sigma) < 0.04


@pytest.mark.parametrize("height", [1.0, 3.0])
def test_a_height_that_is_not_typed_is_a_scale_error(height):
    layout = card()
    case = Case(3, 320, 8, corner_px=0.03, height_mm=height, height_typed_mm=0.0)
    # what remains after the best fit is the part grown by height over distance
    grown = layout.target.arc_xy_mm - layout.target.arc_xy_mm.mean(axis=0)
    size = height / 320 * (grown * layout.target.normal_out).sum(axis=1)
    push = np.column_stack(
        [
            layout.target.normal_out,
            (grown[:, 0] * layout.target.normal_out[:, 1] - grown[:, 1] * layout.target.normal_out[:, 0]),
        ]
    )
    left = size - push @ np.linalg.lstsq(push, size, rcond=None)[0]
    deviation, _, _ = measured(case, layout)
    assert np.sqrt(((deviation - left) ** 2).mean()) < 0.2 * np.sqrt((left**2).mean())
