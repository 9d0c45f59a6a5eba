#!/usr/bin/env python3
"""Tolerances of an L pad worked out apart from the C++ code: an outside check of it.

NumPy and SciPy draw values of their own (scipy.stats.uniform and truncnorm) and take percentiles;
both answers are samples, so they agree within a few standard errors of a percentile, and no better.

  reference_tolerance.py --against PROGRAM
"""
import argparse
import json
import subprocess
import sys
from pathlib import Path

import numpy
from scipy import stats

FOLDER = Path(__file__).resolve().parents[2] / "impedance-curves"
SERIES_OHM, SHUNT_OHM, SOURCE_OHM, TOLERANCE = 18, 9.1, 0.3, 0.01  # attenuator-engaged.chain.toml
SAMPLES = 40000


def load():
    lines = (FOLDER / "two-way-armature.csv").read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if line and not line.startswith("#")][1:]
    f, magnitude, degrees = numpy.array([[float(x) for x in row.split(",")] for row in rows]).T
    return f, magnitude * numpy.exp(1j * numpy.radians(degrees))


def deviates(distribution, generator):
    if distribution == "uniform":
        return stats.uniform(-1, 2).rvs((SAMPLES, 2), random_state=generator)
    return stats.truncnorm(-3, 3).rvs((SAMPLES, 2), random_state=generator) / 3


def expected(distribution, f, z):
    values = 1 + TOLERANCE * deviates(distribution, numpy.random.default_rng(20250101))
    upper = SOURCE_OHM + SERIES_OHM * values[:, :1]
    shunt = SHUNT_OHM * values[:, 1:]
    level = 20 * numpy.log10(abs(shunt / (upper + shunt) * z / (z + upper * shunt / (upper + shunt))))
    change = level - 20 * numpy.log10(abs(z / (z + SOURCE_OHM)))
    anchor = numpy.array([numpy.interp(numpy.log(1000), numpy.log(f), row) for row in change])
    deviation = change - anchor[:, None]
    difference = abs(level[::2] - level[1::2])
    return {**{f"p{p:02d}_db": numpy.percentile(deviation, p, axis=0) for p in (5, 50, 95)},
            "channel_difference_db": numpy.percentile(difference, 95, axis=0)}


def found(program, distribution):
    command = [program, "deviation", str(FOLDER / "two-way-armature.csv"), "--from", "0.3", "--to",
               str(FOLDER / "attenuator-engaged.chain.toml"), "--tolerance", "--samples",
               str(SAMPLES), "--distribution", distribution, "--json"]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(run.stdout)["cases"][0]["tolerance"]


def compare(program, distribution):
    """Where the two differ by more than chance: a list of sentences."""
    f, z = load()
    want, got = expected(distribution, f, z), found(program, distribution)
    width = want["p95_db"] - want["p05_db"]
    wrong = []
    for key, values in want.items():
        # A percentile of 40,000 draws has a standard error below 0.01 of the 5-95 % width (a few
        # hundredths of the density's width); the interpolated anchor adds 2e-5 dB.
        scale = values if key.startswith("channel") else width
        worst = numpy.max(abs(numpy.array(got[key]) - values) / (0.025 * scale + 4e-5))
        if not worst <= 1:
            wrong.append(f"{distribution}: {key} is {worst:.2f} times as far off as chance allows")
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--against", metavar="PROGRAM", required=True)
    program = parser.parse_args().against
    wrong = [s for d in ("uniform", "normal") for s in compare(program, d)]
    print("\n".join(wrong) or "both distributions agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
