"""Days for calibration: clean ones, and ones whose tripod was bumped. Points are laid until their
reading is as wanted, so that a bump puts them out without anybody seeing it.
"""

import math
import random

import plants
from world import ARCSEC, World


def day(seed, **more):
    """The long rod for laying, so that not every point is safe: it is the rod that decides."""
    w = World(seed, laying="reading", **{"setups": 1, "points": 24, **more})
    w.lay_rod = w.mark_rod
    w.lay_jitter = 0.0015
    return w


def clean(seed):
    return day(seed).work(), []


def two_faces(seed):
    """Both faces of a sight share the rod's standing."""
    return day(seed, faces=2, points=16).work(), []


def bumped(seed):
    """Sizes of the table of causes: 4 mm and 60 seconds, or 15 mm and 300, standard deviations."""
    w = day(seed)
    s, rng = w.setups[0], w.rng
    mm, turn = rng.choice([(0.004, 60.0), (0.015, 300.0)])
    when = s.begin + rng.uniform(0.15, 0.85) * (s.end - s.begin)
    s.bumps.append((when, rng.gauss(0, mm), rng.gauss(0, mm), rng.gauss(0, mm / 4),
                    rng.gauss(0, turn) * ARCSEC))
    return w.work(), []


def moved(seed):
    """One mark kicked between two set-ups: 6, 20 or 60 mm per axis."""
    w = day(seed, setups=2)
    name, size = w.rng.choice(list(w.marks)), w.rng.choice([0.006, 0.020, 0.060])
    w.marks[name].moves.append((w.setups[0].end + 300.0, w.rng.gauss(0, size),
                                w.rng.gauss(0, size), 0.0))
    return w.work(), []


def detectable(world, setup, when, direction):
    """How large a bump along `direction` (east, north, turn) must be for the sights to the marks to
    show it with 80 % at a level of 0.001: noncentrality 17.07, two-sided, one amount (3.29 + 0.84)^2.
    Plan only; unknown are the pose, the marks about their sheet, and the amount."""
    names = list(world.marks)
    n = 4 + 2 * len(names)
    normal = [[0.0] * n for _ in range(n)]
    axes, _ = setup.at(setup.begin)
    i = world.instrument
    for row in world.rows:
        if row.station != setup.name or row.target not in world.marks:
            continue
        mark = world.marks[row.target].sheet
        e, k = mark[0] - axes[0], mark[1] - axes[1]
        d = math.hypot(e, k)
        plumb = math.hypot(row.rod * i.bubble_arcmin * 60 * ARCSEC, i.centring_mm / 1000)
        along = math.hypot(math.hypot(i.distance_mm / 1000, i.ppm * 1e-6 * d), plumb)
        across = math.hypot(d * i.angle_arcsec * ARCSEC, plumb)
        for (x, y, turn), sd in (((e / d, k / d, 0.0), along), ((k / d, -e / d, -d), across)):
            # Rows in metres at the mark: pose east, north, turn; amount; marks.
            line = [-x, -y, turn, 0.0] + [0.0] * (2 * len(names))
            if row.time >= when:
                line[3] = -x * direction[0] - y * direction[1] + turn * direction[2]
            j = 4 + 2 * names.index(row.target)
            line[j], line[j + 1] = x, y
            for p in range(n):
                if line[p]:
                    for q in range(n):
                        normal[p][q] += line[p] * line[q] / (sd * sd)
    for j, name in enumerate(names):
        for q in (4 + 2 * j, 5 + 2 * j):
            normal[q][q] += 1.0 / world.marks[name].sd ** 2
    # Eliminate all but the amount: what is left is its weight.
    order = [p for p in range(n) if p != 3] + [3]
    m = [[normal[p][q] for q in order] for p in order]
    for p in range(n - 1):
        for r in range(p + 1, n):
            f = m[r][p] / m[p][p]
            for q in range(p, n):
                m[r][q] -= f * m[p][q]
    return math.sqrt(17.07 / m[n - 1][n - 1])


def large_bump(seed):
    """Three times the detectable size, in the ratio 4 mm to 60 seconds."""
    trial = day(seed)
    rng = random.Random(seed + 1)
    direction = [rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 60.0 * ARCSEC / 0.004)]
    s = trial.setups[0]
    when = s.begin + rng.uniform(0.15, 0.8) * (s.end - s.begin)
    size = 3.0 * detectable(trial.work(), s, when, direction)
    w = day(seed)
    e, n, turn = [size * d for d in direction]
    w.setups[0].bumps.append((when, e, n, 0.0, turn))
    w.moments = [("tripod-disturbed", "S1", when, ("watch", "prove"))]
    return w.work(), []


def marks_moved(low, high):
    """A mark moved in any gap between two of its sightings that is longer than ten minutes."""
    def make(seed):
        drawn = lambda: day(seed, setups=3, points=12)
        trial, rng = drawn(), random.Random(seed + 1)
        name = rng.choice(list(trial.marks))
        times = sorted(r.time for r in trial.work().rows if r.target == name)
        gaps = [(a, b) for a, b in zip(times, times[1:]) if b - a > 600.0]
        begin, end = rng.choice(gaps)
        w, when = drawn(), begin + rng.uniform(0.05, 0.95) * (end - begin)
        e, n = plants.amount(rng, low, high)
        w.marks[name].moves.append((when, e, n, 0.0))
        w.moments = [("mark-moved", name, when, ("prove",))]
        return w.work(), []
    return make


# Least share of moments named with the right interval.
FOUND = {"day-bump-three-times-detectable": 0.95, "day-mark-moved-15-to-25-mm": 0.95,
         "day-mark-moved-8-to-15-mm": 0.80}

KINDS = [plants.Case("day-clean", clean, acts=(), issue=False),
         plants.Case("day-two-faces", two_faces, acts=(), issue=False),
         plants.Case("day-bumped", bumped, acts=(), issue=False),
         plants.Case("day-mark-moved", moved, acts=(), issue=False),
         plants.Case("day-bump-three-times-detectable", large_bump, acts=(), issue=False),
         plants.Case("day-mark-moved-15-to-25-mm", marks_moved(0.015, 0.025), acts=(), issue=False),
         plants.Case("day-mark-moved-8-to-15-mm", marks_moved(0.008, 0.015), acts=(), issue=False)]

# Less than stated by more than this is a fault: one point, and what chance does to the count.
LESS = 0.01


def table(results):
    import judge  # here, since it needs nothing of this module
    lines = ["| days | act | points | proven | stated | truly within | truly out | of these proven |"
             " 95 % intervals hold | moment found |",
             "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]
    for name, jobs in results.items():
        for act in ("lay", "watch", "prove"):
            f = judge.Figures()
            for r in jobs:
                f.add(r.acts[act])
            if not f.points:
                continue
            share = lambda n, of: f"{100.0 * n / of:.1f} %" if of else "-"
            lines.append(f"| {name} | {act} | {f.points} | {f.proven} | {share(f.stated, f.proven)}"
                         f" | {share(f.proven_true, f.proven)} | {f.outside} | "
                         f"{share(f.outside_proven, f.outside)} | {share(f.covered, f.intervals)} | "
                         f"{share(f.moments_found, f.moments)} |")
            wanted = FOUND.get(name)
            if f.moments >= 20 and wanted and f.moments_found < wanted * f.moments:
                jobs[0].fault("moment", f"{act}: {f.moments_found} of {f.moments} named with the "
                              f"right interval, wanted {100 * wanted:.0f} %")
            if f.intervals >= 300:
                # Three axes of points that share a set-up: count about a dozen to a job for chance.
                spread = math.sqrt(0.95 * 0.05 / (12 * len(jobs)))
                if f.covered < (0.95 - LESS - 2 * spread) * f.intervals:
                    jobs[0].fault("calibration", f"{act}: 95 % intervals hold "
                                  f"{share(f.covered, f.intervals)}")
            if f.proven >= 100:
                stated, true = f.stated / f.proven, f.proven_true / f.proven
                # Points of one set-up share its error: count set-ups, not points, for chance.
                spread = math.sqrt(max(stated * (1 - stated), 1e-4) / max(1, len(jobs) * 6))
                if true < stated - LESS - 2 * spread:
                    jobs[0].fault("calibration", f"{act}: stated {stated:.4f}, true {true:.4f}")
    return lines + [""]
