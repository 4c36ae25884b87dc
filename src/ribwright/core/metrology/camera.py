"""One-photo calibration: where the camera was, its lens, and how the sheet bows, with priors.

The model maps a point (x, y, z) of the gauge sheet's physical frame to the picture: bow, rigid
motion, perspective, and the lens terms k1, k2, p1, p2 about a free principal point. All seventeen
numbers are found together as the most probable ones given the corners seen and what is known of
phones beforehand; the covariance at the solution carries the geometry's part of the uncertainty.
Equations: docs/physics/photo.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]

# Standard deviations of what is known before looking (practice; docs/physics/photo.md gives reasons).
PRIOR_CENTRE = 0.007  # of the picture's width
PRIOR_K1, PRIOR_K2, PRIOR_P = 0.07, 0.12, 0.001
PRIOR_BOW_MM = 1.5
FOCAL_KNOWN, FOCAL_UNKNOWN = 0.04, 0.30
CORNER_FLOOR_PX = 0.03  # no corner is believed better than this
PARAMETERS = 17  # rotation 3, translation 3, focal, centre 2, k1, k2, p1, p2, bow 3, stretch 1
BOW = slice(13, 16)
PRIOR_CAMERA_ASPECT = 2e-4


@dataclass(frozen=True, slots=True)
class FocalPrior:
    """What is known of the focal length beforehand, in pixels; ``relative`` is one sigma."""

    focal_px: float
    relative: float


@dataclass(frozen=True, slots=True)
class View:
    """A solved camera.

    Attributes:
        parameters: the seventeen numbers, in the order of ``PARAMETERS``.
        covariance: shape (17, 17), of those, one sigma squared.
        middle_mm: centre about which the bow is written.
        half_mm: half sizes to which the bow is scaled.
        share: how the stretch is shared between x (negative) and y: by how well each bar was measured.
        residual_px: robust scatter of a corner about the model, one axis.
        used: which of the corners offered were kept.
    """

    parameters: Floats
    covariance: Floats
    middle_mm: Floats
    half_mm: Floats
    share: Floats
    residual_px: float
    used: NDArray[np.bool_]

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return float(self.parameters[6])

    @property
    def bow_mm(self) -> Floats:
        """Height of the bow at the sheet's rim along x and along y, and its twist."""
        return self.parameters[BOW]

    def rotation(self) -> Floats:
        """Rotation matrix from the sheet's frame to the camera's."""
        import cv2

        return np.asarray(cv2.Rodrigues(self.parameters[:3].copy())[0], dtype=np.float64)

    def station_mm(self) -> Floats:
        """Where the camera's centre is, in the sheet's frame (z negative: in front of the page)."""
        return -self.rotation().T @ self.parameters[3:6]

    def tilt_deg(self) -> float:
        """Angle between the optical axis and the sheet's normal."""
        return float(np.degrees(np.arccos(np.clip(self.rotation()[2, 2], -1, 1))))

    def surface_mm(self, xy_mm: Floats) -> Floats:
        """z of the sheet's (bowed) surface at ``xy_mm``, shape (n, 2)."""
        return _bow_shape(xy_mm, self.middle_mm, self.half_mm) @ self.parameters[BOW]

    def stretch(self) -> float:
        """How much more the photo shows the print stretched one way against the other than the typed bars say."""
        return float(self.parameters[16])

    def stretched_mm(self, xy_mm: Floats) -> Floats:
        """Places on the print as the photo shows them stretched, from those that the typed bars give."""
        return xy_mm + self.stretch() * (xy_mm - self.middle_mm) * self.share

    def pixels(self, xyz_mm: Floats) -> Floats:
        """Picture coordinates of points, shape (n, 3) -> (n, 2)."""
        from ribwright.core.metrology.camera_compiled import projected

        return np.asarray(projected(self.parameters, self.rotation(), np.ascontiguousarray(xyz_mm)))

    def jacobian(self, xyz_mm: Floats) -> tuple[Floats, Floats]:
        """Pixels and their derivatives by the parameters, (n, 2) and (n, 2, 17); bow left out (0)."""
        fixed = np.zeros((len(xyz_mm), 3))
        pixels, jac = _derived(self.parameters, xyz_mm, fixed, fixed[:, :2])
        return pixels, jac.reshape(-1, 2, PARAMETERS)


def _derived(parameters: Floats, xyz_mm: Floats, bow: Floats, stretch_mm: Floats) -> tuple[Floats, Floats]:
    """Pixels (n, 2) and their derivatives (2n, 17) where ``bow`` and ``stretch_mm`` say how points move with those."""
    import cv2

    from ribwright.core.metrology.camera_compiled import derived

    rotation, turning = cv2.Rodrigues(parameters[:3].copy())
    pixels, jac = derived(
        parameters, rotation, turning, np.ascontiguousarray(xyz_mm), bow, np.ascontiguousarray(stretch_mm)
    )
    return np.asarray(pixels), np.asarray(jac)


def solve_view(
    *,
    xy_mm: Floats,
    pixels: Floats,
    size_px: tuple[int, int],
    prior: FocalPrior,
    bow_sigma_mm: float = PRIOR_BOW_MM,
    bar_sigma: tuple[float, float] = (3e-4, 3e-4),
    start: View | None = None,
    turns: int = 24,
) -> View:
    """Most probable camera for corners ``xy_mm`` (physical, z = bow) seen at ``pixels``.

    Args:
        xy_mm: shape (n, 2), in the sheet's physical frame.
        pixels: shape (n, 2), pixel centres at whole numbers.
        size_px: width and height of the picture.
        prior: what is known of the focal length.
        bow_sigma_mm: how far the sheet may bow.
        bar_sigma: relative one-sigma uncertainty of the print's scale along x and y.
        start: an earlier, coarser solution.
        turns: most Levenberg-Marquardt steps in each round.

    Raises:
        UnreadablePhotoError: the corners fit no camera (no picture of this sheet lying flat).
    """
    middle = np.array([np.ptp(xy_mm[:, i]) / 2 + xy_mm[:, i].min() for i in (0, 1)])
    half = np.maximum(np.array([np.ptp(xy_mm[:, i]) / 2 for i in (0, 1)]), 1.0)
    if start is not None:
        middle, half, parameters = start.middle_mm, start.half_mm, start.parameters.copy()
    else:
        parameters = _first_guess(xy_mm, pixels, size_px, prior.focal_px)
    total = bar_sigma[0] ** 2 + bar_sigma[1] ** 2
    share = np.array([-(bar_sigma[0] ** 2), bar_sigma[1] ** 2]) / total
    sheet = _Sheet(xy_mm, _bow_shape(xy_mm, middle, half), (xy_mm - middle) * share)
    mean, precision = _prior(
        size_px, prior, bow_sigma_mm, float(np.hypot(np.sqrt(total), PRIOR_CAMERA_ASPECT))
    )
    scatter, soft = np.inf, True
    miss, jac = _misses(parameters, sheet, pixels)
    for _ in range(4):  # Huber twice (nothing may be thrown out while the model is still wrong), then Tukey
        length = np.hypot(miss[0::2], miss[1::2])
        before, scatter = scatter, max(float(np.median(length)) / 1.18, CORNER_FLOOR_PX)
        if not soft and abs(before - scatter) < 0.02 * scatter:
            break
        for turn in range(turns):
            if turn == 0:
                damping, cost = 1e-4, _cost(miss, scatter, soft, parameters - mean, precision)
            normal, pull = _normal(jac, miss, scatter, soft, precision)
            diagonal = np.diag(damping * normal.diagonal())
            step = np.linalg.solve(normal + diagonal, pull - precision * (parameters - mean))
            tried = parameters + step
            miss_tried, jac_tried = _misses(tried, sheet, pixels)
            cost_tried = _cost(miss_tried, scatter, soft, tried - mean, precision)
            if cost_tried <= cost:
                gain, parameters, miss, jac, cost = (
                    cost - cost_tried,
                    tried,
                    miss_tried,
                    jac_tried,
                    cost_tried,
                )
                damping = max(damping * 0.1, 1e-12)
                if gain < 1e-3 + 1e-5 * cost:
                    break
            elif (damping := damping * 10) > 1e8:
                break
        soft = soft and scatter > 0.5
    length = np.hypot(miss[0::2], miss[1::2])
    if not np.isfinite(length).all():
        raise UnreadablePhotoError(
            "photo", because="how the camera stood over the gauge sheet can't be found"
        )
    scatter = max(float(np.median(length)) / 1.18, CORNER_FLOOR_PX)
    return View(
        parameters,
        np.asarray(np.linalg.inv(_normal(jac, miss, scatter, False, precision)[0]), dtype=np.float64),
        middle,
        half,
        share,
        scatter,
        length < 5.0 * scatter,
    )


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Corners as printed, the three bow shapes at each, and how each moves with the stretch."""

    xy_mm: Floats
    bow: Floats
    stretch_mm: Floats


def _bow_shape(xy_mm: Floats, middle_mm: Floats, half_mm: Floats) -> Floats:
    at = (xy_mm - middle_mm) / half_mm
    return np.column_stack([at[:, 0] ** 2, at[:, 1] ** 2, at[:, 0] * at[:, 1]])


def _misses(parameters: Floats, sheet: _Sheet, pixels: Floats) -> tuple[Floats, Floats]:
    """Seen minus predicted, (2n,), and the derivative of the prediction, (2n, 17), bow included."""
    xy = sheet.xy_mm + parameters[16] * sheet.stretch_mm
    world = np.column_stack([xy, sheet.bow @ parameters[BOW]])
    predicted, jac = _derived(parameters, world, sheet.bow, sheet.stretch_mm)
    return (pixels - predicted).ravel(), jac


def _normal(
    jac: Floats, miss: Floats, scatter: float, soft: bool, precision: Floats
) -> tuple[Floats, Floats]:
    """Matrix of the normal equations, the priors' precision in it, and what the misses pull."""
    weighted = jac * (np.repeat(_weight(miss, scatter, soft), 2) / scatter**2)[:, None]
    return weighted.T @ jac + np.diag(precision), weighted.T @ miss


def _weight(miss: Floats, scatter: float, soft: bool) -> Floats:
    size = np.hypot(miss[0::2], miss[1::2]) / scatter
    if soft:
        return np.asarray(1.0 / np.maximum(size / 2.5, 1.0))
    return np.asarray(np.clip(1 - (size / 5.0) ** 2, 0, 1) ** 2)


def _cost(miss: Floats, scatter: float, soft: bool, off: Floats, precision: Floats) -> float:
    """Robust cost whose gradient is what ``_weight`` gives, plus the priors'."""
    size = np.hypot(miss[0::2], miss[1::2]) / scatter
    if soft:
        each = np.where(size < 2.5, size**2, 5.0 * size - 6.25)
    else:
        each = 25.0 / 3.0 * (1 - np.clip(1 - (size / 5.0) ** 2, 0, 1) ** 3)
    return float(each.sum() + (precision * off**2).sum())


def _prior(
    size_px: tuple[int, int], prior: FocalPrior, bow_sigma_mm: float, stretch_sigma: float
) -> tuple[Floats, Floats]:
    width, height = size_px
    mean = np.zeros(PARAMETERS)  # rotation and place have no prior: precision 0
    mean[6:9] = prior.focal_px, (width - 1) / 2, (height - 1) / 2
    sigma = np.full(PARAMETERS, np.inf)
    sigma[6] = prior.focal_px * prior.relative
    sigma[7:9] = PRIOR_CENTRE * max(width, height)
    sigma[9:11] = PRIOR_K1, PRIOR_K2
    sigma[11:13] = PRIOR_P
    sigma[BOW] = bow_sigma_mm, bow_sigma_mm, 0.4 * bow_sigma_mm
    sigma[16] = stretch_sigma
    return mean, 1.0 / sigma**2


def _first_guess(xy_mm: Floats, pixels: Floats, size_px: tuple[int, int], focal_px: float) -> Floats:
    import cv2

    width, height = size_px
    matrix = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1.0]])
    world = np.column_stack([xy_mm, np.zeros(len(xy_mm))])
    try:
        found, rotation, translation = cv2.solvePnP(
            np.ascontiguousarray(world),
            np.ascontiguousarray(pixels),
            matrix,
            np.zeros(4),
            flags=cv2.SOLVEPNP_IPPE,
        )
    except cv2.error:
        found = False
    if not found or not np.isfinite(translation).all() or translation[2] <= 0:
        raise UnreadablePhotoError(
            "photo", because="how the camera stood over the gauge sheet can't be found"
        )
    start = np.zeros(PARAMETERS)
    start[:3], start[3:6] = rotation.ravel(), translation.ravel()
    start[6:9] = focal_px, (width - 1) / 2, (height - 1) / 2
    return start
