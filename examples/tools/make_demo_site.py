#!/usr/bin/env python3
"""Writes the files of the demo job beside this folder: examples/invented-mill-hall/.

Everything in it is invented: the hall, the marks, the sights. The sights are drawn from the error
model that layproof assumes (instrument.toml), with a fixed seed, so that the same files come out
every time. Standard library only.

    make_demo_site.py            writes the files
    make_demo_site.py --check    writes nothing; exit status 1 when a file differs from what it
                                 would write
"""

import math
import random
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "invented-mill-hall"
SEED = 20310514
FT = 0.3048
ARCSEC = math.pi / 648000.0
EARTH_RADIUS_M = 6371000.0
REFRACTION_K = 0.13

# Standard deviations of instrument.toml, in metres and radians.
ANGLE_SD = 3.0 * ARCSEC
DISTANCE_SD = 0.002
DISTANCE_PPM = 2.0
BUBBLE_SD = 4.0 * 60.0 * ARCSEC
CENTRING_SD = 0.0005
HEIGHT_TAPE_SD = 0.001
MARK_SD_FT = 0.004

# As the control sheet gives them, in feet.
SHEET = {
    "H1": (5006.412, 10008.155, 311.842),
    "H2": (5243.870, 10004.907, 312.105),
    "H3": (5238.226, 10190.548, 312.366),
    "H4": (5131.905, 10197.310, 312.020),
    "H5": (5009.733, 10193.684, 311.577),
    "H6": (5001.284, 10097.460, 311.930),
}

# One mark was driven over after it was set: 5/8 in in plan, towards azimuth 38 degrees.
DISTURBED = "H4"
DISTURBED_BY_FT = 0.625 / 12.0
DISTURBED_TOWARDS = math.radians(38.0)

# Where the instrument stood (its axes), how its circle was turned, and the rounds of sights:
# mark, target height in feet.
SETUPS = {
    "S1": {
        "axes": (5118.6, 10088.3, 317.21),
        "circle": math.radians(131.7),
        "start": (7, 42),
        "sights": [("H1", 5.0), ("H2", 5.0), ("H3", 5.0), ("H4", 0.4), ("H5", 5.0), ("H6", 0.4)],
        "check": ("H1", 5.0),
        "air": (61, 29.92),
    },
    "S2": {
        "axes": (5181.2, 10121.9, 317.54),
        "circle": math.radians(287.2),
        "start": (12, 55),
        "sights": [("H1", 5.0), ("H2", 0.4), ("H3", 0.4), ("H5", 5.0), ("H6", 0.4)],
        "check": ("H3", 0.4),
        "air": (74, 29.88),
    },
}
ROUNDS = 2


def true_marks(rng):
    """Where the marks really are: the sheet, its own small errors, and the one that was hit."""
    marks = {}
    for name, sheet in SHEET.items():
        marks[name] = [coordinate + rng.gauss(0.0, MARK_SD_FT) for coordinate in sheet]
    marks[DISTURBED][0] += DISTURBED_BY_FT * math.sin(DISTURBED_TOWARDS)
    marks[DISTURBED][1] += DISTURBED_BY_FT * math.cos(DISTURBED_TOWARDS)
    return marks


def dms(angle_rad):
    tenths = round(angle_rad % (2.0 * math.pi) / ARCSEC * 10.0) % 12960000
    degrees, rest = divmod(tenths, 36000)
    minutes, tenths = divmod(rest, 600)
    return f"{degrees}-{minutes:02d}-{tenths // 10:02d}.{tenths % 10}"


def sight(rng, setup, mark_ft, target_height_ft):
    """Direction, zenith angle (radians) and slope distance (feet) of one pointing."""
    height_m = target_height_ft * FT
    plan_sd = math.hypot(height_m * BUBBLE_SD, CENTRING_SD)
    axes = [value * FT for value in setup["axes"]]
    target = [value * FT for value in mark_ft]
    east = target[0] + rng.gauss(0.0, plan_sd) - axes[0]
    north = target[1] + rng.gauss(0.0, plan_sd) - axes[1]
    flat = math.hypot(east, north)
    drop = (1.0 - REFRACTION_K) * flat * flat / (2.0 * EARTH_RADIUS_M)
    up = target[2] + height_m + rng.gauss(0.0, HEIGHT_TAPE_SD) - axes[2] - drop
    slope = math.hypot(flat, up)
    distance_sd = math.hypot(DISTANCE_SD, DISTANCE_PPM * 1e-6 * slope)
    direction = math.atan2(east, north) - setup["circle"] + rng.gauss(0.0, ANGLE_SD)
    zenith = math.atan2(flat, up) + rng.gauss(0.0, ANGLE_SD)
    return direction, zenith, (slope + rng.gauss(0.0, distance_sd)) / FT


def marks_csv():
    lines = ["mark,east [ft],north [ft],height [ft],sd_east [ft],sd_north [ft],sd_height [ft],note"]
    for name, (east, north, height) in SHEET.items():
        sd = f"{MARK_SD_FT:.3f}"
        lines.append(f"{name},{east:.3f},{north:.3f},{height:.3f},{sd},{sd},{sd},invented")
    return lines


def time_text(start, minutes):
    total = start[0] * 60 + start[1] + minutes
    return f"2031-05-14T{total // 60:02d}:{total % 60:02d}:00-05:00"


def sights_csv(rng, marks):
    lines = [
        "station,target,direction,zenith,slope_distance [ft],target_height [ft],purpose,face,time"
    ]
    for station, setup in SETUPS.items():
        booked = [(*s, "control") for _ in range(ROUNDS) for s in setup["sights"]]
        booked.append((*setup["check"], "check"))
        for minutes, (mark, target_height, purpose) in enumerate(booked, start=4):
            direction, zenith, slope = sight(rng, setup, marks[mark], target_height)
            lines.append(
                f"{station},{mark},{dms(direction)},{dms(zenith)},{slope:.3f},"
                f"{target_height:.3f},{purpose},1,{time_text(setup['start'], minutes)}"
            )
    return lines


def setups_csv():
    lines = ["station,kind,mark,instrument_height [ft],time,temperature [F],pressure [inHg]"]
    for station, setup in SETUPS.items():
        fahrenheit, inches = setup["air"]
        lines.append(
            f"{station},free,,,{time_text(setup['start'], 0)},{fahrenheit},{inches:.2f}"
        )
    return lines


def points_csv():
    """Column lines 1 to 8 east, A to E north: one anchor-rod group centre at each crossing."""
    lines = [
        "point,east [ft],north [ft],height [ft],element,tolerance_plan [ft],tolerance_height [ft],note"
    ]
    plan, height = 0.25 / 12.0, 0.5 / 12.0
    for row in range(5):
        for column in range(8):
            letter = "ABCDE"[row]
            lines.append(
                f"{letter}{column + 1},{5030.0 + 27.5 * column:.3f},{10030.0 + 35.0 * row:.3f},"
                f"312.500,anchor rod,{plan:.5f},{height:.5f},column {letter}-{column + 1}"
            )
    return lines


def instrument_toml():
    return [
        "# Invented instrument and rod. All figures are standard deviations.",
        f"angle_sd_arcsec = {ANGLE_SD / ARCSEC:.1f}",
        f"distance_sd_mm = {DISTANCE_SD * 1e3:.1f}",
        f"distance_ppm = {DISTANCE_PPM:.1f}",
        f"bubble_arcmin = {BUBBLE_SD / ARCSEC / 60.0:.1f}",
        f"centring_mm = {CENTRING_SD * 1e3:.1f}",
        f"height_tape_mm = {HEIGHT_TAPE_SD * 1e3:.1f}",
    ]


def main():
    rng = random.Random(SEED)
    marks = true_marks(rng)
    files = {
        "marks.csv": marks_csv(),
        "sights.csv": sights_csv(rng, marks),
        "setups.csv": setups_csv(),
        "points.csv": points_csv(),
        "instrument.toml": instrument_toml(),
    }
    status = 0
    for name, lines in files.items():
        path = FOLDER / name
        text = "\n".join(lines) + "\n"
        if "--check" not in sys.argv[1:]:
            path.write_text(text, encoding="utf-8", newline="\n")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            print(f"{path}: differs", file=sys.stderr)
            status = 1
    return status


if __name__ == "__main__":
    sys.exit(main())
