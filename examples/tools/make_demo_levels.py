#!/usr/bin/env python3
"""Writes levels.csv of the invented demo job: two runs of levels over its marks, on the day of
make_demo_day.py. Everything in it is invented; the readings are drawn from a fixed seed.

    make_demo_levels.py            writes the file
    make_demo_levels.py --check    writes nothing; exit status 1 when it differs from what it would
                                   write
"""

import random
import sys

import make_demo_site as site

SEED = 20310516
READING_SD_FT = 0.003  # of one reading of the rod
AXIS_FT = 4.9  # of the level over the ground

# L1 goes round all marks and closes; L2 crosses from H2 to H5, and one reading of it was booked a
# tenth of a foot wrong. Between two marks: how often the level was set up.
RUNS = {
    "L1": {
        "start": (6, 50),
        "over": [("H1", 0), ("H2", 2), ("H3", 2), ("H4", 1), ("H5", 1), ("H6", 1), ("H1", 1)],
        "misread": None,
    },
    "L2": {"start": (16, 40), "over": [("H2", 0), ("H5", 3)], "misread": (2, 0.1)},
}


def time_text(start, minutes):
    total = start[0] * 60 + start[1] + minutes
    return f"2031-05-15T{total // 60:02d}:{total % 60:02d}:00-05:00"


def stops(rng, marks, over):
    """Names and heights of all positions of the rod, and the sight lengths between them."""
    names, heights, lengths = [over[0][0]], [marks[over[0][0]][2]], []
    for (before, _), (name, set_ups) in zip(over, over[1:]):
        a, b = marks[before], marks[name]
        span = ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5
        for k in range(1, set_ups + 1):
            part = k / set_ups
            ground = a[2] + part * (b[2] - a[2])
            names.append(name if k == set_ups else "")
            heights.append(b[2] if k == set_ups else ground + rng.uniform(-0.4, 0.4))
            half = span / set_ups / 2.0
            shift = round(rng.uniform(-0.08, 0.08) * half)
            lengths.append((round(half) + shift, round(half) - shift))
    return names, heights, lengths


def run_rows(rng, marks, name, run):
    names, heights, lengths = stops(rng, marks, run["over"])
    backs, fores = {}, {}
    for k in range(len(names) - 1):
        axis = 0.5 * (heights[k] + heights[k + 1]) + AXIS_FT + rng.uniform(-0.3, 0.3)
        backs[k] = axis - heights[k] + rng.gauss(0.0, READING_SD_FT)
        fores[k + 1] = axis - heights[k + 1] + rng.gauss(0.0, READING_SD_FT)
    if run["misread"]:
        row, amount = run["misread"]
        fores[row] += amount
    rows = []
    for k, point in enumerate(names):
        back = f"{backs[k]:.3f}" if k in backs else ""
        fore = f"{fores[k]:.3f}" if k in fores else ""
        back_length = str(lengths[k][0]) if k in backs else ""
        fore_length = str(lengths[k - 1][1]) if k in fores else ""
        rows.append(
            f"{name},{point},{back},{fore},{back_length},{fore_length},"
            f"{time_text(run['start'], 4 * k)}"
        )
    return rows


def levels_csv(marks):
    rng = random.Random(SEED)
    lines = [
        "run,point,backsight [ft],foresight [ft],backsight_distance [ft],"
        "foresight_distance [ft],time"
    ]
    for name, run in RUNS.items():
        lines += run_rows(rng, marks, name, run)
    return lines


def main():
    marks = site.true_marks(random.Random(site.SEED))
    path = site.FOLDER / "levels.csv"
    text = "\n".join(levels_csv(marks)) + "\n"
    if "--check" not in sys.argv[1:]:
        path.write_text(text, encoding="utf-8", newline="\n")
    elif not path.exists() or path.read_text(encoding="utf-8") != text:
        print(f"{path}: differs", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
