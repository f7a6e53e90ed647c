#!/usr/bin/env python3
"""Writes an invented working day beside the demo job: examples/invented-mill-hall/day-*.csv.

The marks, the points and the instrument are those of make_demo_site.py. The crew laid every point
until its reading was close to what it should be and then sighted it for the record, so what the
readings do not show is where the instrument really was. In one gap between two checks the tripod
was bumped and nobody noticed. Fixed seed, standard library only.

    make_demo_day.py            writes the files
    make_demo_day.py --check    writes nothing; exit status 1 when a file differs from what it
                                would write
"""

import math
import random
import sys

import make_demo_site as site

SEED = 20310515
# What the crew leaves between a reading and its design value, per axis.
LEFT_SD = 0.0006
ROD_FT = 0.4

# Set-ups of the day: the axes, the circle, the start, rounds to the marks (H4 is known to be off
# and left out), the points laid, the checks (minute after the start, mark) and what happened.
# bump: minute, east, north, height in metres, turn in radians.
DAY = {
    "D1": {
        "axes": (5098.4, 10092.7, 317.08),
        "circle": math.radians(64.3),
        "start": (7, 30),
        "air": (58, 29.95),
        "points": [f"{row}{column}" for row in "ABCDE" for column in range(1, 5)],
        "first": 19,
        "step": 8,
        "checks": [(16, "H1"), (17, "H3"), (76, "H1"), (77, "H3"), (136, "H1"), (137, "H3"),
                   (184, "H1"), (185, "H3")],
        "bump": None,
    },
    "D2": {
        "axes": (5186.3, 10108.6, 317.61),
        "circle": math.radians(211.9),
        "start": (12, 40),
        "air": (73, 29.90),
        "points": [f"{row}{column}" for row in "ABCDE" for column in range(5, 9)],
        "first": 19,
        "step": 8,
        "checks": [(16, "H2"), (17, "H5"), (76, "H2"), (77, "H5"), (136, "H2"), (137, "H5"),
                   (184, "H2"), (185, "H5")],
        # Somebody stepped over the leg on the way to the saw.
        "bump": (106.5, 0.0068, -0.0041, -0.0012, 55.0 * site.ARCSEC),
    },
}
CONTROL = ["H1", "H2", "H3", "H5", "H6"]
ROUNDS = 2


def design_points():
    points = {}
    for line in site.points_csv()[1:]:
        name, east, north, height = line.split(",")[:4]
        points[name] = (float(east), float(north), float(height))
    return points


def at_time(setup, minute):
    """Where the instrument really stands at that minute: axes in feet, circle in radians."""
    axes, circle = list(setup["axes"]), setup["circle"]
    bump = setup["bump"]
    if bump is not None and minute >= bump[0]:
        axes = [a + d / site.FT for a, d in zip(axes, bump[1:4])]
        circle += bump[4]
    return {"axes": axes, "circle": circle}


def solved(readings):
    """The pose the crew works from: the rigid fit of its control readings to the sheet."""
    seen = []
    for mark, (direction, zenith, slope_ft) in readings:
        slope = slope_ft * site.FT
        flat = slope * math.sin(zenith)
        drop = (1.0 - site.REFRACTION_K) * flat * flat / (2.0 * site.EARTH_RADIUS_M)
        up = slope * math.cos(zenith) + drop - ROD_FT * site.FT
        sheet = [value * site.FT for value in site.SHEET[mark]]
        seen.append((flat * math.sin(direction), flat * math.cos(direction), up, *sheet))
    n = len(seen)
    x, y, up, east, north, height = (sum(column) / n for column in zip(*seen))
    cross = dot = 0.0
    for row in seen:
        a, b, e, f = row[0] - x, row[1] - y, row[3] - east, row[4] - north
        dot += a * e + b * f
        cross += b * e - a * f
    circle = math.atan2(cross, dot)
    c, s = math.cos(circle), math.sin(circle)
    axes = (east - (c * x + s * y), north - (c * y - s * x), height - up)
    return {"axes": [value / site.FT for value in axes], "circle": circle}


def laid_place(rng, believed, design_ft):
    """The reading booked for a point that was moved until it read right."""
    axes = [value * site.FT for value in believed["axes"]]
    target = [value * site.FT for value in design_ft]
    east = target[0] - axes[0] + rng.gauss(0.0, LEFT_SD)
    north = target[1] - axes[1] + rng.gauss(0.0, LEFT_SD)
    flat = math.hypot(east, north)
    drop = (1.0 - site.REFRACTION_K) * flat * flat / (2.0 * site.EARTH_RADIUS_M)
    up = target[2] + ROD_FT * site.FT - axes[2] - drop + rng.gauss(0.0, LEFT_SD)
    direction = math.atan2(east, north) - believed["circle"]
    return direction, math.atan2(flat, up), math.hypot(flat, up) / site.FT


def time_text(start, minutes):
    total = start[0] * 60 + start[1] + minutes
    return f"2031-05-15T{total // 60:02d}:{total % 60:02d}:00-05:00"


def rows_of(rng, marks, name, setup):
    points = design_points()
    events = []
    minute = 3
    for _ in range(ROUNDS):
        for mark in CONTROL:
            events.append((minute, mark, "control"))
            minute += 1
    events += [(at, mark, "check") for at, mark in setup["checks"]]
    laying = setup["first"]
    busy = {at for at, _ in setup["checks"]}
    for point in setup["points"]:
        while laying in busy:
            laying += 1
        events.append((laying, point, "lay"))
        laying += setup["step"]
    events.sort(key=lambda event: event[0])
    rows = []
    control = []
    for at, target, purpose in events:
        if purpose == "lay":
            reading = laid_place(rng, solved(control), points[target])
        else:
            reading = site.sight(rng, at_time(setup, at), marks[target], ROD_FT)
            if purpose == "control":
                control.append((target, reading))
        direction, zenith, slope = reading
        rows.append(
            f"{name},{target},{site.dms(direction)},{site.dms(zenith)},{slope:.3f},"
            f"{ROD_FT:.3f},{purpose},1,{time_text(setup['start'], at)}"
        )
    return rows


def sights_csv(rng, marks):
    lines = [
        "station,target,direction,zenith,slope_distance [ft],target_height [ft],purpose,face,time"
    ]
    for name, setup in DAY.items():
        lines += rows_of(rng, marks, name, setup)
    return lines


def setups_csv():
    lines = ["station,kind,mark,instrument_height [ft],time,temperature [F],pressure [inHg]"]
    for name, setup in DAY.items():
        fahrenheit, inches = setup["air"]
        lines.append(
            f"{name},free,,,{time_text(setup['start'], 0)},{fahrenheit},{inches:.2f}"
        )
    return lines


def grid_csv():
    """Lines 1 to 8 run north, A to E run east, as the points of make_demo_site.py stand."""
    lines = ["line,east_1 [ft],north_1 [ft],east_2 [ft],north_2 [ft],family"]
    for column in range(8):
        east = 5030.0 + 27.5 * column
        lines.append(f"{column + 1},{east:.3f},10020.000,{east:.3f},10180.000,numbers")
    for row in range(5):
        north = 10030.0 + 35.0 * row
        lines.append(f"{'ABCDE'[row]},5020.000,{north:.3f},5235.000,{north:.3f},letters")
    return lines


def main():
    # The marks stand where the demo site's own random numbers put them.
    marks = site.true_marks(random.Random(site.SEED))
    rng = random.Random(SEED)
    files = {
        "day-sights.csv": sights_csv(rng, marks),
        "day-setups.csv": setups_csv(),
        "grid.csv": grid_csv(),
    }
    status = 0
    for name, lines in files.items():
        path = site.FOLDER / name
        text = "\n".join(lines) + "\n"
        if "--check" not in sys.argv[1:]:
            path.write_text(text, encoding="utf-8", newline="\n")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            print(f"{path}: differs", file=sys.stderr)
            status = 1
    return status


if __name__ == "__main__":
    sys.exit(main())
