"""Photos without pictures: where the corners of a card and a part's edge fall, by a camera written apart from the measuring code.

What is left out is finding corners and edge in the picture; they are given, the corners with noise. So thousands of
cases tell what camera, lens, bow, print and typed values do to a profile, and whether the stated uncertainty holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photo.render_camera import make_camera
from photo.render_profile import nose_outline
from ribwright.core.metrology.best_fit import best_fit
from ribwright.core.metrology.camera import FocalPrior, View, solve_view
from ribwright.core.metrology.gauge_sheet import profile_card_layout
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.profile import geometry_sigma
from ribwright.core.metrology.profile_rows import placed_target
from ribwright.core.metrology.typed import PrintScale, ProfileInput

PICTURE = 4032, 3024
CALIPER_MM, HEIGHT_MM = 0.1, 0.3  # 95 % of what is typed


@dataclass(frozen=True, slots=True)
class Case:
    """What varies; ``height_typed_mm`` None: as it is, give or take ``HEIGHT_MM``. ``wave_mm``: of the paper on its board, which no term of
    the bow follows.
    """

    seed: int
    distance_mm: float
    tilt_deg: float
    corner_px: float = 0.06
    bow_mm: float = 1.0
    height_mm: float = 0.0
    height_typed_mm: float | None = None
    share: float = 1.0  # of the corners that are seen
    wave_mm: float = 0.0


def random_case(seed: int) -> Case:
    """Within the instructions: 25 to 35 cm, up to 20 degrees, corners good to .03 to .12 pixels, the card bowed by 1 mm or so."""
    rng = np.random.default_rng(seed)
    return Case(
        seed=seed,
        distance_mm=rng.uniform(250, 350),
        tilt_deg=rng.uniform(0, 20),
        corner_px=rng.uniform(0.03, 0.12),
        height_mm=rng.uniform(-1.5, 3.0),
        share=rng.uniform(0.6, 1.0),
    )


def card():
    """A card for a nose of 22 mm radius with legs of 85 mm, as it is printed for one."""
    return layout_from(profile_card_layout(name="nose", outline_mm=nose_outline(22, 10, 85)))


def measured(case: Case, layout) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Deviation of a part that is exactly its target, one sigma of it, and the deviation by a plain homography alone, (61,) each."""
    rng = np.random.default_rng(case.seed + 1_000_000)
    true = rng.uniform(0.96, 1.04) * (1 + np.array([0.5, -0.5]) * rng.normal(0, 0.003))
    camera = make_camera(
        rng, look_at=np.array(layout.size_mm) / 2 * true, distance=case.distance_mm, tilt_deg=case.tilt_deg
    )
    chess = layout.chess_xy_mm * true
    middle, half = (chess.max(axis=0) + chess.min(axis=0)) / 2, np.ptp(chess, axis=0) / 2
    bow = rng.normal(0, case.bow_mm, 3) * (1, 1, 0.4)

    along = rng.normal(0, 1, 2)
    along *= 2 * np.pi / rng.uniform(50, 150) / np.hypot(*along)
    begins = rng.uniform(0, 2 * np.pi)

    def surface(xy):
        at = (xy - middle) / half
        bowed = bow[0] * at[:, 0] ** 2 + bow[1] * at[:, 1] ** 2 + bow[2] * at[:, 0] * at[:, 1]
        return bowed + case.wave_mm * np.sin(xy @ along + begins)

    seen = rng.random(len(chess)) < case.share
    px = camera.pixels(np.column_stack([chess, surface(chess)])) + rng.normal(
        0, case.corner_px, (len(chess), 2)
    )
    inside = (px > 5).all(axis=1) & (px < np.array(PICTURE) - 6).all(axis=1)
    bars = {bar.axis: bar.nominal_mm for bar in layout.bars}
    typed_scale = true + rng.normal(0, CALIPER_MM / 2, 2) / np.array([bars["x"], bars["y"]])
    scale = PrintScale(*typed_scale.tolist(), CALIPER_MM / bars["x"], CALIPER_MM / bars["y"], ())
    used = seen & inside
    view = solve_view(
        xy_mm=layout.chess_xy_mm[used] * typed_scale,
        pixels=px[used],
        size_px=PICTURE,
        prior=FocalPrior(2912.0, 0.04),
        bar_sigma=(scale.u95_x / 2, scale.u95_y / 2),
    )
    # the part stands a little off and turned against its place on the card
    target = layout.target
    outline = target.outline_mm
    centre = outline.mean(axis=0)
    turn = rng.normal(0, np.radians(0.3))
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    part = (outline - centre) @ turned.T + centre * true + rng.normal(0, 0.4, 2)
    on_card = target.arc_xy_mm - centre + centre * true
    edge = camera.pixels(
        np.column_stack([part, np.full(len(part), surface(on_card).mean() - case.height_mm)])
    )
    height = case.height_typed_mm
    if height is None:
        height = case.height_mm + rng.normal(0, HEIGHT_MM / 2)
    typed = ProfileInput(scale, height, 0.5, 0.8, "white", laid=False)
    placed = placed_target(target, scale, view)
    z = float(view.surface_mm(placed.arc_xy_mm).mean()) - height
    deviation, _, _ = best_fit(placed.arc_xy_mm, placed.normal_out, _on_plane(view, edge, z, part))
    plain = _by_homography(layout.chess_xy_mm[used] * typed_scale, px[used], edge)
    alone, _, _ = best_fit(placed.arc_xy_mm, placed.normal_out, plain)
    return deviation, geometry_sigma(view, placed, z, typed), alone


def _on_plane(view: View, pixels: np.ndarray, z: float, start: np.ndarray) -> np.ndarray:
    """Where on the plane z the view sees pixels (n, 2): Newton's steps from ``start``."""
    xy = start.copy()
    for _ in range(6):
        world = np.column_stack([xy, np.full(len(xy), z)])
        now = view.pixels(world)
        slope = np.stack([(view.pixels(world + step) - now) / 0.01 for step in 0.01 * np.eye(3)[:2]], axis=2)
        xy = xy + np.linalg.solve(slope, (pixels - now)[..., None])[..., 0]
    return xy


def _by_homography(xy_mm: np.ndarray, pixels: np.ndarray, edge: np.ndarray) -> np.ndarray:
    import cv2

    matrix, _ = cv2.findHomography(pixels, xy_mm)
    return cv2.perspectiveTransform(edge[None], matrix)[0]
