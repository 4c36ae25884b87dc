"""The part laid onto its target as it fits best: a shift and a turn, over all places."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CARRIED_MM = 4.0  # how far the traced line is carried on, straight, at its ends
TOGETHER_MM = 10.0  # along the arc: how far what leads the edge astray does so alike


def best_fit(
    target_xy: Floats, normal: Floats, contour: Floats
) -> tuple[Floats, Floats, tuple[float, float, float]]:
    """Deviation along the moved target's normals after the least-squares fit in dx, dy and rotation.

    Returns:
        deviation (m,) after the fit, deviation before it, and dx_mm, dy_mm, rotation_rad of the part.
    """
    centre = target_xy.mean(axis=0)
    pose = np.zeros(3)
    contour = _carried_on(contour)
    a, d = contour[:-1], np.diff(contour, axis=0)
    raw = deviation = np.full(len(target_xy), np.nan)
    for turn in range(6):
        c, s = np.cos(pose[2]), np.sin(pose[2])
        turned = np.array([[c, -s], [s, c]])
        p, n = (target_xy - centre) @ turned.T + centre + pose[:2], normal @ turned.T
        deviation = _along_normals(p, n, a, d)
        if turn == 0:
            raw = deviation
        use = np.isfinite(deviation)
        step = np.linalg.lstsq(fit_push(p, n)[use], deviation[use], rcond=None)[0]
        pose = pose + step
        if np.abs(step[:2]).max() < 1e-5 and abs(step[2]) < 1e-7:
            break
    return deviation, raw, (float(pose[0]), float(pose[1]), float(pose[2]))


def _carried_on(contour: Floats) -> Floats:
    """The line a little longer at both ends: a part that slid along its target is still met by all its normals.

    Were places lost and found again from turn to turn of the fit, it would not come to rest.
    """
    ends = []
    for part in (contour[8::-1], contour[-9:]):
        run = part[-1] - part[0]
        ends.append(part[-1] + CARRIED_MM * run / max(float(np.hypot(*run)), 1e-9))
    return np.vstack([ends[0], contour, ends[1]])


def _along_normals(p: Floats, n: Floats, a: Floats, d: Floats) -> Floats:
    """Signed distance from each p along n to the nearest crossing with the line a, a + d, …; else nan."""
    line = np.vstack([a, a[-1:] + d[-1:]])
    aside = np.outer(n[:, 0], line[:, 1]) - np.outer(n[:, 1], line[:, 0])
    left = aside > (n[:, 0] * p[:, 1] - n[:, 1] * p[:, 0])[:, None]
    place, k = np.nonzero(
        left[:, 1:] != left[:, :-1]
    )  # the line changes over from one side of the normal to the other
    rel, at_d, at_n = a[k] - p[place], d[k], n[place]
    det = at_n[:, 1] * at_d[:, 0] - at_n[:, 0] * at_d[:, 1]
    along = (rel[:, 1] * at_d[:, 0] - rel[:, 0] * at_d[:, 1]) / np.where(np.abs(det) < 1e-12, 1e-12, det)
    nearest = np.full(len(p), np.nan)
    order = np.argsort(-np.abs(along), kind="stable")
    nearest[place[order]] = along[order]  # the last one written is the nearest
    return nearest


def fit_push(at: Floats, normal: Floats) -> Floats:
    """What a shift and a turn (about the mean of ``at``) do to the deviation at each place, (m, 3)."""
    lever = at - at.mean(axis=0)
    return np.column_stack([normal, normal[:, 1] * lever[:, 0] - normal[:, 0] * lever[:, 1]])


def through_the_fit(push: Floats, arc_mm: Floats, sigma_mm: Floats) -> Floats:
    """One sigma of every place's deviation after the best fit, from what moves the fit.

    Args:
        push: shape (places, 3), what a shift and a turn of the part do to the deviation at each place.
        arc_mm: shape (places,).
        sigma_mm: shape (places,), of what may be wrong there; neighbours are wrong alike.
    """
    alike = np.exp(-np.abs(arc_mm[:, None] - arc_mm[None, :]) / TOGETHER_MM)
    error = sigma_mm[:, None] * alike * sigma_mm[None, :]
    inverse = np.linalg.pinv(push)
    pose = inverse @ error @ inverse.T
    return np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", push, pose, push), 0.0))
