#!/usr/bin/python3
"""Rectified windows of photos with known truth, for train.py --eval and --eval-together.   prep.py OUT.npz DIR...
Needs python3-opencv.  Each DIR holds photos and truth.jsonl; the truth's pixels are carried to the window's plane by the same
homography that rectifies the photo, so that the figures speak of the net alone.  Nothing here is used for training."""
import json, math, sys

import cv2
import numpy as np

LEVEL = 10.0         # mm, as recipe.py's
HERE_MARKS = {i: c for i, c in enumerate([(-119, -83), (-59.5, -83), (0, -83), (59.5, -83), (119, -83), (119, 0), (119, 83), (59.5, 83), (0, 83), (-59.5, 83), (-119, 83), (-119, 0)])}
D = cv2.aruco.Dictionary_get(cv2.aruco.DICT_5X5_50)
P = cv2.aruco.DetectorParameters_create()
P.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX


def plane(im):
    c, ids, _ = cv2.aruco.detectMarkers(im, D, parameters=P)
    if ids is None or len(ids) < 4:
        return None
    a, b = [], []
    for q, i in zip(c, ids.ravel()):
        if int(i) in HERE_MARKS:
            mx, my = HERE_MARKS[int(i)]
            for (u, v), (dx, dy) in zip(q[0], [(-10, -10), (10, -10), (10, 10), (-10, 10)]):
                a.append((u, v)), b.append((mx + dx, my + dy))
    return cv2.findHomography(np.float32(a), np.float32(b), cv2.RANSAC, 0.5)[0]


def camera(H, f, w, h):
    """The camera's place over the plane from plane-from-image H and focal length f (px)."""
    G = np.linalg.inv(H)
    K = np.array([[f, 0, (w - 1) / 2], [0, f, (h - 1) / 2], [0, 0, 1.0]])
    M = np.linalg.inv(K) @ G
    M /= (np.linalg.norm(M[:, 0]) + np.linalg.norm(M[:, 1])) / 2
    if M[2, 2] < 0:
        M = -M
    r1, r2, t = M[:, 0], M[:, 1], M[:, 2]
    R = np.stack([r1, r2, np.cross(r1, r2)], 1)
    U, _, V = np.linalg.svd(R)
    C = -(U @ V).T @ t
    return C[0], C[1], abs(C[2])


PATCHES = [(sx * x, sy * 83) for sx in (-1, 1) for sy in (-1, 1) for x in (29.75, 89.25)] + [(sx * 119, sy * 41.5) for sx in (-1, 1) for sy in (-1, 1)]


def frame_light(g, H, X, Y):
    """ln of the light on the frame's plane: a quadratic through the medians of twelve white patches between the marks."""
    A, v = [], []
    for px, py in PATCHES:
        gx, gy = np.meshgrid(np.linspace(px - 5, px + 5, 11), np.linspace(py - 5, py + 5, 11))
        q = cv2.perspectiveTransform(np.float32(np.stack([gx.ravel(), gy.ravel()], -1))[None], np.linalg.inv(H))[0]
        inside = (q[:, 0] > 0) & (q[:, 0] < g.shape[1] - 1) & (q[:, 1] > 0) & (q[:, 1] < g.shape[0] - 1)
        if inside.sum() > 60:
            A.append([1, px / 100, py / 70, (px / 100) ** 2, (py / 70) ** 2, px * py / 7000])
            v.append(math.log(max(1e-3, np.median(cv2.remap(g, q[inside, 0], q[inside, 1], cv2.INTER_LINEAR)))))
    c = np.linalg.lstsq(np.array(A), np.array(v), rcond=None)[0] if len(A) >= 8 else np.zeros(6)
    return c[0] + c[1] * X / 100 + c[2] * Y / 70 + c[3] * (X / 100) ** 2 + c[4] * (Y / 70) ** 2 + c[5] * X * Y / 7000


out = {}
for d in sys.argv[2:]:
    for l in open(d + "/truth.jsonl"):
        T = json.loads(l)
        if T["kind"] == "scan":
            continue
        im = cv2.imread(f"{d}/{T['name']}")
        H = plane(im)
        if H is None:
            continue
        h, w = im.shape[:2]
        cx, cy, ch = camera(H, T["f35"] / 43.2666 * math.hypot(w, h), w, h)
        plane_from_image = H
        if T["kind"] == "foam":                           # foam is read on the plane LEVEL below the frame's
            f = 1 + LEVEL / ch
            H = np.array([[f, 0, cx * (1 - f)], [0, f, cy * (1 - f)], [0, 0, 1.0]]) @ H
        S = np.array([[4, 0, 106 * 4], [0, 4, 70 * 4], [0, 0, 1.0]])
        g = cv2.cvtColor(im, cv2.COLOR_BGR2GRAY).astype(np.float32) / 255
        g = np.where(g <= 0.04045, g / 12.92, ((g + 0.055) / 1.055) ** 2.4).astype(np.float32)
        r = cv2.warpPerspective(g, S @ H, (849, 561), flags=cv2.INTER_LINEAR)
        k = np.ones(9, np.float32)
        k[0] = k[8] = 0.5
        r = cv2.sepFilter2D(r, -1, k / 8, k / 8)
        I = r[28:28 + 8 * 64:8, 12:12 + 8 * 104:8]      # x = -103 lies at column 12, y = -63 at row 28
        L = cv2.perspectiveTransform(np.float32([[T["left_px"], T["right_px"]]]), H)[0]
        if T["kind"] == "ink":                            # ink lies on the frame's own sheet: its truth is the sheet's
            L = np.float32([T["left"], T["right"]])
        X, Y = np.meshgrid(np.arange(-103, 104, 2.0), np.arange(-63, 64, 2.0))
        m = "foam" if T["kind"] == "foam" else "ink"
        for key, v in (("I", I), ("L", L), ("V", np.stack([(cx - X) / ch, (cy - Y) / ch])), ("D", T["depth_mm"]), ("F", frame_light(g, plane_from_image, X, Y)),
                       ("N", f"{d.rstrip('/').split('/')[-1]}/{T['name']} {T.get('family', '')} {T.get('light', '')} {','.join(T['extras'])}")):
            out.setdefault(f"{m}_{key}", []).append(v)
        if abs(ch - T["height_mm"]) > 0.05 * T["height_mm"]:
            print("height", T["name"], ch, T["height_mm"])
np.savez_compressed(sys.argv[1], **{k: np.array(v) for k, v in out.items()})
print({k: np.array(v).shape for k, v in out.items()})
