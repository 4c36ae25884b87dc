"""A made-up camera and sensor for the tests' own photos: lens, blur, noise, JPEG.

Written apart from the measuring code on purpose: it shares no formula with it but the lens model.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

WIDTH, HEIGHT = 4032, 3024


@dataclass(frozen=True)
class Camera:
    """Pinhole with lens terms; R takes sheet axes to camera axes, C is the camera in the sheet's frame."""

    f: float
    cx: float
    cy: float
    k1: float
    k2: float
    p1: float
    p2: float
    R: np.ndarray
    C: np.ndarray

    def rays(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """Directions in the sheet's frame for pixel places of any shape -> (..., 3)."""
        xd, yd = (u - self.cx) / self.f, (v - self.cy) / self.f
        x, y = xd.copy(), yd.copy()
        for _ in range(6):
            r2 = x * x + y * y
            radial = 1 + self.k1 * r2 + self.k2 * r2 * r2
            dx = 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x)
            dy = self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y
            x, y = (xd - dx) / radial, (yd - dy) / radial
        return np.stack([x, y, np.ones_like(x)], axis=-1) @ self.R

    def pixels(self, xyz: np.ndarray) -> np.ndarray:
        """Pixel places of points (n, 3) -> (n, 2)."""
        q = (xyz - self.C) @ self.R.T
        x, y = q[:, 0] / q[:, 2], q[:, 1] / q[:, 2]
        r2 = x * x + y * y
        radial = 1 + self.k1 * r2 + self.k2 * r2 * r2
        xd = x * radial + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x)
        yd = y * radial + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y
        return np.column_stack([self.f * xd + self.cx, self.f * yd + self.cy])


def make_camera(rng, *, look_at, distance, tilt_deg, azimuth_deg=None, roll_deg=None, nominal=2912.0):
    """A camera ``distance`` mm from ``look_at`` on the sheet, tilted towards a random side."""
    azimuth = np.radians(rng.uniform(0, 360) if azimuth_deg is None else azimuth_deg)
    tilt = np.radians(tilt_deg)
    forward = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    roll = np.radians(rng.uniform(-10, 10) if roll_deg is None else roll_deg)
    right = np.array([np.cos(roll), np.sin(roll), 0.0])
    right -= forward * (forward @ right)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    aim = np.array([*look_at, 0.0]) + np.array([*rng.uniform(-8, 8, 2), 0.0])
    return Camera(
        f=nominal * (1 + rng.uniform(-0.03, 0.03)),
        cx=(WIDTH - 1) / 2 + rng.uniform(-20, 20),
        cy=(HEIGHT - 1) / 2 + rng.uniform(-20, 20),
        k1=rng.uniform(-0.04, 0.08),
        k2=rng.uniform(-0.06, 0.02),
        p1=rng.normal(0, 4e-4),
        p2=rng.normal(0, 4e-4),
        R=np.vstack([right, down, forward]),
        C=aim - distance * forward,
    )


def smooth_noise(rng, shape, scale):
    """Even noise of grain ``scale`` pixels, about -1 to 1."""
    small = rng.normal(0, 1, (max(2, int(shape[0] / scale) + 2), max(2, int(shape[1] / scale) + 2)))
    return cv2.resize(small.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def background(rng, kind: str, size: int = 2048) -> np.ndarray:
    """A texture, linear light, (size, size, 3), about .25 mm a texel: wood, cloth, concrete, print, …"""
    base = np.ones((size, size, 3), np.float32)
    if kind == "wood":
        tone = (
            0.5 + 0.18 * smooth_noise(rng, (size, 64), 6)[:, :1] + 0.06 * smooth_noise(rng, (size, size), 9)
        )
        base *= tone[..., None] * np.array([0.16, 0.3, 0.45], np.float32)
        base += 0.02 * smooth_noise(rng, (size, 256), 3).mean(axis=1)[:, None, None]
        _litter(rng, base, 90)
    elif kind == "dark cloth":
        base *= 0.02 + 0.008 * np.abs(smooth_noise(rng, (size, size), 3))[..., None]
    elif kind == "grey cloth":
        base *= 0.12 + 0.03 * smooth_noise(rng, (size, size), 4)[..., None]
    elif kind == "concrete":
        tone = 0.22 + 0.08 * smooth_noise(rng, (size, size), 16) + 0.04 * smooth_noise(rng, (size, size), 3)
        base *= np.clip(tone, 0.03, 0.6)[..., None]
    elif kind == "print":
        page = np.full((size, size), 180, np.uint8)
        for _ in range(500):
            x, y = rng.integers(0, size, 2).tolist()
            tag = cv2.aruco.generateImageMarker(
                cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250), int(rng.integers(0, 250)), 40
            )
            if rng.random() < 0.12:
                part = page[y : y + 40, x : x + 40]
                part[:] = np.where(tag[: part.shape[0], : part.shape[1]] < 128, 8, 190)
            else:
                cv2.putText(
                    page, "Wing rib 14", (x, y), cv2.FONT_HERSHEY_SIMPLEX, rng.uniform(0.4, 1.4), 12, 2
                )
        base *= (page / np.float32(255.0))[..., None]
    elif kind == "checked cloth":
        yy, xx = np.mgrid[0:size, 0:size] // int(rng.integers(20, 60))
        tone = np.where((xx + yy) % 2, 0.1, 0.3)
        base *= tone[..., None] * np.array([0.5, 0.5, 1.0], np.float32)
    elif kind == "foil":
        base *= np.clip(0.35 + 0.25 * smooth_noise(rng, (size, size), 30), 0.05, 0.95)[..., None]
    elif kind == "grass":
        base *= np.clip(0.12 + 0.07 * smooth_noise(rng, (size, size), 5), 0.02, 0.5)[..., None]
        base *= np.array([0.25, 1.0, 0.5], np.float32)
    else:
        raise ValueError(kind)
    return np.clip(base, 0.003, 1.0)


BACKGROUNDS = ("wood", "dark cloth", "grey cloth", "concrete", "print", "checked cloth", "foil", "grass")


def _litter(rng, base, count):
    size = base.shape[0]
    for _ in range(count):
        colour = tuple(float(c) for c in rng.uniform(0.02, 0.7, 3))
        x, y = (int(c) for c in rng.integers(0, size, 2))
        if rng.random() < 0.5:
            x2, y2 = x + int(rng.normal(0, 300)), y + int(rng.normal(0, 300))
            cv2.line(base, (x, y), (x2, y2), colour, int(rng.integers(3, 12)))
        else:
            axes = tuple(int(c) for c in rng.integers(8, 60, 2))
            cv2.ellipse(base, (x, y), axes, float(rng.uniform(0, 180)), 0, 360, colour, -1)


def light(rng, x: np.ndarray, y: np.ndarray, centre, *, shadows: int = 2) -> np.ndarray:
    """Illumination over the sheet's plane: a slope and soft-edged straight shadows."""
    angle = rng.uniform(0, 2 * np.pi)
    along = ((x - centre[0]) * np.cos(angle) + (y - centre[1]) * np.sin(angle)) / 150
    out = np.clip(1 + rng.uniform(0, 0.3) * along, 0.3, 1.8)
    for _ in range(int(rng.integers(0, shadows + 1))):
        angle = rng.uniform(0, 2 * np.pi)
        across = (x - centre[0]) * np.cos(angle) + (y - centre[1]) * np.sin(angle) - rng.uniform(-90, 90)
        soft, half = rng.uniform(4, 20), rng.uniform(8, 40)
        band = 0.5 * (np.tanh((across + half) / soft) - np.tanh((across - half) / soft))
        out = out * (1 - rng.uniform(0.2, 0.6) * band)
    return out.astype(np.float32)


def expose(
    rng,
    scene: np.ndarray,
    *,
    blur_px: float,
    motion_px: float = 0.0,
    exposure: float = 0.75,
    noise: float = 2e-4,
    sharpen: float | None = None,
) -> np.ndarray:
    """Linear light (h, w, 3), white paper about 1, to an 8-bit picture: optics, sensor, phone."""
    img = cv2.GaussianBlur(scene, (0, 0), blur_px)
    if motion_px > 0.5:
        size = int(np.ceil(motion_px)) | 1
        kernel = np.zeros((size, size), np.float32)
        angle = rng.uniform(0, np.pi)
        for t in np.linspace(-0.5, 0.5, 40):
            c = (size - 1) / 2
            kernel[round(c + t * motion_px * np.sin(angle)), round(c + t * motion_px * np.cos(angle))] += 1
        img = cv2.filter2D(img, -1, kernel / kernel.sum())
    h, w = img.shape[:2]
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((xx - w / 2) ** 2 + (yy - h / 2) ** 2) / (w / 2) ** 2
    img *= (exposure * (1 - rng.uniform(0.05, 0.35) * r2 / 1.6))[..., None]
    bayer = np.empty((h, w), np.float32)
    for (i, j), c in {(0, 0): 2, (0, 1): 1, (1, 0): 1, (1, 1): 0}.items():
        bayer[i::2, j::2] = img[i::2, j::2, c]
    bayer += np.sqrt(np.maximum(bayer, 0) * noise + 1e-6).astype(np.float32) * rng.standard_normal(
        (h, w), np.float32
    )
    raw = (np.clip(bayer, 0, 1) * 65535).astype(np.uint16)
    rgb = cv2.cvtColor(raw, cv2.COLOR_BayerBG2BGR).astype(np.float32) / 65535
    if rng.random() < 0.7:
        rgb = cv2.GaussianBlur(rgb, (0, 0), rng.uniform(0.3, 0.6))
    coded = np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * np.power(np.maximum(rgb, 1e-6), 1 / 2.4) - 0.055)
    amount = rng.uniform(0.2, 0.8) if sharpen is None else sharpen
    coded = coded + amount * (coded - cv2.GaussianBlur(coded, (0, 0), 1.5))
    return (np.clip(coded, 0, 1) * 255 + 0.5).astype(np.uint8)


def sheet_texture(layout: dict, per_mm: float) -> np.ndarray:
    """The printed sheet as linear light, grey, at ``per_mm`` texels a millimetre, with a little ink gain."""
    w, h = layout.get("page") or layout["size"]
    img = np.full((round(h * per_mm), round(w * per_mm)), 0.9, np.float32)
    board = layout["charuco"]
    s, (x0, y0) = board["square_mm"], board["origin"]
    gain = 0.02
    blank = np.asarray(layout.get("blank_polygon") or [], np.float32).reshape(-1, 2)

    def box(x, y, a, b, value):
        i0, i1 = round(y * per_mm), round((y + b) * per_mm)
        j0, j1 = round(x * per_mm), round((x + a) * per_mm)
        img[i0:i1, j0:j1] = value

    for r in range(board["squares_y"]):
        for c in range(board["squares_x"]):
            if (r + c) % 2 == 0:
                box(x0 + c * s - gain, y0 + r * s - gain, s + 2 * gain, s + 2 * gain, 0.04)
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, layout["dictionary"]))
    for m in layout["markers"]:
        (x, y), (x2, _) = m["corners"][0], m["corners"][1]
        cell = (x2 - x) / 7
        bits = cv2.aruco.generateImageMarker(book, m["id"], 7)
        for i in range(7):
            for j in range(7):
                if bits[i, j] < 128:
                    box(x + j * cell, y + i * cell, cell, cell, 0.04)
    for bar in layout["bars"]:
        if "p0" in bar and layout["kind"] == "A":
            (a, b), (c, d) = bar["p0"], bar["p1"]
            box(min(a, c) - 0.1, min(b, d) - 0.1, abs(c - a) + 0.2, abs(d - b) + 0.2, 0.05)
    if len(blank):
        # a white rim is printed round the window
        rim = np.zeros(img.shape, np.uint8)
        cv2.fillPoly(rim, [np.round(blank * per_mm).astype(np.int32)], 1)
        size = int(2 * 2.5 * per_mm) | 1
        rim = cv2.dilate(rim, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)))
        img[rim > 0] = 0.9
    return cv2.GaussianBlur(img, (0, 0), 0.5 * per_mm / 9.0 + 0.3)


def save_jpeg(picture: np.ndarray, path, *, quality=90, orientation=1, focal_eq=26):
    """Write BGR pixels as a phone would, turned in the file if ``orientation`` says so."""
    from PIL import Image

    turned = {1: picture, 6: np.rot90(picture, 1), 8: np.rot90(picture, -1), 3: np.rot90(picture, 2)}[
        orientation
    ]
    img = Image.fromarray(np.ascontiguousarray(turned[..., ::-1]))
    exif = Image.Exif()
    exif[274] = orientation
    if focal_eq:
        exif.get_ifd(0x8769)[41989] = focal_eq
    img.save(path, quality=quality, exif=exif)
