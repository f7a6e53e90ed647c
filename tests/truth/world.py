"""Invented jobs of which everything is known: where marks, set-ups and points really are.

Nothing here looks at how layproof works. Readings come from plain trigonometry: the axes stand
somewhere, a rod of a real length stands on a real place and leans exactly, and each stated figure of
the instrument file is the standard deviation of one thing that is drawn (docs/files.md):

    angle_sd_arcsec     each pointing, direction and zenith each
    distance_sd_mm, distance_ppm   each distance, added in quadrature
    bubble_arcmin       lean of the rod per plan axis, drawn for each standing of the rod
    centring_mm         tip beside the mark per plan axis, for each standing
    height_tape_mm      real length of the rod less the booked one, for each standing
    sd_east, sd_north, sd_height of the sheet: where the mark stands less what its sheet says

Lengths inside are metres, angles radians, times seconds after the midnight before the first day.
"""

import datetime
import math
import random

FT = 0.3048
US_FT = 1200.0 / 3937.0
UNITS = {"m": 1.0, "ft": FT, "us-ft": US_FT}
ARCSEC = math.pi / 648000.0
EARTH = 6371000.0
REFRACTION = 0.13
ZONE = datetime.timezone(datetime.timedelta(hours=-5))
FIRST_DAY = datetime.datetime(2031, 5, 12, tzinfo=ZONE)


def clock(day, hour, minute=0):
    return day * 86400.0 + hour * 3600.0 + minute * 60.0


def stamp(seconds):
    return (FIRST_DAY + datetime.timedelta(seconds=round(seconds))).isoformat()


class Instrument:
    def __init__(self):
        self.angle_arcsec = 3.0
        self.distance_mm = 1.5
        self.ppm = 2.0
        self.bubble_arcmin = 4.0
        self.centring_mm = 0.5
        self.tape_mm = 1.0

    def toml(self):
        return (f'name = "invented"\nangle_sd_arcsec = {self.angle_arcsec}\n'
                f"distance_sd_mm = {self.distance_mm}\ndistance_ppm = {self.ppm}\n"
                f"bubble_arcmin = {self.bubble_arcmin}\ncentring_mm = {self.centring_mm}\n"
                f"height_tape_mm = {self.tape_mm}\n")


class Mark:
    def __init__(self, sheet, sd):
        self.sheet = list(sheet)
        self.sd = sd
        self.true = list(sheet)
        self.moves = []  # (time, east, north, height)

    def at(self, time):
        place = list(self.true)
        for when, east, north, height in self.moves:
            if time >= when:
                place = [place[0] + east, place[1] + north, place[2] + height]
        return place


class Point:
    def __init__(self, design, tolerance_plan, tolerance_height, row, column):
        self.design = list(design)
        self.tolerance_plan = tolerance_plan
        self.tolerance_height = tolerance_height
        self.row = row
        self.column = column
        self.aim = list(design)  # where the crew meant to put it
        self.laid = None         # where it is
        self.laid_by = None      # set-up and time
        self.laid_at = None

    def off(self):
        return [a - b for a, b in zip(self.laid, self.design)]

    def is_within(self, shift=(0.0, 0.0, 0.0)):
        e, n, h = [a + b for a, b in zip(self.off(), shift)]
        return math.hypot(e, n) <= self.tolerance_plan and abs(h) <= self.tolerance_height


class Setup:
    def __init__(self, name, begin, end, axes, circle):
        self.name = name
        self.begin = begin
        self.end = end
        self.axes = list(axes)
        self.circle = circle
        self.bumps = []  # (time, east, north, height, turn)
        self.points = []
        self.again = []  # points laid from elsewhere, sighted from here at the end
        self.field_pose = None

    def at(self, time):
        axes, circle = list(self.axes), self.circle
        for when, east, north, height, turn in self.bumps:
            if time >= when:
                axes = [axes[0] + east, axes[1] + north, axes[2] + height]
                circle += turn
        return axes, circle


class Row:
    """One row of the sights file and what belongs to its truth."""

    def __init__(self, station, target, purpose, face, time, rod, direction, zenith, slope):
        self.station, self.target, self.purpose, self.face = station, target, purpose, face
        self.time, self.rod = time, rod
        self.direction, self.zenith, self.slope = direction, zenith, slope


def dms(angle):
    tenths = round(angle / ARCSEC * 10) % (1296000 * 10)
    seconds = tenths / 10.0
    degrees = int(seconds // 3600)
    minutes = int((seconds - degrees * 3600) // 60)
    return f"{degrees}-{minutes:02d}-{seconds - degrees * 3600 - minutes * 60:04.1f}"


class World:
    """A site, its sheet, its days. Plants change it between `World(...)` and `work()`."""

    def __init__(self, seed, unit=None, setups=2, days=1, points=None, origin=None, marks=None,
                 laying=None, faces=1, checks=3, same_day_hours=None):
        self.rng = random.Random(seed)
        rng = self.rng
        self.seed = seed
        self.unit = unit or rng.choice(["ft", "ft", "m"])
        self.instrument = Instrument()
        self.faces = faces
        self.marks_per_check = checks
        self.laying = laying or rng.choice(["reading", "good"])
        size = UNITS[self.unit]
        step = 8.0 if self.unit == "m" else 25.0 * FT
        columns, rows = rng.choice([(5, 4), (6, 4), (6, 5), (7, 4)])
        wanted = points or rng.randint(18, 32)
        if points:
            rows = max(rows, math.ceil(points / columns))
        if origin is None:
            origin = rng.choice([2000.0, 5000.0, 20000.0]) * size
        self.origin = origin
        east0 = origin + 40.0 * step / 8.0
        north0 = 2.0 * origin + 40.0 * step / 8.0
        floor = 100.0 * size
        self.lines = []
        width, depth = (columns - 1) * step, (rows - 1) * step
        for c in range(columns):
            e = east0 + c * step
            self.lines.append((str(c + 1), e, north0 - 3.0, e, north0 + depth + 3.0, "numbers"))
        for r in range(rows):
            n = north0 + r * step
            self.lines.append((chr(65 + r), east0 - 3.0, n, east0 + width + 3.0, n, "letters"))
        self.points = {}
        tolerance_plan = rng.choice([0.25, 0.25, 0.375]) * 0.0254
        tolerance_height = 0.5 * 0.0254
        for r in range(rows):
            for c in range(columns):
                if len(self.points) < wanted:
                    self.points[f"{chr(65 + r)}{c + 1}"] = Point(
                        (east0 + c * step, north0 + r * step, floor + 0.15), tolerance_plan,
                        tolerance_height, r, c)
        self.marks = {}
        count = marks or rng.randint(5, 8)
        turn = rng.uniform(0, 2 * math.pi)
        for i in range(count):
            a = turn + 2 * math.pi * (i + rng.uniform(-0.25, 0.25)) / count
            sheet = (east0 + width / 2 + (width / 2 + rng.uniform(5, 12)) * math.sin(a),
                     north0 + depth / 2 + (depth / 2 + rng.uniform(5, 12)) * math.cos(a),
                     floor + rng.uniform(-0.4, 0.4))
            sheet = [round(v / size, 3) * size for v in sheet]
            mark = Mark(sheet, 0.0012)
            mark.true = [v + rng.gauss(0, mark.sd) for v in sheet]
            self.marks[f"CP{i + 1}"] = mark
        self.setups = []
        for i in range(setups):
            day = i * days // setups
            in_day = [j for j in range(setups) if j * days // setups == day]
            k, n = in_day.index(i), len(in_day)
            hours = 9.0 / n
            begin = clock(day, 7, 30) + k * hours * 3600.0
            self.setups.append(Setup(f"S{i + 1}", begin, begin + (hours - 0.4) * 3600.0,
                                     self.free_place(east0, north0, width, depth, floor),
                                     rng.uniform(0, 2 * math.pi)))
        names = list(self.points)[:-2]  # two are still to be laid
        for i, setup in enumerate(self.setups):
            setup.points = names[i * len(names) // setups:(i + 1) * len(names) // setups]
        for i, setup in enumerate(self.setups[1:]):
            earlier = [p for s in self.setups[:i + 1] for p in s.points]
            setup.again = sorted(rng.sample(earlier, min(3, len(earlier))), key=names.index)
        self.mark_rod = 5.0 * FT if self.unit != "m" else 1.5
        self.lay_rod = 1.5 * FT if self.unit != "m" else 0.45
        # What a plant puts in place of these changes the readings or the files.
        self.rod_extra = lambda setup, target, purpose, time: 0.0
        self.prism_extra = lambda setup, time: 0.0
        self.lean_extra = lambda setup, target, purpose, order: (0.0, 0.0)
        self.booked_name = lambda setup, target, purpose: target
        self.index = 0.0
        self.scale = 1.0
        self.sheet_as_written = lambda name, place: (name, place)
        self.marks_unit = self.points_unit = self.sights_unit = self.unit
        self.lay_jitter = 0.0012
        self.site_crs = None
        self.also_in_parts = False  # ask again with the facts in another order of arrival
        self.moments = []           # (cause, subject, when, acts that should find it)
        self.rows = []
        self.events = []

    def free_place(self, east0, north0, width, depth, floor):
        rng = self.rng
        while True:
            place = (east0 + rng.uniform(0.1, 0.9) * width, north0 + rng.uniform(0.1, 0.9) * depth)
            near = min(math.hypot(place[0] - p.design[0], place[1] - p.design[1])
                       for p in self.points.values())
            if near > 2.5:
                return (*place, floor + rng.uniform(1.5, 1.75))

    def read(self, setup, tip, rod, time, purpose, target, standing, face):
        """What the instrument reads to a rod on `tip`; `standing` are the rod's own errors."""
        axes, circle = setup.at(time)
        lean_e, lean_n, off_e, off_n, longer = standing
        length = rod + longer + self.rod_extra(setup.name, target, purpose, time)
        lean = math.hypot(lean_e, lean_n)
        out = length * math.sin(lean) / lean if lean > 0 else 0.0
        prism = (tip[0] + off_e + out * lean_e, tip[1] + off_n + out * lean_n,
                 tip[2] + length * math.cos(lean))
        east, north = prism[0] - axes[0], prism[1] - axes[1]
        ground = math.hypot(east, north) / self.scale
        up = prism[2] - axes[2] - (1.0 - REFRACTION) * ground * ground / (2.0 * EARTH)
        rng, instrument = self.rng, self.instrument
        angle = instrument.angle_arcsec * ARCSEC
        slope = math.hypot(ground, up)
        sd = math.hypot(instrument.distance_mm / 1000.0, instrument.ppm * 1e-6 * slope)
        direction = math.atan2(east, north) - circle + rng.gauss(0, angle)
        zenith = math.atan2(ground, up) + rng.gauss(0, angle) + self.index
        if face == 2:
            direction, zenith = direction + math.pi, 2.0 * math.pi - zenith + 2.0 * self.index
        slope += self.prism_extra(setup.name, time) + rng.gauss(0, sd)
        return direction % (2.0 * math.pi), zenith, slope

    def standing(self, setup, target, purpose, order):
        rng, instrument = self.rng, self.instrument
        bubble = instrument.bubble_arcmin * 60.0 * ARCSEC
        extra = self.lean_extra(setup.name, target, purpose, order)
        return (rng.gauss(0, bubble) + extra[0], rng.gauss(0, bubble) + extra[1],
                rng.gauss(0, instrument.centring_mm / 1000.0),
                rng.gauss(0, instrument.centring_mm / 1000.0),
                rng.gauss(0, instrument.tape_mm / 1000.0))

    def sight(self, setup, target, tip, rod, time, purpose, order=0):
        """Books the sight, in one face or two with the rod standing once."""
        standing = self.standing(setup, target, purpose, order)
        readings = []
        for face in range(1, self.faces + 1):
            reading = self.read(setup, tip, rod, time + 20.0 * (face - 1), purpose, target,
                                standing, face)
            readings.append(reading)
            self.rows.append(Row(setup.name, self.booked_name(setup.name, target, purpose), purpose,
                                 face, time + 20.0 * (face - 1), rod, *reading))
        self.events.append((time, setup.name, target, purpose))
        return standing, readings[0]

    def solve_in_the_field(self, setup, controls):
        """What the crew holds for its set-up: the rigid fit of its readings to the sheet."""
        seen = []
        for name, rod, (direction, zenith, slope) in controls:
            held = self.marks[name].sheet
            flat = slope * math.sin(zenith) * self.scale
            seen.append((flat * math.sin(direction), flat * math.cos(direction),
                         slope * math.cos(zenith), rod, held))
        n = len(seen)
        mean = [sum(s[i] for s in seen) / n for i in (0, 1)]
        held = [sum(s[4][i] for s in seen) / n for i in (0, 1)]
        dot = cross = 0.0
        for x, y, _, _, h in seen:
            x, y, e, k = x - mean[0], y - mean[1], h[0] - held[0], h[1] - held[1]
            dot += x * e + y * k
            cross += y * e - x * k
        turn = math.atan2(cross, dot)
        c, s = math.cos(turn), math.sin(turn)
        east = held[0] - (c * mean[0] + s * mean[1])
        north = held[1] - (-s * mean[0] + c * mean[1])
        height = sum(h[2] + rod - v for _, _, v, rod, h in seen) / n
        setup.field_pose = (east, north, height, turn)

    def in_the_field(self, setup, rod, reading):
        """Coordinates of the rod's tip as the crew's screen shows them."""
        direction, zenith, slope = reading
        east, north, height, turn = setup.field_pose
        flat = slope * math.sin(zenith) * self.scale
        return (east + flat * math.sin(direction + turn), north + flat * math.cos(direction + turn),
                height + slope * math.cos(zenith) - rod + (1 - REFRACTION) * flat * flat / 2 / EARTH)

    def lay(self, setup, name, time):
        """The crew puts the point where its reading says, or it is there by other means."""
        point, rng = self.points[name], self.rng
        if point.laid is None:
            jitter = [rng.gauss(0, self.lay_jitter) for _ in range(3)]
            if self.laying == "good":
                point.laid = [a + j for a, j in zip(point.aim, jitter)]
                self.sight(setup, name, point.laid, self.lay_rod, time, "lay")
            else:
                # The errors of this very sight decide where the mark ends: draw them, then move the
                # rod until the reading is as wanted, which is one step as all is linear here.
                state = rng.getstate()
                kept = len(self.rows), len(self.events)
                place = list(point.aim)
                for _ in range(3):
                    rng.setstate(state)
                    del self.rows[kept[0]:], self.events[kept[1]:]
                    _, reading = self.sight(setup, name, place, self.lay_rod, time, "lay")
                    shown = self.in_the_field(setup, self.lay_rod, reading)
                    place = [p + a + j - s for p, a, j, s in zip(place, point.aim, jitter, shown)]
                rng.setstate(state)
                del self.rows[kept[0]:], self.events[kept[1]:]
                self.sight(setup, name, place, self.lay_rod, time, "lay")
                point.laid = place
            point.laid_by, point.laid_at = setup.name, time
        else:
            self.sight(setup, name, point.laid, self.lay_rod, time, "lay", order=1)

    def work(self):
        """The days: set up, check, lay, check every hour, sight a few of earlier points, check."""
        for setup in self.setups:
            time = setup.begin
            controls = []
            for order in range(2):
                for name, mark in self.marks.items():
                    _, reading = self.sight(setup, name, mark.at(time), self.mark_rod, time,
                                            "control", order)
                    controls.append((self.booked_name(setup.name, name, "control"), self.mark_rod,
                                     reading))
                    time += 60.0
            self.solve_in_the_field(setup, controls)
            jobs = setup.points + setup.again
            step = max(100.0, (setup.end - time - 600.0) / max(1, len(jobs)) - 12.0)
            names = list(self.marks)
            turn = 0

            def check(time, turn):
                for i in range(self.marks_per_check):
                    name = names[(turn + i * len(names) // self.marks_per_check) % len(names)]
                    time += 60.0
                    self.sight(setup, name, self.marks[name].at(time), self.mark_rod, time, "check")
                return time

            time = check(time, turn)
            last = time
            for name in jobs:
                time += step
                if time - last > 3300.0:
                    turn += 1
                    time = last = check(time, turn)
                    time += 60.0
                self.lay(setup, name, time)
            check(time + 120.0, turn + 1)
        return self

    # -- files ---------------------------------------------------------------------------------

    def marks_csv(self, sheet=None):
        u = self.marks_unit
        size = UNITS[u]
        lines = [f"mark,east [{u}],north [{u}],height [{u}],sd_east [mm],sd_north [mm],sd_height [mm]"]
        for name, mark in self.marks.items():
            name, place = self.sheet_as_written(name, list(mark.sheet))
            e, n, h = [v / size for v in place]
            sd = mark.sd * 1000.0
            lines.append(f"{name},{e:.3f},{n:.3f},{h:.3f},{sd:.1f},{sd:.1f},{sd:.1f}")
        return "\n".join(lines) + "\n"

    def points_csv(self):
        u = self.points_unit
        size = UNITS[getattr(self, "points_size", u)]
        lines = [f"point,east [{u}],north [{u}],height [{u}],element,tolerance_plan [mm],"
                 "tolerance_height [mm]"]
        for name, p in self.points.items():
            e, n, h = [v / size for v in p.design]
            lines.append(f"{name},{e:.4f},{n:.4f},{h:.4f},bolt,{p.tolerance_plan * 1000:.3f},"
                         f"{p.tolerance_height * 1000:.3f}")
        return "\n".join(lines) + "\n"

    def grid_csv(self):
        u = self.points_unit
        size = UNITS[getattr(self, "points_size", u)]
        lines = [f"line,east_1 [{u}],north_1 [{u}],east_2 [{u}],north_2 [{u}],family"]
        for line, e1, n1, e2, n2, family in self.lines:
            lines.append(f"{line},{e1 / size:.4f},{n1 / size:.4f},{e2 / size:.4f},{n2 / size:.4f},"
                         f"{family}")
        return "\n".join(lines) + "\n"

    def setups_csv(self):
        lines = ["station,kind,mark,instrument_height [m],time"]
        lines += [f"{s.name},free,,,{stamp(s.begin - 120)}" for s in self.setups]
        return "\n".join(lines) + "\n"

    def sights_csv(self):
        u = self.sights_unit
        size = UNITS[u]
        digits = 4 if u == "m" else 3
        lines = [f"station,target,direction,zenith,slope_distance [{u}],target_height [{u}],"
                 "purpose,face,time"]
        for r in self.rows:
            lines.append(f"{r.station},{r.target},{dms(r.direction)},{dms(r.zenith)},"
                         f"{r.slope / size:.{digits}f},{r.rod / size:.4f},{r.purpose},{r.face},"
                         f"{stamp(r.time)}")
        return "\n".join(lines) + "\n"

    def write(self, folder):
        for name, text in (("marks.csv", self.marks_csv()), ("points.csv", self.points_csv()),
                           ("grid.csv", self.grid_csv()), ("setups.csv", self.setups_csv()),
                           ("sights.csv", self.sights_csv()),
                           ("instrument.toml", self.instrument.toml())):
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
