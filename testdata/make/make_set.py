#!/usr/bin/python3
"""Makes named sets of imprint photos with known truth again.   make_set.py NAME... [--out FOLDER] [--jobs N]

Writes FOLDER/NAME/000.jpg..., heights-NNN.csv and truth.jsonl; photos that lie there with their truth are
kept, so that a run that was stopped goes on.  See README.md here for what it needs.
"""
import argparse
import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import photo
import scan
from sets import SETS


def jobs_of(chosen, options):
    """The photos of a set that are still to be made, as far as --imprints asks for them."""
    folder = options.out / chosen.name
    folder.mkdir(parents=True, exist_ok=True)
    options.work.mkdir(parents=True, exist_ok=True)
    known = {truth["name"] for truth in read_truth(folder) if (folder / truth["name"]).exists()}
    last = min(options.imprints[1], len(chosen.shapes) - 1)
    jobs = [
        photo.Job(chosen, number, view, folder, options.work, options.blender, options.threads)
        for number in range(options.imprints[0], last + 1)
        for view in range(chosen.views)
    ]
    return [job for job in jobs if job.name + ".jpg" not in known]


def make(job):
    """One photo's or scan's line of truth.jsonl."""
    return scan.make(job) if job.chosen.scanned else photo.make(job)


def read_truth(folder):
    """The lines of a set's truth.jsonl, none where it is not there."""
    path = folder / "truth.jsonl"
    return (
        [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []
    )


def write_truth(folder, lines):
    """Writes truth.jsonl whole; lines of photos that were not made anew stay."""
    path = folder / "truth.jsonl"
    known = {truth["name"]: truth for truth in [*read_truth(folder), *lines]}
    beside = path.with_suffix(".new")
    beside.write_text("".join(json.dumps(known[name]) + "\n" for name in sorted(known)), encoding="utf-8")
    os.replace(beside, path)


def run(names, options):
    """Makes the sets, several photos at a time; answers with the number of photos that failed."""
    start, failed, lines = time.monotonic(), 0, {name: [] for name in names}
    with ProcessPoolExecutor(options.jobs) as pool:
        waiting = {pool.submit(make, job): job for name in names for job in jobs_of(SETS[name], options)}
        for done in as_completed(waiting):
            job = waiting[done]
            try:
                lines[job.chosen.name].append(done.result())
            except Exception as trouble:  # one photo's trouble must not cost the others
                failed += 1
                print(f"{job.chosen.name}/{job.name}: {trouble}", file=sys.stderr, flush=True)
                continue
            print(f"{job.chosen.name}/{job.name} {time.monotonic() - start:.0f} s", flush=True)
            write_truth(job.folder, lines[job.chosen.name])
    return failed


def main():
    """Reads the command line and makes the sets."""
    parser = argparse.ArgumentParser(description="Makes sets of imprint photos with known truth again.")
    parser.add_argument(
        "names", nargs="+", choices=sorted(SETS), metavar="NAME", help=", ".join(sorted(SETS))
    )
    parser.add_argument("--out", type=Path, default=Path("out/sets"), help="folder for the sets (out/sets)")
    parser.add_argument("--work", type=Path, help="folder for what may be thrown away (FOLDER/work)")
    parser.add_argument("--jobs", type=int, default=1, help="photos made at a time (1)")
    parser.add_argument("--threads", type=int, default=2, help="threads of each Blender (2)")
    parser.add_argument("--blender", default="blender", help="command that starts Blender (blender)")
    parser.add_argument(
        "--imprints",
        type=int,
        nargs=2,
        default=(0, 10**6),
        metavar=("FIRST", "LAST"),
        help="only these imprints of each set",
    )
    options = parser.parse_args()
    options.out = options.out.absolute()
    options.work = (options.work or options.out / "work").absolute()
    sys.exit(1 if run(options.names, options) else 0)


if __name__ == "__main__":
    main()
