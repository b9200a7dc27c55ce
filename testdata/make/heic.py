#!/usr/bin/python3
"""A HEIC laid out as phones do: a grid of coded tiles, turned by its container, with EXIF and a thumbnail.

    heic.py PHOTO.jpg OUT.heic [--tile 512] [--quality 70]

The JPEG's pixels stay as they lie; its EXIF goes along, and what EXIF says of its turn becomes irot.  Tiles
are coded by heif-enc (libheif-examples, x265), one by one; those at the right and lower edges are filled up
by repeating the last pixels.  The boxes are those of ISO/IEC 14496-12 and 23008-12 (grid: 6.6.2.3.2), from
memory; libheif reads them, and a test in imprint/internal/native holds the tiles against FFmpeg's.  Tiles of
512 px are the usual ones of phones, as github.com/bigcat88/pillow_heif/pull/436 says; a newer one's are of
640 x 896 (a picture among the tests of github.com/bep/imagemeta v1.0.1).
"""
import argparse
import struct
import subprocess
import tempfile
from pathlib import Path

import cv2

import exif

GRID, EXIF, THUMB = 1000, 1001, 1002  # items; tiles count from 1
THUMB_SIDE = 320
IROT = {1: 0, 6: 3, 3: 2, 8: 1}  # quarter turns anticlockwise for EXIF's orientation
HIDDEN, ESSENTIAL = 1, 0x80


def box(kind, *parts):
    body = b"".join(parts)
    return struct.pack(">I", 8 + len(body)) + kind.encode() + body


def full(kind, version, flags, *parts):
    return box(kind, struct.pack(">I", version << 24 | flags), *parts)


def coded(picture, quality, folder):
    """The decoder configuration (a whole hvcC box) and the coded picture, by heif-enc."""
    png, heic = Path(folder) / "tile.png", Path(folder) / "tile.heic"
    cv2.imwrite(str(png), picture, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    subprocess.run(["heif-enc", "-q", str(quality), png, "-o", heic], check=True, capture_output=True)
    data = heic.read_bytes()
    at = data.index(b"hvcC") - 4
    configuration = data[at : at + struct.unpack_from(">I", data, at)[0]]
    at = 0
    while data[at + 4 : at + 8] != b"mdat":
        at += struct.unpack_from(">I", data, at)[0]
    return configuration, data[at + 8 : at + struct.unpack_from(">I", data, at)[0]]


class Properties:
    """The boxes of ipco, each once."""

    def __init__(self):
        self.boxes = []

    def __call__(self, b, essential=False):
        """What an item's entry in ipma says of it."""
        if b not in self.boxes:
            self.boxes.append(b)
        return self.boxes.index(b) + 1 | (ESSENTIAL if essential else 0)


def size(w, h):
    return full("ispe", 0, 0, struct.pack(">II", w, h))


def items_of(picture, app1, tile, quality, prop):
    """Items as (id, kind, flags, data, properties): tiles, then thumbnail, EXIF and grid."""
    h, w = picture.shape[:2]
    down, across = -(-h // tile), -(-w // tile)
    whole = cv2.copyMakeBorder(picture, 0, down * tile - h, 0, across * tile - w, cv2.BORDER_REPLICATE)
    items = []
    with tempfile.TemporaryDirectory() as folder:
        for k in range(down * across):
            y, x = k // across * tile, k % across * tile
            configuration, data = coded(whole[y : y + tile, x : x + tile], quality, folder)
            items.append((k + 1, "hvc1", HIDDEN, data, [prop(size(tile, tile)), prop(configuration, True)]))
        scale = THUMB_SIDE / max(h, w)
        sides = round(w * scale) & ~1, round(h * scale) & ~1
        small = cv2.resize(picture, sides, interpolation=cv2.INTER_AREA)
        configuration, data = coded(small, quality, folder)
    turn = [prop(box("irot", bytes([IROT[exif.orientation(app1)]])), True)]
    small = [prop(size(small.shape[1], small.shape[0])), prop(configuration, True)]
    items.append((THUMB, "hvc1", 0, data, small + turn))
    items.append((EXIF, "Exif", HIDDEN, struct.pack(">I", 6) + app1[4:], []))
    grid = bytes([0, 1, down - 1, across - 1]) + struct.pack(">II", w, h)
    depth, colour = bytes([3, 8, 8, 8]), struct.pack(">HHHB", 1, 13, 6, 0x80)  # sRGB, BT.601, full range
    says = prop(size(w, h)), prop(full("pixi", 0, 0, depth)), prop(box("colr", b"nclx", colour))
    items.append((GRID, "grid", 0, grid, [*says, *turn]))
    return items


def located(items, first):
    """The body of iloc, the grid in idat and all else in mdat, whose content begins at `first`."""
    out, at = struct.pack(">HH", 0x4400, len(items)), first
    for i, kind, _, data, _ in items:
        inside = kind == "grid"
        out += struct.pack(">HHHHII", i, int(inside), 0, 1, 0 if inside else at, len(data))
        at += 0 if inside else len(data)
    return out


def meta(items, prop, first):
    tiles = [i for i, kind, flags, _, _ in items if kind == "hvc1" and flags & HIDDEN]
    entries = [full("infe", 2, flags, struct.pack(">HH", i, 0), kind.encode(), b"\0")
               for i, kind, flags, _, _ in items]
    ipma = [struct.pack(">HB", i, len(p)) + bytes(p) for i, _, _, _, p in items if p]
    return full("meta", 0, 0,
                full("hdlr", 0, 0, b"\0\0\0\0pict", bytes(13)),
                full("pitm", 0, 0, struct.pack(">H", GRID)),
                full("iinf", 0, 0, struct.pack(">H", len(items)), *entries),
                full("iref", 0, 0,
                     box("dimg", struct.pack(f">HH{len(tiles)}H", GRID, len(tiles), *tiles)),
                     box("thmb", struct.pack(">HHH", THUMB, 1, GRID)),
                     box("cdsc", struct.pack(">HHH", EXIF, 1, GRID))),
                box("iprp", box("ipco", *prop.boxes),
                    full("ipma", 0, 0, struct.pack(">I", len(ipma)), *ipma)),
                box("idat", *(data for _, kind, _, data, _ in items if kind == "grid")),
                full("iloc", 1, 0, located(items, first)))


def grid(source, target, tile=512, quality=70):
    picture = cv2.imread(str(source), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    prop = Properties()
    items = items_of(picture, exif.segment_of(Path(source)), tile, quality, prop)
    head = box("ftyp", b"heic\0\0\0\0mif1heicmiaf")
    head += meta(items, prop, len(head) + len(meta(items, prop, 0)) + 8)
    media = box("mdat", *(data for _, kind, _, data, _ in items if kind != "grid"))
    Path(target).write_bytes(head + media)


def main():
    options = argparse.ArgumentParser()
    options.add_argument("source", type=Path)
    options.add_argument("target", type=Path)
    options.add_argument("--tile", type=int, default=512)
    options.add_argument("--quality", type=int, default=70)
    o = options.parse_args()
    grid(o.source, o.target, o.tile, o.quality)


if __name__ == "__main__":
    main()
