#!/usr/bin/env python3
"""The job of bench_solver's thousand_variations done by numpy.linalg.solve on stacked matrices.

  numpy_solver.py BENCH_PROGRAM    runs both and states the ratio; exit 1 when the sums disagree

Node admittance matrices (480 x 12 x 12) are stamped by array operations, one solve a variation.
Times are processor seconds of one thread, so that a busy machine does not decide.
"""
import json
import math
import resource
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import numpy

CIRCUIT = Path(__file__).with_name("twelve-node.circuit.toml")
KEYS = {"resistor": ["ohm"], "inductor": ["henry", "series_ohm"], "capacitor": ["farad"],
        "lossy-inductor": ["k", "n"]}
ADMITTANCES = {
    "resistor": lambda v, s: numpy.full_like(s, 1 / v["ohm"]),
    "inductor": lambda v, s: 1 / (v["henry"] * s + v.get("series_ohm", 0)),
    "capacitor": lambda v, s: v["farad"] * s,
    "lossy-inductor": lambda v, s: 1 / (v["k"] * s ** v["n"]),
}


def factor(variation, value):
    return 1 + 0.05 * (((variation * 7919 + value * 104729) % 1000) / 500 - 1)


def varied(parts, variation):
    number = 0
    for part in parts:
        values = {}
        for key in (key for key in KEYS[part["kind"]] if key in part):
            values[key] = part[key] * (1 if key == "n" else factor(variation, number))
            number += 1
        yield part, values


def stamped(parts, rows, s, variation):
    matrices = numpy.zeros((len(s), len(rows), len(rows)), complex)
    for part, values in varied(parts, variation):
        y = ADMITTANCES[part["kind"]](values, s)
        a, b = (rows.get(node) for node in part["nodes"])
        for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            if i is not None and j is not None:
                matrices[:, i, j] += sign * y
    return matrices


def thousand_variations():
    """Sum of |Z| in ohm, processor seconds in all, and within numpy.linalg.solve."""
    circuit = tomllib.loads(CIRCUIT.read_text(encoding="utf-8"))
    parts = circuit["part"]
    nodes = dict.fromkeys(n for p in parts for n in p["nodes"] if n != circuit["reference"])
    rows = {node: i for i, node in enumerate(nodes)}
    s = 2j * math.pi * 20 * 1000 ** (numpy.arange(480) / 479)
    drive = numpy.zeros((len(s), len(rows), 1))
    drive[:, rows["in"], 0] = 1
    total, within = 0.0, 0.0
    start = time.process_time()
    for variation in range(1000):
        matrices = stamped(parts, rows, s, variation)
        before = time.process_time()
        volts = numpy.linalg.solve(matrices, drive)
        within += time.process_time() - before
        total += numpy.abs(volts[:, rows["in"], 0]).sum()
    return total, time.process_time() - start, within


def bench(program):
    out = subprocess.run([program, "--benchmark_filter=thousand_variations",
                          "--benchmark_format=json"], check=True, capture_output=True, text=True)
    row = json.loads(out.stdout)["benchmarks"][0]
    kilobytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return row["sum_ohm"], row["cpu_time"] / 1e3, kilobytes / 1024


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    ours, our_seconds, megabytes = bench(sys.argv[1])
    theirs, their_seconds, within = thousand_variations()
    print(f"ohmtilt {our_seconds:.3f} s, {megabytes:.0f} MB; numpy {their_seconds:.3f} s, "
          f"of it numpy.linalg.solve {within:.3f} s")
    print(f"ratio {their_seconds / our_seconds:.1f} in all, "
          f"{within / our_seconds:.1f} against numpy.linalg.solve alone")
    if not abs(ours - theirs) <= 1e-9 * theirs:
        sys.exit(f"the sums differ: {ours!r} and {theirs!r} ohm")


if __name__ == "__main__":
    main()
