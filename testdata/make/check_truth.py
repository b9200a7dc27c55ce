#!/usr/bin/python3
"""Brings a set's truth back from its photos, by OpenCV's own reading of the marks.   check_truth.py FOLDER...

The marks give the camera's pose (focal length and lens as truth.jsonl states them); the true pixels' lines of
sight are cut at the true depths.  A spacing that comes back wrong by more than some 0.3 mm means a fault in
the set, not in a reader.
"""
import json
import sys
from pathlib import Path

import cv2
import numpy as np

import frame


def corners(picture):
    """Pixels and frame coordinates (mm) of the found marks' corners, each of shape (n, 2)."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    if hasattr(cv2.aruco, "ArucoDetector"):
        settings = cv2.aruco.DetectorParameters()
        settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
        quads, numbers, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(picture)
    else:
        settings = cv2.aruco.DetectorParameters_create()
        settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
        quads, numbers, _ = cv2.aruco.detectMarkers(picture, family, parameters=settings)
    half = frame.MARK / 2
    around = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    known = [
        (q[0], frame.CENTRES[n] + around)
        for q, n in zip(quads, [] if numbers is None else numbers.ravel())
        if n < len(frame.CENTRES)
    ]
    if len(known) < 4:
        raise ValueError(f"{len(known)} marks found, 4 needed")
    return np.concatenate([k[0] for k in known]).astype(float), np.concatenate([k[1] for k in known])


def spacing_back(truth, picture):
    """The spacing (mm) from the marks found, the true pixels and the true depths, and the number of marks."""
    pixels, places = corners(picture)
    matrix = np.array(
        [
            [truth["focal_px"], 0, truth["principal_px"][0]],
            [0, truth["focal_px"], truth["principal_px"][1]],
            [0, 0, 1],
        ]
    )
    lens = np.array([*truth["lens_k"], *truth.get("lens_p", (0, 0)), 0])
    level = -(truth["frame_z"] + truth["bow_mm"] / 2)  # mm below the pad's flat surface
    at = np.column_stack([places * truth.get("print_scale", 1), np.full(len(places), level)])
    _, turn, shift = cv2.solvePnP(at, pixels, matrix, lens)
    axes = cv2.Rodrigues(turn)[0]
    eye = (-axes.T @ shift).ravel()
    found = []
    for pixel, depth in zip((truth["left_px"], truth["right_px"]), truth["depth_mm"]):
        ray = axes.T @ np.append(cv2.undistortPoints(np.array([[pixel]]), matrix, lens).ravel(), 1)
        found.append(eye + ray * (depth - eye[2]) / ray[2])
    return float(np.hypot(*(found[1] - found[0])[:2])), len(pixels) // 4


def check(folder):
    """Prints each photo's difference (mm) and the set's root mean square."""
    differences = []
    for line in (folder / "truth.jsonl").read_text(encoding="utf-8").splitlines():
        truth = json.loads(line)
        if truth["kind"] != "foam":
            continue
        picture = cv2.imread(str(folder / truth["name"]), cv2.IMREAD_GRAYSCALE)  # turned upright by cv2
        if list(picture.shape[::-1]) != truth["size"]:
            raise ValueError(
                f"{truth['name']}: {picture.shape[::-1]} pixels upright, truth.jsonl says {truth['size']}"
            )
        try:
            back, marks = spacing_back(truth, picture)
        except ValueError as trouble:
            print(folder.name, truth["name"], trouble)
            continue
        differences.append(back - truth["spacing_mm"])
        print(f"{folder.name} {truth['name']} {truth['shape']} {marks} marks {differences[-1]:+.3f} mm")
    print(
        f"{folder.name}: {len(differences)} photos, rms {np.sqrt(np.mean(np.square(differences))):.3f} mm, "
        f"worst {np.abs(differences).max():.3f} mm"
    )


if __name__ == "__main__":
    for name in sys.argv[1:]:
        check(Path(name))
