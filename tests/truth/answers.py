"""Runs the program and takes out of its answers what is compared. The one place that knows the names
of fields: when an answer gains or renames one, change it here.

Every reader gives plain values: points, marks and set-ups as lists of Said, what is told to be done
with a point as Told, causes as Named.
"""

import csv
import datetime
import html
import json
import math
import re
import subprocess

from world import FIRST_DAY

WORDS = ("proven", "in doubt", "fails")
ACTS = ("station", "lay", "watch", "vet", "prove")


class Said:
    """A word and a probability of something, as one output has them. `room`: what its digits hide."""

    def __init__(self, what, name, word, probability, where, room=0.0):
        self.what, self.name, self.word, self.probability = what, name, word, probability
        self.where, self.room = where, room


# A list has four digits. A percentage has one behind the point and is never rounded up.
FOUR_DIGITS, PERCENT = 0.5001e-4, 1.001e-3


class Told:
    """What an act tells to do with a point: a move by metres east, north, up, or None."""

    def __init__(self, point, move, says):
        self.point, self.move, self.says = point, move, says


class Named:
    """One thing that may be wrong."""

    def __init__(self, kinds, subjects, probability, says):
        self.kinds, self.subjects, self.probability, self.says = kinds, subjects, probability, says


class Answer:
    def __init__(self, act, exit_status, data, stderr, folder, how):
        self.act, self.exit, self.data, self.stderr = act, exit_status, data, stderr
        self.folder, self.how = folder, how

    @property
    def name(self):
        return f"{self.act}/{self.how}"


def arguments(act, folder, world):
    f = lambda name: str(folder / name)
    args = ["--marks", f("marks.csv"), "--sights", f("sights.csv"), "--setups", f("setups.csv"),
            "--instrument", f("instrument.toml"), "--unit", world.marks_unit]
    if act != "vet":
        args += ["--points", f("points.csv")]
    if act in ("lay", "prove"):
        args += ["--grid", f("grid.csv")]
    return args


def run(program, args, timeout=300):
    done = subprocess.run([str(program), *args], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          timeout=timeout, check=False)
    return done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8")


def ask(program, act, folder, world, outputs=True, extra=()):
    """The act on the loose files of the folder."""
    out = folder / f"out-{act}"
    args = [act, *arguments(act, folder, world), "--json", "--explain", *extra]
    if act == "vet" and world.site_crs:
        args += ["--site-crs", world.site_crs]
    if outputs:
        args += ["--out", str(out)]
    status, text, err = run(program, args)
    return Answer(act, status, parsed(status, text), err, out if outputs else None, "files")


def ask_shuffled(program, act, folder, world):
    """The same facts with the rows of the sights in another order: every sight has its time."""
    lines = (folder / "sights.csv").read_text(encoding="utf-8").splitlines()
    other = folder / "shuffled.csv"
    rows = lines[1:]
    world.rng.shuffle(rows)
    other.write_text("\n".join(lines[:1] + rows) + "\n", encoding="utf-8")
    args = [str(other) if x.endswith("/sights.csv") else x for x in arguments(act, folder, world)]
    status, text, err = run(program, [act, *args, "--json"])
    return Answer(act, status, parsed(status, text), err, None, "shuffled")


def make_job_in_parts(program, folder, world):
    """The same facts taken as the days went on: half of the sights, then the file as it grew."""
    lines = (folder / "sights.csv").read_text(encoding="utf-8").splitlines()
    half = folder / "half" / "sights.csv"
    half.parent.mkdir()
    half.write_text("\n".join(lines[:len(lines) // 2]) + "\n", encoding="utf-8")
    job = folder / "parts.job"
    for args in (["job", "new", str(job), "--title", "invented", "--crew", "day"],
                 ["job", "take", str(job),
                  *[str(half) if x.endswith("/sights.csv") else x
                    for x in arguments("lay", folder, world)]],
                 ["job", "take", str(job), "--sights", str(folder / "sights.csv"), "--unit",
                  world.marks_unit]):
        status, _, err = run(program, args)
        if status:
            return None, err
    return job, ""


def supports(program, option):
    return option in run(program, ["lay", "--help"])[1]


def make_job(program, folder, world):
    job = folder / "site.job"
    status, _, err = run(program, ["job", "new", str(job), "--title", "invented", "--crew", "day"])
    if status:
        return None, err
    args = arguments("lay", folder, world)
    status, _, err = run(program, ["job", "take", str(job), *args])
    return (None, err) if status else (job, "")


def ask_job(program, act, job, folder, outputs=False, station=None, how="job"):
    """The act on the job file: of all set-ups, or asked about one."""
    out = folder / f"job-{act}"
    args = [act, "--job", str(job), "--json"]
    if station:
        args += ["--station", station]
    if outputs:
        args += ["--out", str(out)]
    status, text, err = run(program, args)
    return Answer(act, status, parsed(status, text), err, out if outputs else None,
                  f"{how} {station}" if station else how)


def parsed(status, text):
    if status > 1:
        return None
    return json.loads(text)


# -- points, marks, set-ups --------------------------------------------------------------------

def points(answer):
    """Words of points that were laid. `station` speaks of points to be laid: not these."""
    d, where = answer.data, answer.name + " JSON"
    if d is None:
        return []
    if answer.act == "lay":
        rows = d["laid"]
    elif answer.act == "watch":
        rows = [p for s in d["stations"] for p in s["points"]]
    elif answer.act == "prove":
        rows = [p for p in d["points"] if p["laid"] is not None or p["sights"] > 0]
    else:
        return []
    return [Said("point", p["point"], p["word"], p["probability"], where) for p in rows]


def marks(answer):
    d, where = answer.data, answer.name + " JSON"
    if d is None:
        return []
    rows = []
    if answer.act == "vet":
        rows = d["marks"]
    elif answer.act == "prove":
        rows = [m for m in d["marks"] if m["sighted"]]
    elif answer.act in ("lay", "watch", "station") and "marks" in d:
        rows = [m for m in d["marks"] if "word" in m]
    return [Said("mark", m["mark"], m["word"], m["probability"], where) for m in rows]


def setups(answer):
    """May one lay from here: word and probability of each set-up."""
    d, where = answer.data, answer.name + " JSON"
    if d is None:
        return []
    out = []
    for s in d.get("stations", []):
        v = s.get("station_verdict") if answer.act == "watch" else s.get("verdict")
        if v:
            out.append(Said("set-up", s["station"], v["word"], v["probability"], where))
    # The list of set-ups of the whole job has a word for each, too.
    out += [Said("set-up", s["station"], s["word"], s.get("probability"), where)
            for s in d.get("setups", []) if s.get("word")]
    return out


def standing(answer):
    """Did the tripod stand still: probability of each set-up."""
    d, where = answer.data, answer.name + " JSON"
    if d is None:
        return []
    rows = d.get("stations", []) + (d.get("setups") or [])
    return [Said("stands", s["station"], None, s["probability_holds"], where) for s in rows
            if s.get("probability_holds") is not None]


def overall(answer):
    """The act's own word."""
    d = answer.data
    if d is None:
        return None
    if d.get("verdict"):
        return d["verdict"]["word"]
    if answer.act == "lay":
        return None  # nothing laid
    return worst(s["verdict"]["word"] for s in d.get("stations", []))


def worst(words):
    words = list(words)
    return max(words, key=WORDS.index) if words else None


def told(answer):
    """The advice about each laid point, with the move in metres when it is to move."""
    d = answer.data
    rows = {"lay": "laid", "prove": "points"}.get(answer.act)
    if d is None:
        return []
    out = []
    if rows is None:
        for s in d.get("stations", []):
            for p in s.get("points", []):
                if re.match(r"move it\b", p.get("next", "") or "", re.I):
                    out.append(Told(p["point"], best_move(p.get("corrected", {}), p), p["next"]))
        return out
    for p in d[rows]:
        says = p.get("next") or ""
        if p.get("move_told") or re.match(r"move it\b", says, re.I):
            out.append(Told(p["point"], best_move(p["deviation"], p), says))
    return out


LENGTH = r"(\d+(?:\.\d+)?)\s*(m|mm|ft|us-ft)\b"
SIZE = {"m": 1.0, "mm": 0.001, "ft": 0.3048, "us-ft": 1200.0 / 3937.0}


def best_move(deviation, p):
    """The move in metres. A structured one wins; else minus the deviation that fits the sentence."""
    told_by = p.get("move_by") or p.get("advice_move")
    if isinstance(told_by, dict):
        return tuple((told_by.get(k) or 0.0) / 1000.0 for k in ("east_mm", "north_mm", "height_mm"))
    amounts = re.findall(LENGTH + r"\s+([a-z ]*)", p.get("next") or "")
    plan = math.hypot(*[float(a) * SIZE[u] for a, u, way in amounts
                        if not way.startswith(("up", "down"))] or [0.0])
    up = sum(float(a) * SIZE[u] * (1 if way.startswith("up") else -1) for a, u, way in amounts
             if way.startswith(("up", "down")))
    best, miss = None, None
    for off in (deviation, p.get("expected"), p.get("corrected")):
        if not off or off.get("east_mm") is None:
            continue
        e, n = -off["east_mm"] / 1000.0, -off["north_mm"] / 1000.0
        far = abs(math.hypot(e, n) - plan) + abs((off.get("height_mm") or 0.0) / 1000.0 + up)
        if miss is None or far < miss:
            # The sentence says how far; the figures say which way.
            f = plan / math.hypot(e, n) if math.hypot(e, n) > 0 else 0.0
            best, miss = (e * f, n * f, up), far
    return best or (0.0, 0.0, 0.0)


def setting_out(answer):
    """How many setting-out figures the act gives."""
    d = answer.data
    if d is None or answer.act != "lay":
        return 0
    return sum(1 for s in d["stations"] for p in s["setting_out"]
               if p.get("direction_deg") is not None)


def figures_of_failing(answer):
    """Stations that fail and from which figures are given all the same."""
    return [s["station"] for s in (answer.data or {}).get("stations", [])
            if s["verdict"]["word"] == "fails"
            and any(p.get("direction_deg") is not None for p in s.get("setting_out", []))]


def named(answer):
    """Everything the act says may be wrong, with its probability."""
    d = answer.data
    if d is None:
        return []
    out = []

    def take(kind, subjects, probability, says):
        out.append(Named(kind.split("|"), [s for s in subjects if s], probability or 0.0, says))

    def causes(rows, subject=None):
        for c in rows:
            if c["cause"] == "nothing-wrong":
                continue
            take(c["cause"], c["subjects"] + ([subject] if subject else []), c["probability"],
                 c["says"])
            if c.get("is_pair") or "|" in c["cause"]:
                for m in c.get("members", []):
                    p = c["probability"] if c.get("is_pair") else m["probability"]
                    take(m["cause"], m["subjects"] + ([subject] if subject else []), p, c["says"])

    def traps(rows, subject=None):
        for t in rows:
            p = 1.0 if t.get("certain") else t.get("probability", 0.0)
            if t.get("sighting") in ("cannot be seen", "does not apply"):
                continue
            take(t["trap"], [subject] if subject else [], p, t["says"])

    causes(d.get("causes") or [])
    causes(d.get("job_causes") or [])
    causes(d.get("explanations") or [])
    traps(d.get("traps") or [])
    for m in d.get("moves") or []:
        take("mark-moved" if m["of"] == "plan" else "mark-height-changed", [m["point"]],
             m["probability"], m["says"])
    for s in d.get("stations") or []:
        causes(s.get("causes") or [], s["station"])
        causes(s.get("job_causes") or [], s["station"])
        traps(s.get("traps") or [], s["station"])
        # A change may stand in many hypotheses, which exclude each other: what they give it adds up.
        kinds, says = {}, {}
        for h in s.get("hypotheses") or []:
            for m in h["members"]:
                for key in {(c["cause"], c.get("subject")) for c in m["changes"]}:
                    kinds[key] = kinds.get(key, 0.0) + m["probability"]
                    says.setdefault(key, h["says"])
        for (kind, subject), p in kinds.items():
            take(kind, [subject, s["station"]], p, says[(kind, subject)])
    for name in ("doubled_names",):
        for doubled in d.get(name) or []:
            take("duplicate-name", [doubled], 1.0, doubled)
    return out


def intervals(answer):
    """Moves with when: (cause, mark or set-up, begin, end, probability), times in the simulator's
    seconds, None where it is open."""
    d = answer.data or {}
    out = []
    for m in d.get("moves") or []:
        if m["of"] == "plan":
            begin = None if m["before_first_sight"] else seconds(m["after"])
            out.append(("mark-moved", m["point"], begin, seconds(m["before"]), m["probability"]))
    for c in d.get("causes") or []:
        if c["cause"] == "tripod-disturbed":
            begin, end = (seconds(c[k]) if c.get(k) else None for k in ("from", "to"))
            if begin is None and end is None:
                # No fields for it yet: the sentence has both moments.
                times = re.findall(r"\d{4}-\d\d-\d\d \d\d:\d\d(?::\d\d)?", c["says"])
                begin, end = [seconds(t) for t in times[:2]] if len(times) > 1 else (None, None)
                end = end + 59.0 if end is not None else None  # the sentence leaves seconds out
            for s in c["subjects"]:
                out.append(("tripod-disturbed", s, begin, end, c["probability"]))
    for s in d.get("stations") or []:
        for m in s.get("moves") or []:
            out.append(("tripod-disturbed", s["station"], seconds(m["from"]), seconds(m["to"]),
                        m["probability"]))
        gaps = {}
        for h in s.get("hypotheses") or []:
            for member in h["members"]:
                for c in member["changes"]:
                    if c["cause"] == "mark-moved":
                        key = (c["subject"], c["from"], c["to"])
                        gaps[key] = gaps.get(key, 0.0) + member["probability"]
        out += [("mark-moved", m, seconds(f), seconds(t), p) for (m, f, t), p in gaps.items()]
    return out


def seconds(text):
    if not text:
        return None
    moment = datetime.datetime.fromisoformat(text)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=FIRST_DAY.tzinfo)
    return (moment - FIRST_DAY).total_seconds()


def sentences(answer):
    """All that is said in the first lines: verdicts, reasons, notices."""
    d = answer.data
    if d is None:
        return ""
    parts = []
    for v in [d.get("verdict")] + [s.get("verdict") for s in d.get("stations", [])]:
        if v:
            parts += [v["because"], v["next"]]
    parts += d.get("notices", [])
    return " \n".join(parts)


def first_lines(answer):
    """The first paragraph of the text: verdict, reason and what to do."""
    if answer.folder is None:
        return ""
    path = answer.folder / f"{answer.act}.txt"
    if not path.is_file():
        return ""
    return path.read_text(encoding="utf-8").split("\n\n")[0]


def certain_trap(answer):
    """A trap that is called certain, or None."""
    for s in (answer.data or {}).get("stations", []):
        for t in s.get("traps") or []:
            if t.get("certain"):
                return t["trap"]
    return None


def estimates(answer):
    """Believed deviation and standard deviations of each laid point, metres: (name, axis, off, sd)."""
    d = answer.data
    if d is None:
        return []
    out = []

    def take(name, off, sd):
        for axis, key in enumerate(("east_mm", "north_mm", "height_mm")):
            if off.get(key) is not None and sd.get(key):
                out.append((name, axis, off[key] / 1000.0, sd[key] / 1000.0))

    if answer.act == "lay":
        # `lay` has no standard deviation by axis in plan: the worst direction stands for both.
        for p in d["laid"]:
            sd = p.get("sd") or {"east_mm": p["sd_plan_mm"], "north_mm": p["sd_plan_mm"],
                                 "height_mm": p["sd_height_mm"]}
            take(p["point"], p["expected"], sd)
    elif answer.act == "watch":
        for s in d["stations"]:
            for p in s["points"]:
                take(p["point"], p["corrected"], p["sd"])
    elif answer.act == "prove":
        for p in d["points"]:
            if p["sights"] > 0:
                take(p["point"], p["expected"], p["sd"])
    return out


# -- lists and drawings ------------------------------------------------------------------------

def written(answer):
    """Words and probabilities of points in every file the act wrote."""
    folder = answer.folder
    if folder is None or not folder.is_dir():
        return []
    if answer.act == "station":
        return []  # its plans show how points would land if laid now, not how they lie
    out = []
    for path in sorted(folder.iterdir()):
        where = f"{answer.name} {path.name}"
        if path.name in ("as-laid.csv", "watch.csv", "prove.csv", "record-points.csv"):
            out += from_csv(path, where)
        elif path.name == "record-control.csv":
            out += from_csv(path, where, "mark", "mark")
        elif path.name == "record-setups.csv":
            out += from_csv(path, where, "station", "set-up")
        elif path.suffix == ".html":
            out += from_html(path, where)
        elif path.suffix == ".xml":
            out += from_landxml(path, where)
        elif path.suffix == ".dxf":
            out += from_dxf(path, where)
        elif path.suffix == ".svg":
            out += from_svg(path, where)
        elif path.suffix == ".geojson":
            out += from_geojson(path, where)
        elif path.suffix == ".txt":
            out += from_text(path, where)
    return out


def unread(answer):
    """Lists and drawings that should hold words of points and of which none could be read."""
    if answer.folder is None or not answer.folder.is_dir() or not points(answer):
        return []
    found = {s.where for s in written(answer) if s.probability is not None or s.word}
    wanted = {"lay": ["as-laid.csv", "as-laid.xml", "as-laid.dxf", "lay.txt"],
              "watch": ["watch.csv", "watch.txt"],
              "prove": ["prove.csv", "prove.svg", "prove.txt"] + (
                  ["record-points.csv", "record.html", "as-laid.xml"]
                  if answer.how == "job" else [])}.get(answer.act, [])
    if answer.act == "lay":
        wanted += [p.name for p in answer.folder.glob("lay-*.svg")]
    if answer.act == "watch":
        wanted += [p.name for p in answer.folder.glob("day-*.svg")]
    return [f for f in wanted if f"{answer.name} {f}" not in found]


def from_csv(path, where, column="point", what="point"):
    out = []
    with path.open(encoding="utf-8-sig", newline="") as f:
        for row in csv.DictReader(f):
            if row.get("word") in WORDS:
                p = float(row["probability"]) if row.get("probability") else None
                out.append(Said(what, row[column], row["word"], p, where, FOUR_DIGITS))
    return out


def from_landxml(path, where):
    text = path.read_text(encoding="utf-8")
    return [Said("point", html.unescape(n), w, None, where)
            for n, w in re.findall(r'<CgPoint name="([^"]*) laid" desc="(proven|in doubt|fails)"',
                                   text)]


def from_html(path, where):
    text = path.read_text(encoding="utf-8")
    out = []
    for row in re.findall(r"<tr>(.*?)</tr>", text, re.S):
        cells = [html.unescape(re.sub(r"<[^>]*>", "", c)).strip()
                 for c in re.findall(r"<td[^>]*>(.*?)</td>", row, re.S)]
        if cells and re.fullmatch(r"[A-Z]\d+", cells[0]):
            words = [w for c in cells for w in WORDS if re.search(rf"\b{w}\b", c)]
            chances = [percent(c) for c in cells if percent(c) is not None]
            if len(words) == 1:
                out.append(Said("point", cells[0], words[0], chances[0] if chances else None, where,
                                PERCENT))
    return out


def from_dxf(path, where):
    lines = path.read_text(encoding="utf-8").splitlines()
    pairs = list(zip([a.strip() for a in lines[0::2]], lines[1::2]))
    out, name, value = [], None, None
    for code, text in pairs:
        if code == "1":
            value = text
        elif code == "2" and text == "NAME":
            name = value
        elif code == "2" and text == "WORD" and name and name.endswith(" laid") and value in WORDS:
            out.append(Said("point", name[:-5], value, None, where))
            name = None
    return out


def from_svg(path, where):
    text = path.read_text(encoding="utf-8")
    out = []
    for title in re.findall(r"<title>([^<]*)</title>", text):
        title = html.unescape(title)
        m = re.match(r"([A-Z]\d+)(?: at [\d:]+)?: (proven|in doubt|fails)\b(?:, (.*?) probable)?",
                     title)
        if m:
            out.append(Said("point", m[1], m[2], percent(m[3]), where, PERCENT))
    return out


def percent(text):
    m = re.fullmatch(r"(\d+(?:\.\d+)?) %", text or "")
    return float(m[1]) / 100.0 if m else None


def from_geojson(path, where):
    out = []
    for f in json.loads(path.read_text(encoding="utf-8"))["features"]:
        p = f["properties"]
        name = p.get("mark") or p.get("point") or p.get("name")
        if name and p.get("word"):
            what = "point" if p.get("point") else "mark"
            out.append(Said(what, name, p["word"], p.get("probability"), where, FOUR_DIGITS))
    return out


def from_text(path, where):
    """Rows of the tables: a point's name first, its word in the row."""
    out = []
    for line in path.read_text(encoding="utf-8").splitlines():
        m = re.match(r"\s+([A-Z]\d+)\s.*?\s(?:(than )?(\d+\.\d) %)?\s+(proven|in doubt|fails)\b",
                     line)
        if m:
            p = float(m[3]) / 100 if m[3] and not m[2] else None
            out.append(Said("point", m[1], m[4], p, where, PERCENT))
    return out


def setting_out_lists(answer):
    """Rows of setting-out lists that the act wrote."""
    if answer.folder is None or not answer.folder.is_dir():
        return 0
    return sum(max(0, len(p.read_text(encoding="utf-8").splitlines()) - 1)
               for p in answer.folder.glob("lay-*.csv"))
