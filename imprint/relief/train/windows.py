#!/usr/bin/python3
"""Rectified windows of photos with known truth, for train.py --eval and --eval-together.   windows.py
OUT.npz DIR...

Needs python3-opencv.  Each DIR holds photos and truth.jsonl; the truth's pixels are carried to the window's
plane by the same homography that rectifies the photo, so that the figures speak of the net alone.  Nothing
here is used for training.  Per medium M (foam, ink) the file holds M_I (n, 64, 104) linear light, M_V (n,
2, 64, 104) view, M_F (n, 64, 104) ln of the frame's light, M_L (n, 2, 2) true centres on the window's plane
in mm, M_D (n, 2) depths in mm, M_N (n,) names."""
import json
import math
import sys

import cv2
import numpy as np

LEVEL = 10.0  # mm, as phone.py's
_places = [
    (-119, -83),
    (-59.5, -83),
    (0, -83),
    (59.5, -83),
    (119, -83),
    (119, 0),
    (119, 83),
    (59.5, 83),
    (0, 83),
    (-59.5, 83),
    (-119, 83),
    (-119, 0),
]
MARKS = dict(enumerate(_places))
DICTIONARY = cv2.aruco.Dictionary_get(cv2.aruco.DICT_5X5_50)
DETECTOR = cv2.aruco.DetectorParameters_create()
DETECTOR.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
PATCHES = [(sx * x, sy * 83) for sx in (-1, 1) for sy in (-1, 1) for x in (29.75, 89.25)]
PATCHES += [(sx * 119, sy * 41.5) for sx in (-1, 1) for sy in (-1, 1)]
PER_MM = 4  # pixels of the rectified picture


def plane_from_image(photo):
    """The homography from pixels to the frame's plane (mm), or None where fewer than four marks are read."""
    corners, ids, _ = cv2.aruco.detectMarkers(photo, DICTIONARY, parameters=DETECTOR)
    if ids is None or len(ids) < 4:
        return None
    pixels, plane = [], []
    for quad, i in zip(corners, ids.ravel()):
        if int(i) in MARKS:
            mx, my = MARKS[int(i)]
            for (u, v), (dx, dy) in zip(quad[0], [(-10, -10), (10, -10), (10, 10), (-10, 10)]):
                pixels.append((u, v))
                plane.append((mx + dx, my + dy))
    return cv2.findHomography(np.float32(pixels), np.float32(plane), cv2.RANSAC, 0.5)[0]


def camera(H, f, w, h):
    """The camera's foot point and height over the plane (mm) from plane-from-image H and focal length f
    (px)."""
    K = np.array([[f, 0, (w - 1) / 2], [0, f, (h - 1) / 2], [0, 0, 1.0]])
    M = np.linalg.inv(K) @ np.linalg.inv(H)
    M /= (np.linalg.norm(M[:, 0]) + np.linalg.norm(M[:, 1])) / 2
    if M[2, 2] < 0:
        M = -M
    r1, r2, t = M[:, 0], M[:, 1], M[:, 2]
    U, _, V = np.linalg.svd(np.stack([r1, r2, np.cross(r1, r2)], 1))
    C = -(U @ V).T @ t
    return C[0], C[1], abs(C[2])


def quadratic(x, y):
    """The six terms of the frame's light at x, y in mm."""
    return [np.ones_like(x), x / 100, y / 70, (x / 100) ** 2, (y / 70) ** 2, x * y / 7000]


def frame_light(light, H, X, Y):
    """ln of the light on the frame's plane: a quadratic through the medians of twelve white patches between
    the marks."""
    terms, values = [], []
    for px, py in PATCHES:
        gx, gy = np.meshgrid(np.linspace(px - 5, px + 5, 11), np.linspace(py - 5, py + 5, 11))
        points = np.float32(np.stack([gx.ravel(), gy.ravel()], -1))[None]
        q = cv2.perspectiveTransform(points, np.linalg.inv(H))[0]
        inside = (
            (q[:, 0] > 0) & (q[:, 0] < light.shape[1] - 1) & (q[:, 1] > 0) & (q[:, 1] < light.shape[0] - 1)
        )
        if inside.sum() > 60:
            terms.append(quadratic(np.float64(px), np.float64(py)))
            seen = cv2.remap(light, q[inside, 0], q[inside, 1], cv2.INTER_LINEAR)
            values.append(math.log(max(1e-3, np.median(seen))))
    c = np.linalg.lstsq(np.array(terms), np.array(values), rcond=None)[0] if len(terms) >= 8 else np.zeros(6)
    return sum(ck * t for ck, t in zip(c, quadratic(X, Y)))


def linear_light(photo):
    g = cv2.cvtColor(photo, cv2.COLOR_BGR2GRAY).astype(np.float32) / 255
    return np.where(g <= 0.04045, g / 12.92, ((g + 0.055) / 1.055) ** 2.4).astype(np.float32)


def window_of(light, H):
    """(64, 104): the mean light of each 2 mm cell; x = -103 lies at column 12 of the rectified picture, y =
    -63 at row 28."""
    S = np.array([[PER_MM, 0, 106 * PER_MM], [0, PER_MM, 70 * PER_MM], [0, 0, 1.0]])
    rectified = cv2.warpPerspective(light, S @ H, (849, 561), flags=cv2.INTER_LINEAR)
    kernel = np.ones(9, np.float32)
    kernel[0] = kernel[8] = 0.5
    return cv2.sepFilter2D(rectified, -1, kernel / 8, kernel / 8)[28 : 28 + 8 * 64 : 8, 12 : 12 + 8 * 104 : 8]


def cut(folder, truth):
    """One photo's entries by key, or None where its frame cannot be read."""
    photo = cv2.imread(f"{folder}/{truth['name']}")
    H = plane_from_image(photo)
    if H is None:
        return None
    h, w = photo.shape[:2]
    cx, cy, height = camera(H, truth["f35"] / 43.2666 * math.hypot(w, h), w, h)
    if abs(height - truth["height_mm"]) > 0.05 * truth["height_mm"]:
        print("height", truth["name"], height, truth["height_mm"])
    read_on, light = H, linear_light(photo)
    if truth["kind"] == "foam":  # foam is read on the plane LEVEL below the frame's
        f = 1 + LEVEL / height
        read_on = np.array([[f, 0, cx * (1 - f)], [0, f, cy * (1 - f)], [0, 0, 1.0]]) @ H
    centres = cv2.perspectiveTransform(np.float32([[truth["left_px"], truth["right_px"]]]), read_on)[0]
    if truth["kind"] == "ink":  # ink lies on the frame's own sheet: its truth is the sheet's
        centres = np.float32([truth["left"], truth["right"]])
    X, Y = np.meshgrid(np.arange(-103, 104, 2.0), np.arange(-63, 64, 2.0))
    name = [
        f"{folder.rstrip('/').split('/')[-1]}/{truth['name']}",
        truth.get("family", ""),
        truth.get("light", ""),
    ]
    return dict(
        I=window_of(light, read_on),
        L=centres,
        V=np.stack([(cx - X) / height, (cy - Y) / height]),
        D=truth["depth_mm"],
        F=frame_light(light, H, X, Y),
        N=" ".join(name),
    )


def main():
    out = {}
    for folder in sys.argv[2:]:
        for line in open(folder + "/truth.jsonl"):
            truth = json.loads(line)
            entries = cut(folder, truth) if truth["kind"] != "scan" else None
            for key, value in (entries or {}).items():
                medium = "foam" if truth["kind"] == "foam" else "ink"
                out.setdefault(f"{medium}_{key}", []).append(value)
    np.savez_compressed(sys.argv[1], **{k: np.array(v) for k, v in out.items()})
    print({k: np.array(v).shape for k, v in out.items()})


if __name__ == "__main__":
    main()
