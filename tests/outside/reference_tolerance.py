#!/usr/bin/env python3
"""Tolerances of an L pad worked out apart from the C++ code, with groups, sorted parts and temperature: an outside check of it.

NumPy and SciPy draw values of their own (scipy.stats.uniform and truncnorm) and take percentiles;
both answers are samples, so they agree within a few standard errors of a percentile, and no better.

  reference_tolerance.py --against PROGRAM
"""
import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
from scipy import stats

FOLDER = Path(__file__).resolve().parents[2] / "impedance-curves"
SERIES_OHM, SHUNT_OHM, SOURCE_OHM, TOLERANCE = 18, 9.1, 0.3, 0.01  # attenuator-engaged.chain.toml
SAMPLES = 40000


def load():
    """A fourth of the demo curve's points, and both about 1 kHz, between which the anchor is interpolated."""
    lines = (FOLDER / "two-way-armature.csv").read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if line and not line.startswith("#")][1:]
    f, magnitude, degrees = numpy.array([[float(x) for x in row.split(",")] for row in rows]).T
    above = numpy.searchsorted(f, 1000)
    kept = numpy.unique([*range(0, len(f), 4), above - 1, above])
    return kept, f[kept], (magnitude * numpy.exp(1j * numpy.radians(degrees)))[kept]


def deviates(distribution, generator):
    if distribution == "uniform":
        return stats.uniform(-1, 2).rvs((SAMPLES, 2), random_state=generator)
    return stats.truncnorm(-3, 3).rvs((SAMPLES, 2), random_state=generator) / 3


def plain(generator, distribution):
    return 1 + TOLERANCE * deviates(distribution, generator)


def of_a_group(generator, _):
    """5 % in common, of both channels, of which 0.5 % are each resistor's own."""
    common = numpy.repeat(stats.uniform(-1, 2).rvs((SAMPLES // 2, 1), random_state=generator), 2, axis=0)
    return 1 + 0.045 * common + 0.005 * stats.uniform(-1, 2).rvs((SAMPLES, 2), random_state=generator)


def sorted_out(generator, _):
    """5 % parts without those within 1 %."""
    size = stats.uniform(0.01, 0.04).rvs((SAMPLES, 2), random_state=generator)
    return 1 + size * generator.choice([-1, 1], (SAMPLES, 2))


def warm(generator, _):
    """1 %, and 2000 ppm/K from -10 to 60 deg C, the same for both resistors and both channels."""
    kelvin = numpy.repeat(stats.uniform(-30, 70).rvs((SAMPLES // 2, 1), random_state=generator), 2, axis=0)
    return 1 + 0.01 * stats.uniform(-1, 2).rvs((SAMPLES, 2), random_state=generator) + 2e-3 * kelvin


# What the chain file has beside the pad, options, and NumPy's draws.
CASES = {
    "uniform": ("tolerance_percent = 1", ["--distribution", "uniform"], plain),
    "normal": ("tolerance_percent = 1", ["--distribution", "normal"], plain),
    "group": ('tolerance_percent = 5\ntolerance_group = "reel"\nmatching_percent = 0.5', [], of_a_group),
    "binned": ('tolerance_percent = 5\ndistribution = "binned"\nsorted_out_percent = 1', [], sorted_out),
    "warm": ("tolerance_percent = 1\ntemperature_ppm_per_kelvin = 2000", ["--ambient", "-10-60"], warm),
}


def expected(case, f, z):
    values = CASES[case][2](numpy.random.default_rng(20250101), case)
    upper = SOURCE_OHM + SERIES_OHM * values[:, :1]
    shunt = SHUNT_OHM * values[:, 1:]
    level = 20 * numpy.log10(abs(shunt / (upper + shunt) * z / (z + upper * shunt / (upper + shunt))))
    change = level - 20 * numpy.log10(abs(z / (z + SOURCE_OHM)))
    anchor = numpy.array([numpy.interp(numpy.log(1000), numpy.log(f), row) for row in change])
    deviation = change - anchor[:, None]
    difference = abs(level[::2] - level[1::2])
    return {**{f"p{p:02d}_db": numpy.percentile(deviation, p, axis=0) for p in (5, 50, 95)},
            "channel_difference_db": numpy.percentile(difference, 95, axis=0)}


def found(program, case):
    lines, options, _ = CASES[case]
    with tempfile.TemporaryDirectory() as folder:
        chain = Path(folder) / "pad.chain.toml"
        chain.write_text(f"[source]\noutput_ohm = {SOURCE_OHM}\n[[stage]]\nkind = \"pad\"\ntopology = \"L\"\n"
                         f"series_ohm = {SERIES_OHM}\nshunt_ohm = {SHUNT_OHM}\n{lines}\n", encoding="utf-8")
        command = [program, "deviation", str(FOLDER / "two-way-armature.csv"), "--from", str(SOURCE_OHM), "--to",
                   str(chain), "--tolerance", "--samples", str(SAMPLES), *options, "--json"]
        run = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(run.stdout)["cases"][0]["tolerance"]


def compare(program, case):
    """Where the two differ by more than chance: a list of sentences."""
    kept, f, z = load()
    want, got = expected(case, f, z), found(program, case)
    width = want["p95_db"] - want["p05_db"]
    wrong = []
    for key, values in want.items():
        # A percentile of 40,000 draws has a standard error below 0.01 of the 5-95 % width (a few
        # hundredths of the density's width); the interpolated anchor adds 2e-5 dB. The median of sorted parts lies
        # in their hole, where there is next to no density.
        if case == "binned" and key == "p50_db":
            continue
        scale = values if key.startswith("channel") else width
        worst = numpy.max(abs(numpy.array(got[key])[kept] - values) / (0.025 * scale + 4e-5))
        if not worst <= 1:
            wrong.append(f"{case}: {key} is {worst:.2f} times as far off as chance allows")
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--against", metavar="PROGRAM", required=True)
    program = parser.parse_args().against
    wrong = [s for case in CASES for s in compare(program, case)]
    print("\n".join(wrong) or f"{len(CASES)} cases agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
