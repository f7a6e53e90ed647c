"""Holds the acts of one job against each other and against the truth."""

import re

import answers as a

# Two probabilities are the same when they differ by no more than this; a list shows fewer digits.
SAME = 1e-6
# What the eye of a reader takes for another probability.
PLAIN = 0.02
NAMED_WITH = 0.5


class Figures:
    """Figures of one act over any number of jobs."""

    def __init__(self):
        self.points = self.differing = self.told = self.told_good = self.spoilt = 0
        self.proven = self.proven_true = 0
        self.stated = 0.0
        self.outside = self.outside_proven = 0
        self.good_fail = 0
        self.intervals = self.covered = 0
        self.asked = self.named = 0
        self.moments = self.moments_found = 0
        self.figures = 0
        self.refused = 0

    def add(self, other):
        for key, value in vars(other).items():
            setattr(self, key, getattr(self, key) + value)


class Result:
    """What one job showed."""

    def __init__(self, case, seed):
        self.case, self.seed = case, seed
        self.acts = {act: Figures() for act in a.ACTS}
        self.points = self.differing = self.differing_plainly = 0
        self.good = self.good_told = self.spoilt = 0
        self.things = self.things_differing = 0  # marks and set-ups
        self.faults = []  # (kind, sentence)

    def fault(self, kind, says):
        self.faults.append((kind, says))


def same(x, y):
    if x.word is not None and y.word is not None and x.word != y.word:
        return False
    if x.probability is None or y.probability is None:
        return True
    return abs(x.probability - y.probability) <= SAME + x.room + y.room


def plainly_differ(x, y):
    return (x.word is not None and y.word is not None and x.word != y.word) or (
        x.probability is not None and y.probability is not None
        and abs(x.probability - y.probability) > PLAIN + x.room + y.room)


def first_difference(said):
    for i, x in enumerate(said):
        for y in said[i + 1:]:
            if not same(x, y):
                return x, y
    return None


def show(s):
    p = "" if s.probability is None else f" {s.probability:.6f}"
    return f"{s.where}: {s.word or ''}{p}"


def by_name(said):
    out = {}
    for s in said:
        out.setdefault(s.name, []).append(s)
    return out


def judge(case, seed, world, planted, answered, outputs):
    """answered: answers of the acts. outputs: words in lists and drawings."""
    r = Result(case, seed)
    usable = [x for x in answered if x.data is not None]
    for x in answered:
        if x.data is None:
            r.acts[x.act].refused += 1
            r.fault("refused", f"{x.name}: exit {x.exit}: {x.stderr.strip()[:200]}")
        for name in a.unread(x):
            r.fault("unread", f"{x.name}: no word of a point read in {name}")
    compare_words(r, usable, outputs, world)
    compare_acts(r, case, usable)
    follow_moves(r, world, usable)
    look_for_cause(r, case, planted, usable)
    count_proven(r, world, usable)
    setting_out(r, case, usable)
    first_lines(r, case, planted, usable)
    find_moments(r, world, usable)
    return r


def find_moments(r, world, usable):
    """A move at a known moment: named, and the interval holds the moment."""
    for kind, subject, when, acts in world.moments:
        for x in usable:
            if x.act not in acts or x.how != "files":
                continue
            figures = r.acts[x.act]
            figures.moments += 1
            for k, s, begin, end, p in a.intervals(x):
                if k == kind and s == subject and p >= NAMED_WITH and (
                        begin is None or begin <= when) and (end is None or when <= end):
                    figures.moments_found += 1
                    break


def compare_words(r, usable, outputs, world):
    """(a) One point, one word: in every act and every output; marks and set-ups alike."""
    narrow = [x for x in usable if x.how.startswith("job ")]
    usable = [x for x in usable if x not in narrow]
    said = [s for x in usable for s in a.points(x)] + [s for s in outputs if s.what == "point"]
    said = [s for s in said if s.name in world.points]
    # Every act that speaks of points laid speaks of each that was sighted.
    everywhere = [act for act in ("lay", "watch", "prove") if any(x.act == act for x in usable)]
    booked = {row.target for row in world.rows if row.purpose == "lay"}
    named = by_name(said)
    for name in sorted(set(named) - booked):
        r.fault("missing", f"point {name} was never sighted: {show(named[name][0])}")
    for name in sorted(booked):
        here = named.get(name, [])
        r.points += 1
        pair = first_difference(here)
        absent = [act for act in everywhere if not any(s.where.startswith(act + "/") for s in here)]
        for act in absent:
            r.fault("missing", f"point {name} is not in {act}")
        if pair:
            r.fault("differs", f"point {name}: {show(pair[0])}; {show(pair[1])}")
        if pair or absent:
            r.differing += 1
        if absent or any(plainly_differ(x, y) for i, x in enumerate(here) for y in here[i + 1:]):
            r.differing_plainly += 1
        for act in everywhere:
            mine = [s for s in here if s.where.startswith(act + "/")]
            others = [s for s in here if not s.where.startswith(act + "/")]
            r.acts[act].points += 1
            if act in absent or any(not same(x, y) for x in mine for y in others):
                r.acts[act].differing += 1
    for what, read in (("mark", a.marks), ("set-up", a.setups), ("stands", a.standing)):
        said = [s for x in usable for s in read(x)] + [s for s in outputs if s.what == what]
        for name, here in by_name(said).items():
            r.things += 1
            pair = first_difference(here)
            if pair:
                r.things_differing += 1
                r.fault("differs", f"{what} {name}: {show(pair[0])}; {show(pair[1])}")
    # Asked about one set-up, a job knows what it knows when it is asked about all.
    for x in narrow:
        for y in usable:
            if y.act != x.act or y.how != "job":
                continue
            for read in (a.points, a.marks, a.setups, a.standing):
                whole = by_name(read(y))
                for s in read(x):
                    for w in whole.get(s.name, []):
                        if not same(s, w):
                            r.fault("narrow", f"{s.what} {s.name}: {show(s)}; {show(w)}")


def compare_acts(r, case, usable):
    """(b) The act's word and exit status follow from the words of what it speaks of."""
    day = {}
    for x in usable:
        word = a.overall(x)
        if word is None or x.how.startswith("job "):
            continue
        if (x.exit == 0) != (word == "proven"):
            r.fault("exit", f"{x.name}: says {word}, exit {x.exit}")
        words = [s.word for s in a.points(x)]
        if words and word == "proven" and a.worst(words) != "proven":
            r.fault("overall", f"{x.name}: proven with a point that {a.worst(words)}")
        if words and word != "fails" and "fails" in words:
            r.fault("overall", f"{x.name}: {word} with a point that fails")
        if words:
            day[x.name] = word
        elif word == "proven":
            # An act that has no points of its own still may not call a job proven that fails.
            for y in usable:
                if a.overall(y) == "fails" and x.act == "station" and case.gross:
                    r.fault("overall", f"{x.name}: proven, exit {x.exit}; {y.name}: fails")
                    break
    if len(set(day.values())) > 1:
        r.fault("overall", "one day: " + ", ".join(f"{k} {v}" for k, v in sorted(day.items())))


def follow_moves(r, world, usable):
    """(c) Is a good point told to move, and is it still good when that is done?"""
    good = {name for name, p in world.points.items() if p.laid and p.is_within()}
    r.good = len(good)
    told_any, spoilt_any = set(), set()
    for x in usable:
        figures = r.acts[x.act]
        if x.how != "files":
            continue
        for t in a.told(x):
            if t.point not in world.points:
                continue
            figures.told += 1
            if t.point in good:
                figures.told_good += 1
                told_any.add(t.point)
                if not world.points[t.point].is_within(t.move):
                    figures.spoilt += 1
                    spoilt_any.add(t.point)
                    off = world.points[t.point].off()
                    r.fault("spoilt", f"{x.name}: {t.point} is {1000 * off[0]:+.1f} "
                            f"{1000 * off[1]:+.1f} {1000 * off[2]:+.1f} mm off, within; told: "
                            f"{t.says}")
    r.good_told, r.spoilt = len(told_any), len(spoilt_any)


def is_named(planted, x):
    for n in a.named(x):
        if n.probability < NAMED_WITH:
            continue
        if any(k.startswith(w) for k in n.kinds for w in planted.whole):
            return True
        if not any(k.startswith(w) for k in n.kinds for w in planted.words):
            continue
        if all(any(re.search(rf"\b{re.escape(s)}\b", m) for m in n.subjects)
               for s in planted.subjects):
            return True
    return False


def look_for_cause(r, case, planted, usable):
    """(d) Every act that speaks of it names what was planted."""
    for x in usable:
        if x.how != "files":
            continue
        for p in planted:
            if x.act not in case.acts:
                continue
            figures = r.acts[x.act]
            figures.asked += 1
            named = is_named(p, x)
            if not named and x.act == "lay" and "causes" not in x.data and p.said:
                # `lay` has no list of causes: its sentences count.
                named = re.search(p.said, a.sentences(x), re.I) is not None
            if named:
                figures.named += 1
            else:
                best = sorted(a.named(x), key=lambda n: -n.probability)[:3]
                r.fault("cause", f"{x.name}: not named: {p.words[0]} {' '.join(p.subjects)}; says "
                        + ("; ".join(f"{'|'.join(n.kinds)} {' '.join(n.subjects)} "
                                     f"{n.probability:.2f}" for n in best) or "nothing"))


def count_proven(r, world, usable):
    """(e) Called proven: how many, stated, truly; and whether the intervals hold."""
    for x in usable:
        if x.how != "files":
            continue
        figures = r.acts[x.act]
        seen = set()
        for s in a.points(x):
            p = world.points.get(s.name)
            if p is None or p.laid is None or s.name in seen:
                continue
            seen.add(s.name)
            within = p.is_within()
            if s.word == "proven":
                figures.proven += 1
                figures.stated += s.probability or 0.0
                figures.proven_true += within
            if not within:
                figures.outside += 1
                figures.outside_proven += s.word == "proven"
            elif s.word == "fails":
                figures.good_fail += 1
        for name, axis, off, sd in a.estimates(x):
            p = world.points.get(name)
            if p is not None and p.laid is not None:
                figures.intervals += 1
                figures.covered += abs(off - p.off()[axis]) <= 1.959964 * sd


def setting_out(r, case, usable):
    """(f) No figures and no moves while a gross cause stands; with --anyway the figures."""
    for x in usable:
        if x.act != "lay":
            continue
        if x.how == "anyway":
            if not a.setting_out(x):
                r.fault("figures", f"{x.name}: no setting-out figures")
            continue
        for name in a.figures_of_failing(x):
            r.fault("figures", f"{x.name}: setting-out figures from {name}, which fails")
        n = a.setting_out(x) + a.setting_out_lists(x)
        r.acts[x.act].figures += n
        if case.gross and n:
            r.fault("figures", f"{x.name}: {n} setting-out figures under {case.name}")
    if case.gross:
        for x in usable:
            if x.how == "files" and re.search(r"\bLay (the points|on)\b", a.sentences(x)):
                r.fault("figures", f"{x.name}: tells to lay under {case.name}")
            n = len(a.told(x))
            if n and x.how == "files":
                r.fault("figures", f"{x.name}: {n} moves told under {case.name}")


# A length that no building site has: what an answer says of a misfit, not a coordinate.
ABSURD_M = 20000.0


def first_lines(r, case, planted, usable):
    """What a person reads first: the cause, and nothing that contradicts itself."""
    for x in usable:
        if x.how != "files":
            continue
        first = a.first_lines(x)
        said = a.sentences(x)
        if case.gross and x.act in case.acts and first:
            for p in planted:
                if p.said and not re.search(p.said, first, re.I | re.S):
                    r.fault("first", f"{x.name}: begins: {' '.join(first.split())[:160]}")
        for line in said.splitlines():
            if re.search(r"[Nn]othing says that the station moved", line) and \
                    re.search(r"because of a move", line):
                r.fault("contradicts", f"{x.name}: {line[:200]}")
        for length, unit in re.findall(r"(\d[\d.]*)\s*(m|ft|us-ft)\b", said):
            if float(length.rstrip(".")) * a.SIZE[unit] > ABSURD_M:
                r.fault("absurd", f"{x.name}: {length} {unit}")
                break
        if a.certain_trap(x) and (x.exit == 0 or a.overall(x) == "proven"):
            r.fault("overall", f"{x.name}: {a.certain_trap(x)} is certain, yet "
                    f"{a.overall(x)}, exit {x.exit}")
