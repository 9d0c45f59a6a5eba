"""Fails the n-th write, rename, open and allocation of a run for n = 1, 2, ... until a run has no n-th call.

After each run every output is all old or all new, nothing is left behind, and the status tells which: 0 only when all
is new; otherwise 2 or 3 with a sentence. Never a signal. The method is that of SQLite's tests (sqlite.org/testing.html,
section 3). Allocations are many, and those of a loop fail alike: all of the first FIRST are tried, then each by GROWTH
later than the last (1 tries all).

usage: fail_each.py PROGRAM PROJECT LIBRARY [--first FIRST] [--growth GROWTH] [--jobs J]
"""
import argparse
import concurrent.futures
import os
import subprocess
import sys
import tempfile
from pathlib import Path

# Name, arguments, and the outputs they name. Each output stands there already, and --force replaces it.
JOBS = {
    "deviation": (["deviation", "DEMO/two-way-armature.csv", "--from", "DEMO/bare-output.chain.toml", "--to",
                   "DEMO/attenuator-engaged.chain.toml", "--csv", "a.csv", "--plot", "a.svg", "--force"],
                  ["a.csv", "a.svg"]),
    "report": (["report", "DEMO/attenuator-engaged.chain.toml", "DEMO/two-way-armature.csv", "-o", "a.html", "--force"],
               ["a.html"]),
    "stimulus": (["acquire", "stimulus", "--seconds", "1", "--write", "a.wav", "--draw", "a.svg", "--force"],
                 ["a.wav", "a.svg"]),
    "readings": (["acquire", "readings", "DEMO/bench/readings.csv", "--reference", "22", "--write", "a.csv", "--force"],
                 ["a.csv"]),
}
OLD = b"old\n"


class Fault:
    def __init__(self, kind, number, after):
        self.kind, self.number, self.after = kind, number, after

    def environment(self, library, mark):
        fault = {"LD_PRELOAD": str(library), "FAIL_KIND": self.kind, "FAIL_NTH": str(self.number),
                 "FAIL_MARK": str(mark)}
        if self.after:
            fault["FAIL_AFTER"] = "1"
        return {**os.environ, **fault}

    def __str__(self):
        return f"{self.kind} {self.number}{' and all after it' if self.after else ''}"


def run(options, name, fault):
    """Status, output, message, contents of the outputs, what else is there, whether the fault was reached."""
    arguments, outputs = JOBS[name]
    demo = str(options.project / "impedance-curves")
    with tempfile.TemporaryDirectory(prefix="ohmtilt-fail-") as scratch:
        folder, mark = Path(scratch) / "work", Path(scratch) / "mark"
        folder.mkdir()
        for output in outputs:
            (folder / output).write_bytes(OLD)
        environment = fault.environment(options.library, mark) if fault else None
        ran = subprocess.run([options.program, *(a.replace("DEMO", demo) for a in arguments)], cwd=folder,
                             env=environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=120)
        contents = {o: (folder / o).read_bytes() if (folder / o).exists() else None for o in outputs}
        others = sorted(f.name for f in folder.iterdir() if f.name not in outputs)
        return ran, contents, others, mark.exists()


def faults_of(ran, contents, others, wanted):
    """What is wrong after a run with a fault; wanted: the outputs of one without."""
    if ran.returncode < 0:
        yield f"ended by signal {-ran.returncode}"
    elif ran.returncode > 3:
        yield f"status {ran.returncode}"
    if others:
        yield f"left behind {others}"
    for output, content in contents.items():
        # A page is written without the figures that could not be drawn, says so, and the status is 3.
        without_figures = ran.returncode == 3 and output.endswith(".html") and content and \
            content.rstrip().endswith(b"</html>")
        if content not in (OLD, wanted[output]) and not without_figures:
            yield f"{output} is neither old nor new"
    all_new = all(contents[o] == wanted[o] for o in contents)
    if ran.returncode in (0, 1) and not all_new:
        yield f"status {ran.returncode}, and an output is old"
    if ran.returncode > 1 and not ran.stderr.startswith(b"ohmtilt: ") and b"write" not in str(ran.args).encode():
        yield f"status {ran.returncode} without a sentence: {ran.stderr[:200]!r}"
    if b"internal error" in ran.stderr:
        yield f"{ran.stderr[:200]!r}"


def numbers(kind, after, options):
    """Which calls to fail, in order; the search ends at the first that a run does not have."""
    number = 0
    while True:
        number += 1
        if kind == "memory" and number > options.first:
            number = max(number, int(number * options.growth))
        yield Fault(kind, number, after)


def tried(options, name, wanted):
    """Runs all faults of a job; the number of runs, and what was wrong."""
    runs, wrong = 0, []
    for kind in ("write", "rename", "open", "memory"):
        for after in (False, True):
            for fault in numbers(kind, after, options):
                ran, contents, others, reached = run(options, name, fault)
                if not reached:
                    break
                runs += 1
                wrong += [f"{name}, {fault}: {what}" for what in faults_of(ran, contents, others, wanted)]
    return runs, wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", type=Path)
    parser.add_argument("project", type=Path)
    parser.add_argument("library", type=Path)
    parser.add_argument("--first", type=int, default=60, help="so many allocations fail one by one")
    parser.add_argument("--growth", type=float, default=1.15, help="and each after them is so many times as late")
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--only", choices=JOBS)
    options = parser.parse_args()
    options.program, options.project = options.program.resolve(), options.project.resolve()
    options.library = options.library.resolve()
    names = [options.only] if options.only else list(JOBS)
    wanted = {}
    for name in names:
        ran, wanted[name], _, _ = run(options, name, None)
        if ran.returncode != 0 or OLD in wanted[name].values():
            print(f"{name} does not run without a fault: {ran.stderr.decode()}")
            return 1
    total, found = 0, []
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        for runs, wrong in pool.map(lambda name: tried(options, name, wanted[name]), names):
            total += runs
            found += wrong
    print("\n".join(found))
    print(f"{total} faults, {len(found)} findings")
    return 1 if found else 0


sys.exit(main())
