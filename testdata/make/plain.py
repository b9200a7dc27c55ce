#!/usr/bin/python3
"""What a plain script makes of an imprint's photo: the measure of speed in docs/speed.md.   plain.py PHOTO

OpenCV's own module reads the marks, a homography takes the window to its plane, a blur smooths it, and the
darkest spot on either side counts as a centre.  No parallax, no uncertainty: it is fast, and wrong by
millimetres.
"""
import sys

import cv2
import numpy as np

import frame
from check_truth import corners

PX = 5  # px a mm on the plane
SMOOTH = 6.0  # mm, standard deviation of the blur
MIDDLE = 15  # mm on either side of the middle that belong to neither centre


def window(grey):
    """The frame's window on its plane, grey."""
    pixels, places = corners(grey)
    size = np.array([frame.WINDOW[0], frame.WINDOW[1]], float)
    plane = (places + size / 2) * PX
    to_plane, _ = cv2.findHomography(pixels, plane, cv2.RANSAC, 3.0)
    return cv2.warpPerspective(grey, to_plane, tuple((size * PX).astype(int)), flags=cv2.INTER_LINEAR)


def darkest(half, clear):
    """The darkest place of a half, px, its rim left out."""
    inside = half[clear:-clear, clear:-clear]
    _, _, at, _ = cv2.minMaxLoc(inside)
    return np.array(at, float) + clear


def distance(path):
    """The distance of the darkest spots, mm."""
    picture = cv2.imread(path)
    if picture is None:
        raise ValueError("no picture that can be read")
    flat = window(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    smooth = cv2.GaussianBlur(flat, (0, 0), SMOOTH * PX)
    middle, off = smooth.shape[1] // 2, MIDDLE * PX
    left = darkest(smooth[:, : middle - off], 10 * PX)
    right = darkest(smooth[:, middle + off :], 10 * PX) + (middle + off, 0)
    return float(np.hypot(*(right - left))) / PX


if __name__ == "__main__":
    try:
        print(f"{distance(sys.argv[1]):.1f} mm")
    except ValueError as trouble:
        sys.exit(f"{sys.argv[1]}: {trouble}")
