#!/usr/bin/env python3
"""What it costs to begin: processor time (user and system) and peak memory of `layproof --version` and
of one `station` on the demo site, beside a bare start of Python, each run in turn.

    bench/start_up.py build/release/bin/layproof [other/layproof ...]

Medians; on a busy machine read the ratio to Python, and the least.
"""
import os
import pathlib
import statistics
import sys
import tempfile

RUNS = 50
PYTHON = "/usr/bin/python3"


def run(command):
    """Milliseconds of the processor and MiB at most."""
    child = os.fork()
    if child == 0:
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        os.execv(command[0], command)
    _, status, used = os.wait4(child, 0)
    if os.waitstatus_to_exitcode(status) > 1:
        sys.exit(f"{' '.join(command)} failed")
    return 1000.0 * (used.ru_utime + used.ru_stime), used.ru_maxrss / 1024.0


def main():
    site = pathlib.Path(__file__).parent.parent / "examples" / "invented-mill-hall"
    with tempfile.TemporaryDirectory() as out:
        commands = {"python3 -c pass": [PYTHON, "-c", "pass"]}
        for program in sys.argv[1:]:
            commands[f"{program} --version"] = [program, "--version"]
            commands[f"{program} station"] = [
                program, "station", "--marks", str(site / "marks.csv"),
                "--sights", str(site / "sights.csv"), "--setups", str(site / "setups.csv"),
                "--instrument", str(site / "instrument.toml"),
                "--points", str(site / "points.csv"), "--unit", "ft", "--out", out]
        seen = {name: [] for name in commands}
        for _ in range(RUNS):
            for name, command in commands.items():
                seen[name].append(run(command))
    bare = statistics.median(ms for ms, _ in seen["python3 -c pass"])
    print(f"{'median ms':>10} {'least ms':>9} {'to python':>10} {'MiB':>6}")
    for name, runs in seen.items():
        ms = [one for one, _ in runs]
        middle = statistics.median(ms)
        peak = max(mib for _, mib in runs)
        print(f"{middle:10.1f} {min(ms):9.1f} {middle / bare:10.2f} {peak:6.1f}  {name}")


if __name__ == "__main__":
    main()
