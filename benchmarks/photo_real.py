"""The camera solution on real photos of printed boards, and marker corners on real photos with reference corners.

python benchmarks/photo_real.py DIR [TAGS]

DIR holds charuco.jpg, left01.jpg to left14.jpg and left_intrinsics.yml of Debian's package opencv-doc (Apache-2.0; the first is
named choriginal.jpg there); TAGS the folder test/data of the source of Debian's package apriltag (photos CC BY-SA 2.0, NASA/KSC).
Published beside the chessboards: focal length and board places from all thirteen together. Ours takes each photo alone.
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from photo.real_boards import AS_PRINTED, SQUARE_MM, charuco_layout, chessboard, held_out  # noqa: E402
from ribwright.core.metrology.camera import FocalPrior  # noqa: E402
from ribwright.core.metrology.marks import find_marks  # noqa: E402
from ribwright.core.metrology.sighting import sight  # noqa: E402


def charuco(photo: Path) -> None:
    grey = cv2.imread(str(photo), cv2.IMREAD_GRAYSCALE)
    layout = charuco_layout()
    for focal in (0.7, 1.0):
        prior = FocalPrior(focal * grey.shape[1], 0.3)
        seen = sight(grey, layout=layout, scale=AS_PRINTED, prior=prior, bow_sigma_mm=1.5)
        print(
            f"charuco, told {prior.focal_px:.0f} px: {seen.corners} of 24 corners, residual {seen.view.residual_px:.2f} px, focal {seen.view.focal_px:.0f} px"
        )
    one = np.arange(24)
    miss = [held_out(grey, layout.chess_xy_mm, seen.view, layout.square_mm, one == k).miss_px[0] for k in one]
    board = cv2.aruco.CharucoBoard(
        (5, 7), 40.0, 20.0, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250)
    )
    corners, ids, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(grey)
    at = layout.chess_xy_mm[ids.ravel()]
    put = seen.view.pixels(np.column_stack([seen.view.stretched_mm(at), seen.view.surface_mm(at)]))
    off = corners.reshape(-1, 2) - put
    print(
        f"  each corner from the other 23: rms {np.sqrt(np.mean(np.square(miss))):.2f} px an axis; OpenCV's own corners about the solution: mean {off.mean(axis=0).round(2)}, rms {np.sqrt((off**2).mean()):.2f} px"
    )


def chessboards(folder: Path) -> None:
    published = cv2.FileStorage(str(folder / "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
    focal = published.getNode("camera_matrix").mat()[0, 0]
    places = published.getNode("extrinsic_parameters").mat()
    rms, focals, far = [], [], []
    for photo, place in zip(sorted(folder.glob("left[01][0-9].jpg")), places, strict=True):
        got = chessboard(cv2.imread(str(photo), cv2.IMREAD_GRAYSCALE))
        if got is None:
            print(f"{photo.name}: no board")
            continue
        rms.append(got.rms_mm)
        focals.append(got.view.focal_px / focal - 1)
        far.append(
            np.linalg.norm(got.view.parameters[3:6])
            / got.view.focal_px
            / (1000 * np.linalg.norm(place[3:]) / focal)
            - 1
        )
        print(
            f"{photo.name}: residual {got.view.residual_px:.2f} px, tilt {got.view.tilt_deg():.0f}°, middle from the rest {np.sqrt((got.miss_px**2).mean()):.2f} px an axis = "
            f"{got.rms_mm:.3f} mm; focal {100 * focals[-1]:+.1f} %, distance over focal {100 * far[-1]:+.2f} % against the published"
        )
    print(
        f"{len(rms)} boards: middle from the rest median {np.median(rms):.3f}, worst {max(rms):.3f} mm rms of squares of {SQUARE_MM:g} mm; "
        f"focal rms {100 * np.sqrt(np.mean(np.square(focals))):.1f} %, distance over focal rms {100 * np.sqrt(np.mean(np.square(far))):.2f} %"
    )


def tags(folder: Path) -> None:
    for photo in sorted(folder.glob("*.jpg")):
        lines = photo.with_suffix(".txt").read_text().split("\n")
        true = [
            np.array(
                [float(v) for v in line.replace("(", " ").replace(")", " ").replace(",", " ").split()[1:]]
            )
            for line in lines
            if line.strip()
        ]
        true = np.array(true).reshape(-1, 4, 2)
        _, found = find_marks(
            cv2.imread(str(photo), cv2.IMREAD_GRAYSCALE), "DICT_APRILTAG_36h11", quick=False
        )
        off = []
        for quad in true:
            turns = np.array([np.roll(found, k, axis=1)[:, ::s] for k in range(4) for s in (1, -1)])
            gap = np.hypot(*np.moveaxis(turns - quad, -1, 0)).mean(axis=2)
            if gap.min() < 8:
                k, m = np.unravel_index(int(gap.argmin()), gap.shape)
                off.append(turns[k, m] - quad)
        print(
            f"{photo.name}: {len(off)} of {len(true)} tags found, corners rms {np.sqrt(np.mean(np.square(off))):.2f} px an axis from the reference ones"
        )


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    charuco(Path(sys.argv[1]) / "charuco.jpg")
    chessboards(Path(sys.argv[1]))
    if len(sys.argv) > 2:
        tags(Path(sys.argv[2]))
