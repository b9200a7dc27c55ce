#!/usr/bin/python3
"""How fast the built program is, as ratios of runs in turn: the table of docs/speed.md.

    speed.py [--program bin/sitspan] [--runs 9] [--out out/speed] [--only WORD]

Needs python3-opencv, djpeg (libjpeg-turbo-progs) and, for HEIC, heif-enc (libheif-examples).  Its pictures
are made of testdata's: enlarged, with a sensor's noise, their EXIF kept.  Processor time is user and system
time of a process and all that it started; times are medians, and a ratio is the median over the pairs.
"""
import argparse
import os
import shutil
import statistics
import subprocess
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

import exif
import heic

ROOT = Path(__file__).resolve().parents[2]
PLAIN = Path(__file__).with_name("plain.py")
NOISE = 1.5  # grey levels, standard deviation
CORES = 2
ARCHIVE = 100  # photos: with twenty the start and the report take a tenth of the time


def write(picture, path, segment=b"", quality=90):
    """A JPEG with the EXIF segment given."""
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    path.write_bytes(exif.with_exif(data.tobytes(), segment))


def enlarged(source, path, seed, times=2):
    """The photo with its sides enlarged, and noise."""
    picture = cv2.imread(str(source), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    if times > 1:
        picture = cv2.resize(picture, None, fx=times, fy=times, interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(seed).normal(0, NOISE, picture.shape)
    write(np.clip(picture + noise, 0, 255).astype(np.uint8), path, exif.segment_of(source))


def without_frame(path):
    """24 megapixels of clutter and no frame: a dotted pad's middle, side by side, with boxes and noise."""
    tile = cv2.imread(str(ROOT / "testdata/photos/dotted/above.jpg"))
    h, w = tile.shape[:2]
    tile = cv2.resize(tile[int(0.4 * h) : int(0.6 * h), int(0.35 * w) : int(0.65 * w)], (1000, 800))
    row = np.concatenate([tile, tile[:, ::-1]], 1)
    picture = np.tile(np.concatenate([row, row[::-1]], 0), (3, 3, 1))[:4000, :6000].astype(np.float64)
    rng = np.random.default_rng(1)
    for _ in range(300):
        x, y, a = rng.integers(0, 5700), rng.integers(0, 3700), rng.integers(30, 280)
        shade = tuple(float(v) for v in rng.integers(20, 230, 3))
        cv2.rectangle(picture, (int(x), int(y)), (int(x + a), int(y + rng.integers(30, 280))), shade, -1)
    write(np.clip(picture + rng.normal(0, NOISE, picture.shape), 0, 255).astype(np.uint8), path)


def pictures(out):
    """Makes what is missing of the pictures; returns their folder."""
    out.mkdir(parents=True, exist_ok=True)
    photos = ROOT / "testdata/photos"
    wanted = {
        "12mp.jpg": lambda p: enlarged(photos / "foam-window.jpg", p, 1),
        "24mp-none.jpg": without_frame,
    }
    for k, name in enumerate(("above", "side-1", "side-2")):
        source = photos / f"dotted/{name}.jpg"
        wanted[f"dotted-{name}.jpg"] = lambda p, k=k, source=source: enlarged(source, p, 2 + k)
    for name, make in wanted.items():
        if not (out / name).exists():
            make(out / name)
    archive = out / "archive"
    archive.mkdir(exist_ok=True)
    sources = sorted(photos.glob("foam-*.jpg")) + sorted(photos.glob("together/*.jpg"))
    for k in range(ARCHIVE):
        if not (archive / f"{k:03}.jpg").exists():
            enlarged(sources[k % len(sources)], archive / f"{k:03}.jpg", 100 + k, 1)
    if shutil.which("heif-enc"):
        if not (out / "12mp-grid.heic").exists():
            heic.grid(out / "12mp.jpg", out / "12mp-grid.heic")
        if not (out / "12mp-whole.heic").exists():
            command = ["heif-enc", "-q", "70", out / "12mp.jpg", "-o", out / "12mp-whole.heic"]
            subprocess.run(command, check=True, capture_output=True)
    return out


def run(command):
    """Processor and wall time of a command, s."""
    start = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, _, use = os.wait4(child.pid, 0)
    child.returncode = 0
    return use.ru_utime + use.ru_stime, time.monotonic() - start


def pairs(a, b, runs):
    """Runs two commands in turn, after one of each that does not count."""
    run(a), run(b)
    both = [(run(a), run(b)) for _ in range(runs)]
    ratio = [statistics.median(x[k] / y[k] for x, y in both) for k in (0, 1)]
    times = [[statistics.median(r[side][k] for r in both) for k in (0, 1)] for side in (0, 1)]
    return times[0], times[1], ratio


def row(what, goal, a, b, runs):
    """A line of the table: times in ms, processor / wall."""
    first, second, ratio = pairs(a, b, runs)
    cells = [f"{1000 * t[0]:.0f} / {1000 * t[1]:.0f}" for t in (first, second)]
    print(f"| {what} | {cells[0]} | {cells[1]} | {ratio[0]:.2f} / {ratio[1]:.2f} | {goal} |", flush=True)


def audit(program, folder, workers, pin):
    """The command of an audit into a new folder."""
    place = tempfile.mkdtemp(dir=folder.parent)
    command = [program, "audit", "--workers", str(workers), "--out", f"{place}/audit", str(folder)]
    return (["taskset", "-c", pin] if pin else []) + command, place


def photos_a_second(program, folder, runs):
    """Photos a second with two workers, and over one worker pinned to a core, in turn."""
    n = len(list(folder.glob("*.jpg")))
    rates = []
    for _ in range(runs):
        pair = []
        for workers, pin in ((CORES, ""), (1, "0")):
            command, place = audit(program, folder, workers, pin)
            pair.append(n / run(command)[1])
            shutil.rmtree(place)
        rates.append(pair)
    two = statistics.median(r[0] for r in rates)
    over = statistics.median(r[0] / r[1] for r in rates)
    print(f"| archive of 3-megapixel photos, 2 workers | {two:.1f} a second | {two / over:.1f} a second, one "
          f"worker on one core | {over:.2f} | 6 a second; 1.9 |", flush=True)


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--program", default=str(ROOT / "bin/sitspan"))
    options.add_argument("--runs", type=int, default=9)
    options.add_argument("--out", type=Path, default=ROOT / "out/speed")
    options.add_argument("--only", default="")
    o = options.parse_args()
    at = pictures(o.out)
    measure = [o.program, "measure"]
    one, small, bare = at / "12mp.jpg", ROOT / "testdata/photos/foam-window.jpg", at / "24mp-none.jpg"
    dotted = [str(at / f"dotted-{k}.jpg") for k in ("above", "side-1", "side-2")]
    plain, bare_decoding = ["/usr/bin/python3", str(PLAIN)], ["djpeg", "-pnm"]
    together = measure + ["--together"] + dotted
    rows = [
        ("12 MP, over a plain OpenCV script", "0.25", measure + [one], plain + [one]),
        ("3 MP, over a plain OpenCV script", "0.25", measure + [small], plain + [small]),
        ("12 MP, over its decoding by djpeg", "10", measure + [one], bare_decoding + [one]),
        ("three dotted 12 MP joined, over one alone", "2", together, measure + dotted[:1]),
        ("12 MP HEIC in tiles, as phones write it, over its JPEG", "2", measure + [at / "12mp-grid.heic"],
         measure + [one]),
        ("12 MP HEIC in one piece, over its JPEG", "2", measure + [at / "12mp-whole.heic"], measure + [one]),
        ("24 MP without a frame, over decoding", "1.5 + 100 ms", measure + [bare], bare_decoding + [bare]),
        ("no photo: the start", "40 ms", measure + ["/dev/null"], bare_decoding + [small]),
        ("12 MP and again, over once: the second photo", "", measure + [one, one], measure + [one]),
    ]
    print("| what | first, ms | second, ms | ratio | goal |\n| --- | --- | --- | --- | --- |")
    for what, goal, a, b in rows:
        if o.only in what and Path(a[2]).suffix != ".heic" or Path(a[2]).exists() and o.only in what:
            row(what, goal, [str(v) for v in a], [str(v) for v in b], o.runs)
    if o.only in "archive":
        photos_a_second(o.program, at / "archive", max(1, o.runs // 3))


if __name__ == "__main__":
    main()
