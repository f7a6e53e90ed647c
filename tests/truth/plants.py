"""What goes wrong in an invented job, and what an answer must say of it.

Every case makes a World, spoils one thing in it, and states the cause that is planted: words that
count as naming it, and the subjects that must be named with it. `gross` cases (units, axes, names) are
those under which no setting-out figures may be given and which come first in what is said.
"""

import math

from world import ARCSEC, FT, US_FT, World, clock


class Planted:
    """words: any of these as kind of cause (a prefix counts). subjects: all must be named."""

    def __init__(self, words, subjects=(), said=None, whole=()):
        self.words = tuple(words)
        self.subjects = tuple(subjects)
        self.whole = tuple(whole)  # words that name it for all subjects at once
        self.said = said  # what a sentence must hold where an act has only sentences


class Case:
    def __init__(self, name, make, gross=False, acts=("station", "lay", "watch", "vet", "prove"),
                 issue=True):
        self.name, self.make, self.gross, self.acts = name, make, gross, acts
        self.issue = issue


ALL = ("station", "lay", "watch", "vet", "prove")
# What happened after the control was sighted, or to points alone, is no matter of the control.
BUT_VET = ("station", "lay", "watch", "prove")

# What was laid on a wrong place does not touch the day of the tripod.
LAYING = ("lay", "prove")

MOVED = ("mark-moved", "mark-off", "mark-set-wrong", "entry-wrong", "mark-disturbed")
PRISM = ("prism-constant-wrong",)
SWAPPED = ("names-swapped", "names-exchanged", "wrong-name")
ROD = ("rod-height-wrong", "sight-height-wrong", "rod-wrong")
UNIT = ("foot-kinds-mixed", "foot-kind", "lengths-in-feet", "wrong-unit", "unit-wrong")
LAID = ("laid-", "run-off", "points-off", "line-", "group-", "wrong-benchmark", "wrong-line")
ANOTHER = ("laid-on-another", "on-anothers-place", "on-another", "duplicate-name", "wrong-name",
           "names-swapped", "names-exchanged", "point-name")


def amount(rng, low, high):
    """A shift in plan of that size in a direction of chance."""
    size, way = rng.uniform(low, high), rng.uniform(0, 2 * math.pi)
    return size * math.sin(way), size * math.cos(way)


def none(seed):
    return World(seed).work(), []


def two_faces(seed):
    return World(seed, faces=2, points=18).work(), []


def on_the_map(seed):
    """Metres of a projected system, so that vet also writes GeoJSON."""
    w = World(seed, unit="m", origin=500000.0, points=12)
    w.site_crs = "EPSG:25832"
    return w.work(), []


def mark_kicked(seed):
    w = World(seed, setups=2)
    name = w.rng.choice(list(w.marks))
    e, n = amount(w.rng, 0.022, 0.04)
    w.marks[name].moves.append((w.setups[0].end + 300, e, n, 0.0))
    return w.work(), [Planted(MOVED, [name], rf"\b{name}\b.*(moved|off|not where|kicked)")]


def rod_once(seed):
    """In the first of two rounds."""
    w = World(seed, laying="good")
    name = w.rng.choice(list(w.marks))
    first = w.setups[0].begin + 60.0 * len(w.marks) - 1.0
    w.rod_extra = lambda s, t, p, time: (
        1.0 * FT if s == "S1" and t == name and time < first else 0.0)
    return w.work(), [Planted(ROD, [name], rf"rod.*\b{name}\b")]


def rod_at_a_mark(seed):
    """In both rounds: the mark itself could be too low."""
    w = World(seed, laying="good")
    name = w.rng.choice(list(w.marks))
    w.rod_extra = lambda s, t, p, time: (
        1.0 * FT if s == "S1" and t == name and p == "control" else 0.0)
    return w.work(), [Planted(ROD, [name], rf"rod.*\b{name}\b")]


def rod_from(seed):
    w = World(seed, laying="good")
    at = clock(0, 9, 30)
    w.rod_extra = lambda s, t, p, time: 0.5 * FT if s == "S1" and time >= at else 0.0
    return w.work(), [Planted(ROD, [], r"\brod\b.*(height|long|short|wrong)")]


def prism(seed):
    w = World(seed, laying="good")
    w.prism_extra = lambda s, time: 0.030
    return w.work(), [Planted(PRISM, [], r"prism")]


def feet_kinds(seed):
    w = World(seed, unit="us-ft", laying="good", origin=2000000.0 * US_FT)
    w.points_size, w.points_unit = "us-ft", "ft"
    return w.work(), [Planted(UNIT, [], r"(feet|foot)")]


def feet_for_metres(seed):
    w = World(seed, unit="ft", laying="good")
    # The numbers of the sheet are feet; its heading says metres.
    w.sheet_as_written = lambda name, p: (name, [v / FT for v in p])
    w.marks_unit, w.sights_unit = "m", "m"
    return w.work(), [Planted(UNIT, [], r"(feet|foot|metres)")]


def swap_sheet(seed):
    w = World(seed, laying="good")
    a, b = w.rng.sample(list(w.marks), 2)
    other = {a: b, b: a}
    w.sheet_as_written = lambda name, p: (other.get(name, name), p)
    return w.work(), [Planted(SWAPPED, [a, b], rf"\b({a}.*{b}|{b}.*{a})\b")]


def swap_field(seed):
    w = World(seed, laying="good")
    a, b = w.rng.sample(list(w.marks), 2)
    other = {a: b, b: a}
    w.booked_name = lambda s, t, p: other.get(t, t) if s == "S1" and p == "control" else t
    return w.work(), [Planted(SWAPPED, [a, b], rf"\b({a}.*{b}|{b}.*{a})\b")]


def bump(seed):
    w = World(seed, laying="reading")
    s = w.setups[0]
    e, n = amount(w.rng, 0.005, 0.009)
    s.bumps.append((clock(0, 10, 40), e, n, -0.001, w.rng.choice([-1, 1]) * 70.0 * ARCSEC))
    s.end = clock(0, 12, 30)
    for later in w.setups[1:]:
        later.begin, later.end = later.begin + 3600.0, later.end + 3600.0
    return w.work(), [Planted(("tripod-disturbed",), [], r"tripod|S1 moved")]


def lean(seed):
    w = World(seed, laying="good")
    name = w.rng.choice(list(w.marks))
    a = w.rng.uniform(0, 2 * math.pi)
    lean_by = 0.025 / w.mark_rod
    w.lean_extra = lambda s, t, p, order: (
        (lean_by * math.sin(a), lean_by * math.cos(a))
        if s == "S1" and t == name and p == "control" and order == 0 else (0.0, 0.0))
    return w.work(), [Planted(("rod-not-plumb", "sight-wrong", "rod-leaned"), [name],
                              rf"(rod|lean).*\b{name}\b")]


def scale(seed):
    w = World(seed, laying="good")
    w.scale = 0.9997
    return w.work(), [Planted(("distance-scale-wrong", "grid-for-ground", "scale"), [],
                              r"(scale|parts per million|distance.*too)")]


def axes(seed):
    w = World(seed, laying="good")
    w.sheet_as_written = lambda name, p: (name, [p[1], p[0], p[2]])
    return w.work(), [Planted(("axes-exchanged", "mirrored"), [], r"(east and north|axes)")]


def old_revision(seed, one_shift=True):
    """The sheet in use is older than three marks: set anew as a group, or each by itself."""
    w = World(seed, laying="good", marks=7)
    names = w.rng.sample(list(w.marks), 3)
    group = amount(w.rng, 0.04, 0.09)
    old = {name: group if one_shift else amount(w.rng, 0.04, 0.09) for name in names}

    def written(name, p):
        e, n = old.get(name, (0.0, 0.0))
        return name, [p[0] + e, p[1] + n, p[2]]

    w.sheet_as_written = written
    return w.work(), [Planted(MOVED, [name], rf"\b{name}\b|revision",
                              whole=("other-revision", "older-revision", "revision"))
                      for name in names]


def wrong_line(seed):
    w = World(seed)
    row = w.rng.choice([0, 1])
    for p in w.points.values():
        if p.row == row:
            p.aim[1] += 2.0 * FT
    return w.work(), [Planted(LAID, [], r"\bline\b|\brow\b|together")]


def another_place(seed):
    w = World(seed)
    names = list(w.points)
    a, b = names[3], names[4]
    w.points[a].aim = list(w.points[b].design)
    return w.work(), [Planted(ANOTHER, [a, b], rf"\b{b}\b.*\bplace\b|place of {b}|{b}'s")]


def duplicate_name(seed):
    w = World(seed)
    names = w.setups[0].points
    a, b = names[2], names[4]
    w.booked_name = lambda s, t, p: a if t == b and s == "S1" else t
    world = w.work()
    # Nobody ever booked the second one by its name from the first set-up.
    return world, [Planted(ANOTHER, [a, b], rf"\b{b}\b")]


def prism_one_day(seed):
    w = World(seed, setups=3, days=3)
    w.prism_extra = lambda s, time: 0.030 if s == "S2" else 0.0
    return w.work(), [Planted(PRISM, ["S2"], r"prism")]


def prism_many(seed, wrong):
    w = World(seed, setups=8, days=2, points=28, laying="good")
    names = {f"S{i + 1}" for i in w.rng.sample(range(8), wrong)}
    w.prism_extra = lambda s, time: 0.030 if s in names else 0.0
    return w.work(), [Planted(PRISM, [], r"prism")]


def two_marks(seed):
    w = World(seed, setups=3, days=3, marks=7)
    a, b = w.rng.sample(list(w.marks), 2)
    for name, day in ((a, 0), (b, 1)):
        e, n = amount(w.rng, 0.025, 0.04)
        w.marks[name].moves.append((clock(day, 20), e, n, 0.0))
    return w.work(), [Planted(MOVED, [m], rf"\b{m}\b.*(moved|off|not where|kicked)") for m in (a, b)]


def index(seed):
    w = World(seed, laying="good")
    w.index = 120.0 * ARCSEC
    return w.work(), [Planted(("vertical-index-wrong",), [], r"index")]


def bump_and_mark(seed):
    w = World(seed, laying="reading")
    s = w.setups[0]
    e, n = amount(w.rng, 0.005, 0.009)
    s.bumps.append((clock(0, 10, 40), e, n, 0.0, w.rng.choice([-1, 1]) * 70.0 * ARCSEC))
    name = w.rng.choice(list(w.marks))
    e, n = amount(w.rng, 0.025, 0.04)
    w.marks[name].moves.append((s.end + 300.0, e, n, 0.0))
    planted = [Planted(("tripod-disturbed",), [], r"tripod|S1 moved"),
               Planted(MOVED, [name], rf"\b{name}\b.*(moved|off|not where|kicked)")]
    return w.work(), planted


def night_crew(seed):
    w = World(seed, setups=3, points=24)
    s = w.setups[2]
    s.begin, s.end = clock(0, 20), clock(0, 23)
    # Their own rod, for laying and checks; a clip higher than they book.
    w.rod_extra = lambda name, t, p, time: 0.1 * FT if name == "S3" and p != "control" else 0.0
    return w.work(), [Planted(ROD, [], r"\brod\b.*(height|long|short|wrong)")]


def bolts_high(seed):
    w = World(seed, points=28, setups=1)
    for name in list(w.points)[5:23]:
        w.points[name].aim[2] += 1.0 * FT
    return w.work(), [Planted(LAID + ROD, [], r"run of|benchmark|rod.*(longer|shorter|booked)")]


def anything(seed):
    """A job of chance: how large, which unit, how many days, and none to three things wrong."""
    w = World(seed, points=12 + seed % 9, setups=1 + seed % 3, days=1 + (seed // 3) % 2,
              faces=2 if seed % 5 == 0 else 1)
    rng = w.rng
    for wrong in rng.sample(["none", "mark", "bump", "prism", "rod", "lean", "laid", "high"],
                            rng.randint(0, 3)):
        s = rng.choice(w.setups)
        middle = 0.5 * (s.begin + s.end)
        name = rng.choice(list(w.marks))
        if wrong == "mark":
            e, n = amount(rng, 0.005, 0.06)
            w.marks[name].moves.append((rng.choice([0.0, middle, s.end]), e, n, 0.0))
        elif wrong == "bump":
            e, n = amount(rng, 0.002, 0.015)
            s.bumps.append((middle, e, n, 0.0, rng.gauss(0, 150) * ARCSEC))
        elif wrong == "prism":
            size = rng.choice([0.0175, 0.030, -0.030])
            w.prism_extra = lambda n, time, s=s, size=size: size if n == s.name else 0.0
        elif wrong == "rod":
            size = rng.choice([0.03, 0.1524, 0.3048])
            w.rod_extra = lambda n, t, p, time, s=s, m=middle, size=size: (
                size if n == s.name and m < time < m + 3600.0 else 0.0)
        elif wrong == "lean":
            w.lean_extra = lambda n, t, p, order, s=s, name=name: (
                (0.012, 0.004) if n == s.name and t == name and order == 0 else (0.0, 0.0))
        elif wrong == "laid":
            a, b = rng.sample(list(w.points), 2)
            w.points[a].aim = list(w.points[b].design)
        elif wrong == "high":
            for p in list(w.points.values())[3:9]:
                p.aim[2] += 0.3048
    w.also_in_parts = True
    return w.work(), []


CASES = [
    Case("mark-kicked", mark_kicked),
    Case("rod-booked-wrong-once", rod_once),
    Case("rod-wrong-from-0930", rod_from, acts=BUT_VET),
    Case("prism-30mm", prism),
    Case("feet-kinds", feet_kinds, gross=True, acts=BUT_VET),
    Case("names-swapped-on-sheet", swap_sheet, gross=True),
    Case("names-exchanged-in-field", swap_field, gross=True),
    Case("tripod-bumped-1040", bump, acts=BUT_VET),
    Case("rod-leaned", lean),
    Case("scale-0.9997", scale),
    Case("axes-exchanged", axes, gross=True),
    Case("old-revision", old_revision),
    Case("wrong-grid-line", wrong_line, acts=LAYING),
    Case("duplicate-name", duplicate_name, acts=LAYING),
    Case("prism-wrong-on-one-day", prism_one_day),
    Case("two-marks-on-different-days", two_marks),
    Case("instrument-index", index, acts=BUT_VET),
    Case("bump-and-moved-mark", bump_and_mark, acts=BUT_VET),
    Case("night-crew-other-rod", night_crew, acts=("lay", "watch", "prove")),
    # Beyond the nineteen.
    Case("old-revision-mark-by-mark", lambda seed: old_revision(seed, one_shift=False), issue=False),
    Case("rod-wrong-at-one-mark", rod_at_a_mark, issue=False),
    Case("feet-for-metres", feet_for_metres, gross=True, issue=False),
    Case("on-anothers-place", another_place, acts=LAYING, issue=False),
    Case("bolts-1ft-high", bolts_high, acts=LAYING, issue=False),
    Case("prism-wrong-in-5-of-8", lambda seed: prism_many(seed, 5), issue=False),
    Case("prism-wrong-in-7-of-8", lambda seed: prism_many(seed, 7), issue=False),
    Case("anything", anything, acts=(), issue=False),
    Case("none", none, acts=(), issue=False),
    Case("none-on-the-map", on_the_map, acts=(), issue=False),
    Case("none-two-faces", two_faces, acts=(), issue=False),
]
