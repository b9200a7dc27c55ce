"""One photo: an imprint on its pad in a room, path-traced, seen by a phone, saved with its truth.

Every draw comes from numpy's default_rng([seed, imprint, stream]), or [seed, imprint, stream, view] where a
photo has its own; so a photo depends on the set's seed and its own numbers alone.
"""
import json
import shlex
import subprocess
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

import camera
import exif
import finish
import frame
import imprint
import light
import phone
from surface import PAD

HERE = Path(__file__).resolve().parent
FRAME_Z = 0.35  # mm: the card's face above the pad's flat surface, where the card lies flat
CARD_DPI = 508  # 20 px a mm: every edge of a mark falls on a pixel's edge
SMALL, LARGE = (2016, 1512), (4032, 3024)
SAMPLES = {SMALL: 12, LARGE: 6}
TURNS = {1: None, 3: cv2.ROTATE_180, 6: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_CLOCKWISE}
SHAPE, FINISH, PAINT, ROOM, PHONE, CARD = range(6)  # streams of an imprint
LENS, HOLD, SENSOR, SAVE = range(10, 14)  # of a photo; LENS with tele for view


@dataclass(frozen=True)
class Job:
    """One photo to make, and what it is made with."""

    chosen: object  # sets.Set
    number: int  # of the imprint
    view: int
    folder: Path  # for what is kept
    work: Path  # for what is not
    blender: str = "blender"
    threads: int = 2

    @property
    def name(self):
        """The photo's name in its set, without .jpg."""
        return f"{self.number * self.chosen.views + self.view:03d}"

    @property
    def rendered(self):
        """Where its path-traced picture is kept; sets of one seed share it."""
        return self.work / f"{self.chosen.seed}-{self.number:03d}-{self.view}.render.png"

    def rng(self, stream, *more):
        """A generator of random numbers of its own for each thing that is drawn."""
        return np.random.default_rng([self.chosen.seed, self.number, stream, *more])


def size_of(job):
    """Most photos are of 3, some imprints' of 12 megapixels."""
    return LARGE if job.number % 8 == 3 else SMALL


def hold(job):
    """The camera of a photo.

    The photos of an imprint come from one phone, mostly through one of its lenses.
    """
    rng = job.rng(HOLD, job.view)
    tele = job.rng(PHONE).random() < 0.35
    if rng.random() < 0.1:
        tele = not tele
    lens = job.rng(LENS, int(tele))
    strange = job.chosen.lenses
    if strange:
        seen_by = camera.draw_strange(lens, strange[job.number % len(strange)])
    else:
        seen_by = camera.draw_phone(lens, tele)
    return camera.hold(rng, seen_by, size_of(job), job.view)


def room(job, held):
    """The light's kind, whether the lamp was moved between photos, and the lamps."""
    rng = job.rng(ROOM)
    kind = str(rng.choice(job.chosen.lights))
    movable = kind in ("window", "two") and rng.random() < 0.6
    moved = bool(movable and job.chosen.views > 1)
    return kind, moved, light.draw(rng, kind, 2.1 * job.view if moved else 0.0, held)


def lay_card(job):
    """How the card lies: bowed by up to 0.8 mm, or nearly flat."""
    rng = job.rng(CARD)
    height = rng.uniform(0, 0.8) if rng.random() < 0.5 else 0.05
    return {"height": height, "x": rng.uniform(35, 70), "y": rng.uniform(35, 70), "phase": rng.uniform(0, 6)}


def write_spec(job, made, held, lamps):
    """Writes the scene's files into the work folder and answers with the spec's path."""
    stem = str(job.work / f"{job.chosen.name}-{job.name}")
    look = finish.draw(job.rng(FINISH))
    on_pad = finish.outline(look, *PAD.mesh())
    heights = np.where(on_pad, -made.depth, -made.pad.thickness - 3)
    np.save(stem + ".npy", heights.astype(np.float32))
    painted = finish.paint(job.rng(PAINT), look, job.chosen.dotted, job.chosen.stencil)
    cv2.imwrite(stem + ".paint.png", painted)
    cv2.imwrite(stem + ".card.png", frame.draw(CARD_DPI))
    spec = {
        **finish.for_scene(look),
        **lamps,
        "heights": stem + ".npy",
        "paint": stem + ".paint.png",
        "card": stem + ".card.png",
        "half": [PAD.x[-1], PAD.y[-1]],
        "pad_thickness": made.pad.thickness,
        "frame_z": FRAME_Z,
        "bow": lay_card(job),
        "print_scale": job.chosen.print_scale,
        "card_roughness": job.rng(CARD, 1).uniform(0.35, 1),
        "width": held.width,
        "rows": held.rows,
        "focal": held.focal,
        "principal": held.phone.principal,
        "place": held.place.tolist(),
        "axes": held.axes.tolist(),
        "focus": held.focus,
        "fstop": job.rng(HOLD, job.view, 1).uniform(6, 14),
        "samples": SAMPLES[(held.width, held.rows)],
        "threads": job.threads,
        "seed": job.view,
    }
    Path(stem + ".json").write_text(json.dumps(spec), encoding="utf-8")
    return stem + ".json"


def render(job, spec_path):
    """The scene as path-traced, linear light, blue, green, red.

    A picture in the work folder is used again.
    """
    part = Path(spec_path).with_suffix(".part.png")
    if not job.rendered.exists():
        command = [*shlex.split(job.blender), "-b", "-P", str(HERE / "scene.py"), "--", spec_path, str(part)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode or not part.exists():
            raise RuntimeError(f"no picture of {spec_path}: {(done.stdout + done.stderr)[-600:]}")
        part.replace(job.rendered)
    for end in (".npy", ".paint.png", ".card.png", ".json"):
        Path(spec_path).with_suffix(end).unlink()
    return phone.linear(
        cv2.imread(str(job.rendered), cv2.IMREAD_UNCHANGED)[..., :3].astype(np.float32) / 65535
    )


def save(job, held, picture, quality):
    """Writes the JPEG file, turned as phones store it, and answers with its orientation."""
    rng = job.rng(SAVE, job.view)
    orientation = int(rng.choice([1, 1, 3, 6, 8]))
    stored = picture if TURNS[orientation] is None else cv2.rotate(picture, TURNS[orientation])
    encoded = cv2.imencode(".jpg", stored, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
    day = f"2026:{1 + job.number % 9:02d}:{10 + job.number % 17:02d}"
    taken = f"{day} 10:{job.number % 60:02d}:{10 + 12 * job.view:02d}"
    millimetres = 9.0 if held.phone.f35 > 40 else 6.8
    size = stored.shape[1], stored.shape[0]
    data = exif.segment("Field", "Pocket camera", orientation, taken, millimetres, held.phone.f35, size)
    (job.folder / f"{job.name}.jpg").write_bytes(exif.with_exif(encoded, data))
    return orientation


def write_heights(job, made):
    """Writes heights-NNN.csv beside the imprint's first photo NNN."""
    np.savetxt(job.folder / f"heights-{job.name}.csv", made.heights() + 0.0, fmt="%.2f", delimiter=",")


def make(job):
    """Makes the photo and answers with its line of truth.jsonl."""
    cv2.setNumThreads(2)
    made = imprint.draw(job.rng(SHAPE), job.chosen.shapes[job.number], *job.chosen.thickness)
    if job.view == 0:
        write_heights(job, made)
    held = hold(job)
    kind, moved, lamps = room(job, held)
    light_seen = render(job, write_spec(job, made, held, lamps))
    processing = phone.draw(job.rng(PHONE, 1), job.rng(PHONE, 2).random() < 0.7)
    sensor = job.rng(SENSOR, job.view)
    blur = sensor.uniform(0.5, 1.1) * (1.6 if held.width == LARGE[0] else 1)
    picture = phone.process(phone.expose(sensor, camera.bend(light_seen, held), blur), processing)
    orientation = save(job, held, phone.bytes_of(picture), processing.quality)
    left, right = made.left, made.right
    return {
        "name": job.name + ".jpg",
        "imprint": job.number,
        "kind": "foam",
        **made.truth(),
        "dotted": job.chosen.dotted,
        "light": kind,
        "lamp_moved": moved,
        "f35": held.phone.f35,
        "focal_px": held.focal,
        "principal_px": held.matrix()[:2, 2].tolist(),
        "tilt_deg": float(np.degrees(held.tilt)),
        "height_mm": float(held.place[2]),
        "size": [held.width, held.rows],
        "frame": True,
        "frame_z": FRAME_Z,
        "bow_mm": lay_card(job)["height"],
        "print_scale": job.chosen.print_scale,
        "lens_k": held.lens()[:2].tolist(),
        "lens_p": held.lens()[2:4].tolist(),
        "phone": processing.denoise or processing.sharpen > 0,
        "processing": phone.for_truth(processing),
        "left_px": held.project(left.x, left.y, left.depth),
        "right_px": held.project(right.x, right.y, right.depth),
        "pixels_are": "of the upright picture, after the EXIF orientation is applied",
        "orientation": orientation,
    }
