#!/usr/bin/env python3
"""Draws invented jobs with known truth and holds all acts against each other and against it.

    truth.py --program build/dev/bin/layproof                 every case, one job each
    truth.py --program P --only tripod-bumped-1040 --jobs 20  one case, twenty jobs
    truth.py --program P --days 200                           calibration: clean and bumped days
    truth.py --program P --fast                               no job file, no lists and drawings
    truth.py --keep FOLDER --only CASE                        keeps the files of the jobs

Exit status 1 when something is wrong with the answers, 0 when nothing is. Standard library only.
"""

import argparse
import collections
import concurrent.futures
import pathlib
import shutil
import sys
import tempfile
import traceback

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import answers as a  # noqa: E402
import days  # noqa: E402
import judge  # noqa: E402
import plants  # noqa: E402

SEED = 20310512


def one_job(options, case, seed, folder):
    program, fast = options.program, options.fast
    world, planted = case.make(seed)
    folder.mkdir(parents=True, exist_ok=True)
    world.write(folder)
    answered = [a.ask(program, act, folder, world, outputs=not fast) for act in a.ACTS]
    if not fast:
        job, err = a.make_job(program, folder, world)
        if job:
            answered += [a.ask_job(program, act, job, folder, outputs=act == "prove")
                         for act in a.ACTS]
            last = world.setups[-1].name
            answered += [a.ask_job(program, act, job, folder, station=last)
                         for act in ("station", "lay", "watch")]
        if case.gross and options.anyway:
            anyway = a.ask(program, "lay", folder, world, outputs=False, extra=["--anyway"])
            anyway.how = "anyway"
            answered.append(anyway)
        if world.also_in_parts:
            answered += [a.ask_shuffled(program, act, folder, world)
                         for act in ("lay", "watch", "prove")]
            parts, err = a.make_job_in_parts(program, folder, world)
            if parts:
                answered += [a.ask_job(program, act, parts, folder, how="parts")
                             for act in ("lay", "prove")]
            job = job and parts
    outputs = [s for x in answered for s in a.written(x)]
    result = judge.judge(case, seed, world, planted, answered, outputs)
    if not fast and not job:
        result.fault("refused", "job take: " + err.strip()[:200])
    return result


def run_all(options, cases, jobs):
    work = pathlib.Path(options.keep) if options.keep else pathlib.Path(
        tempfile.mkdtemp(prefix="layproof-truth-"))
    results = collections.OrderedDict((case.name, []) for case in cases)
    tasks = [(case, options.seed + 1000 * i) for case in cases for i in range(jobs)]

    def do(task):
        case, seed = task
        folder = work / f"{case.name}-{seed}"
        if folder.exists():
            shutil.rmtree(folder)
        try:
            result = one_job(options, case, seed, folder)
        except Exception:  # a broken answer is a finding, not the end of the study
            result = judge.Result(case, seed)
            result.fault("broken", traceback.format_exc(limit=3))
        if not options.keep:
            shutil.rmtree(folder, ignore_errors=True)
        return result

    with concurrent.futures.ThreadPoolExecutor(options.threads) as pool:
        for (case, _), result in zip(tasks, pool.map(do, tasks)):
            results[case.name].append(result)
    if not options.keep:
        shutil.rmtree(work, ignore_errors=True)
    return results


def share(n, of):
    return f"{100.0 * n / of:.1f} %" if of else "-"


def by_case(results):
    """Markdown: one row for each case."""
    lines = [f"| case | points | differing | by word or {judge.PLAIN} | good | told to move | then out |"
             " named by | not by |", "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"]
    for name, jobs in results.items():
        asked = {act: [sum(getattr(r.acts[act], k) for r in jobs) for k in ("named", "asked")]
                 for act in a.ACTS}
        named = [act for act, (n, of) in asked.items() if of and n == of]
        missed = [f"{act} ({n} of {of})" for act, (n, of) in asked.items() if n < of]
        cells = [name] + [sum(getattr(r, k) for r in jobs) for k in (
            "points", "differing", "differing_plainly", "good", "good_told", "spoilt")]
        lines.append("| " + " | ".join(str(c) for c in cells + [
            ", ".join(named) or "-", ", ".join(missed) or "-"]) + " |")
    return lines


def table(results):
    """Markdown: case x act."""
    lines = ["| case | act | points | differing | told to move | of these good | then out | proven |"
             " stated | truly | named |",
             "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]
    total = {act: judge.Figures() for act in a.ACTS}
    for name, jobs in results.items():
        for act in a.ACTS:
            f = judge.Figures()
            for r in jobs:
                f.add(r.acts[act])
            total[act].add(f)
            lines.append(row(name, act, f))
    for act in a.ACTS:
        lines.append(row("**all**", act, total[act]))
    return lines


def row(name, act, f):
    named = f"{f.named} of {f.asked}" if f.asked else "-"
    cells = [name, act] + ([f.points, f.differing, f.told, f.told_good, f.spoilt, f.proven,
                            share(f.stated, f.proven), share(f.proven_true, f.proven)]
                           if f.points else ["-"] * 8) + [named]
    return "| " + " | ".join(str(c) for c in cells) + " |"


KINDS = (
    ("differs", "one point, one word"),
    ("narrow", "asked about one set-up, a job says the same"),
    ("missing", "the points that were sighted, and no others"),
    ("overall", "the act's word follows"),
    ("exit", "exit status follows"),
    ("spoilt", "good points told out of tolerance"),
    ("cause", "the planted cause is named"),
    ("figures", "no figures under a gross cause"),
    ("first", "the cause comes first"),
    ("contradicts", "no contradiction in a sentence"),
    ("absurd", "no figure beyond a building site"),
    ("calibration", "called proven is true, intervals hold"),
    ("moment", "moments are found"),
    ("refused", "every act answers"),
    ("unread", "lists and drawings can be read"),
    ("broken", "answers can be read"),
)


def summary(results):
    every = [r for jobs in results.values() for r in jobs]
    faults = collections.Counter(kind for r in every for kind, _ in r.faults)
    points = sum(r.points for r in every)
    lines = [f"{len(every)} jobs, {points} points: "
             f"differing {sum(r.differing for r in every)} "
             f"(by word or more than {judge.PLAIN}: {sum(r.differing_plainly for r in every)}); "
             f"good {sum(r.good for r in every)}, told to move {sum(r.good_told for r in every)}, "
             f"out of tolerance if done {sum(r.spoilt for r in every)}; "
             f"marks and set-ups {sum(r.things for r in every)}, "
             f"differing {sum(r.things_differing for r in every)}; "
             f"cause named {sum(f.named for r in every for f in r.acts.values())} "
             f"of {sum(f.asked for r in every for f in r.acts.values())}."]
    lines.append("Faults: " + (", ".join(f"{kind} {faults[kind]}" for kind, _ in KINDS
                                         if faults[kind]) or "none") + ".")
    return lines


def faults(results, most):
    lines = []
    for name, jobs in results.items():
        for kind, what in KINDS:
            found = [(r.seed, says) for r in jobs for k, says in r.faults if k == kind]
            if not found:
                continue
            lines.append(f"{name}: {what}: {len(found)}")
            lines += [f"    seed {seed}: {says}" for seed, says in found[:most]]
    return lines


def main():
    p = argparse.ArgumentParser(description=__doc__,
                                formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--program", required=False, default="build/dev/bin/layproof")
    p.add_argument("--only", action="append", metavar="CASE", help="this case; may be repeated")
    p.add_argument("--jobs", type=int, default=1, help="jobs per case")
    p.add_argument("--days", type=int, default=0, help="calibration: days of each kind")
    p.add_argument("--seed", type=int, default=SEED)
    p.add_argument("--threads", type=int, default=2)
    p.add_argument("--fast", action="store_true", help="only JSON of loose files")
    p.add_argument("--keep", metavar="FOLDER", help="keep the files there")
    p.add_argument("--report", metavar="FILE.md")
    p.add_argument("--show", type=int, default=3, help="faults shown of each kind and case")
    p.add_argument("--list", action="store_true", help="names of the cases")
    options = p.parse_args()
    if options.list:
        print("\n".join(c.name for c in plants.CASES))
        return 0
    options.program = pathlib.Path(options.program).resolve()
    options.anyway = a.supports(options.program, "--anyway")
    known = {c.name: c for c in plants.CASES + days.KINDS}
    for name in options.only or []:
        if name not in known:
            p.error(f"no case {name!r}; --list has them")
    cases = [known[n] for n in options.only] if options.only else (
        days.KINDS if options.days else plants.CASES)
    results = run_all(options, cases, options.days or options.jobs)
    if options.days or any(c in days.KINDS for c in cases):
        calibration = days.table(results)
    else:
        calibration = []
    text = by_case(results) + [""] + table(results) + [""] + calibration + summary(results)
    print("\n".join(text))
    found = faults(results, options.show)
    if found:
        print("\n".join([""] + found))
    if options.report:
        pathlib.Path(options.report).write_text(
            "\n".join(text + [""] + ["    " + line for line in found]) + "\n", encoding="utf-8")
    return 1 if any(r.faults for jobs in results.values() for r in jobs) else 0


if __name__ == "__main__":
    sys.exit(main())
