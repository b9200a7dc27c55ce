"""The printed control frame as a raster: white card, black coded marks, ticks every 5 mm.

Its geometry (mm, frame's axes) is calibration/frame.go's; the marks are the ArUco family's 5x5 set of 50 as
OpenCV ships it.
"""
import cv2
import numpy as np

OUTER, WINDOW, MARK = (264.0, 192.0), (212.0, 140.0), 20.0
CENTRES = (
    [(x, -83.0) for x in (-119.0, -59.5, 0.0, 59.5, 119.0)]
    + [(119.0, 0.0)]
    + [(x, 83.0) for x in (119.0, 59.5, 0.0, -59.5, -119.0)]
    + [(-119.0, 0.0)]
)


def mark(number):
    """The 7 x 7 cells of one mark, 0 black, 255 white; OpenCV renamed the call in its version 4.7."""
    cells = getattr(cv2.aruco, "generateImageMarker", None) or cv2.aruco.drawMarker
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    return cells(family, number, 7, borderBits=1)


def tick(position):
    """Length (mm) of the tick at a whole millimetre, 0 for none."""
    lengths = ((50, 2.2), (10, 1.65), (5, 1.1))
    return next((length for every, length in lengths if position % every == 0), 0)


def draw(dpi):
    """The frame's sheet, window included, one grey byte a pixel, rows from the front.

    >>> sheet = draw(100)
    >>> sheet.shape, int(sheet[int(3.5 / .254), int(3.5 / .254)])    # mark 0's border
    ((756, 1039), 0)
    """
    scale = dpi / 25.4
    sheet = np.full([int(round(v * scale)) for v in OUTER[::-1]], 255, np.uint8)

    def pixel(x, y):
        return int(round((x + OUTER[0] / 2) * scale)), int(round((y + OUTER[1] / 2) * scale))

    for number, (x, y) in enumerate(CENTRES):
        (left, top), (right, bottom) = pixel(x - MARK / 2, y - MARK / 2), pixel(x + MARK / 2, y + MARK / 2)
        sheet[top:bottom, left:right] = cv2.resize(
            mark(number), (right - left, bottom - top), interpolation=cv2.INTER_NEAREST
        )
    line = max(1, int(0.2 * scale))
    for half, other, turned in ((WINDOW[0] / 2, WINDOW[1] / 2, False), (WINDOW[1] / 2, WINDOW[0] / 2, True)):
        for position in range(-int(half), int(half) + 1):
            for side in (-1, 1):
                ends = [(position, side * (other + 0.3)), (position, side * (other + 0.3 + tick(position)))]
                if tick(position):
                    cv2.line(sheet, *[pixel(*(end[::-1] if turned else end)) for end in ends], 0, line)
    cv2.putText(
        sheet,
        "FRONT",
        pixel(-38, -87),
        cv2.FONT_HERSHEY_SIMPLEX,
        scale / 8,
        0,
        max(1, int(scale * 0.4)),
        cv2.LINE_AA,
    )
    return sheet
