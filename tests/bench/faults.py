#!/usr/bin/env python3
"""How often `inspect` finds a fault where there is none, and misses one that is there.

  faults.py PROGRAM [--curves N] [--seed S]

False: the share of invented earphones, measured without fault, on which each finding stands. Some findings
describe what such a curve is (sparse, noisy, quantised, magnitude-only, band-missing); they are listed but
judged only where they would be wrong. Found: the share of faulty variants on which the fault is named."""
import argparse
import collections
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy

sys.path.insert(0, str(Path(__file__).resolve().parent))
import invented_earphones as invented

CLEAN = [("480", 0.0, None, True), ("480", 0.003, None, True), ("480", 0.01, None, True), ("480", 0.0, 4, True),
         ("480", 0.0, None, False), ("480", 0.01, None, False), ("120", 0.0, None, True), ("120", 0.0, None, False),
         ("31", 0.0, None, True), ("31", 0.0, None, False), ("irregular 40", 0.0, None, True),
         ("irregular 40", 0.0, None, False), ("20", 0.0, None, True), ("hole", 0.0, None, True)]
FAULTS = ("not-passive", "outlier", "step", "phase-sign", "phase-radians", "kilohertz", "kilohm",
          "looks-like-response", "not-causal")


def inspected(program, folder, rows, header=True):
    file = Path(folder) / "curve.csv"
    file.write_text(invented.text_of(rows, header))
    ran = subprocess.run([program, "inspect", str(file), "--json"], capture_output=True, text=True, check=True)
    return json.loads(ran.stdout)


def kinds(answer):
    return {finding["kind"] for finding in answer["findings"]}


def outlier(random, hz, ohm, degrees):
    """9 standard deviations of 0.3 % noise, and 5 % at least."""
    ohm = ohm.copy()
    ohm[random.integers(5, hz.size - 5)] *= 1.05
    return hz, ohm, degrees


def joined(random, hz, ohm, degrees):
    ohm = ohm.copy()
    ohm[random.integers(60, hz.size - 60):] *= 1.05
    return hz, ohm, degrees


def always(noise, hz, ohm, degrees):
    return True


def turns(noise, hz, ohm, degrees):
    """A phase of x from a coil or a capacitor raises |Z| by x^2/2: where that is below four standard deviations
    of the noise, or x below 3 degrees, as of a planar driver, it is as good with either sign."""
    return abs(degrees).max() > max(3, numpy.degrees(numpy.sqrt(8 * noise)))


def some_ohms(noise, hz, ohm, degrees):
    """Above 1 kilohm, as of a MEMS driver, a thousandth is an earphone's too."""
    return numpy.median(ohm) < 900


# The finding, what makes the fault, on which curves the data can tell.
VARIANTS = [("outlier", outlier, always), ("step", joined, always),
            ("phase-sign", lambda r, f, z, p: (f, z, -p), turns),
            ("phase-radians", lambda r, f, z, p: (f, z, numpy.radians(p)), turns),
            ("kilohertz", lambda r, f, z, p: (f / 1000, z, p), always),
            ("kilohm", lambda r, f, z, p: (f, z / 1000, p), some_ohms)]


def response(random, hz):
    """A level over frequency without a header: a shelf, an ear's gain near 3 kHz, a fall at the top."""
    x = numpy.log2(hz / 1000)
    level = random.uniform(75, 115) + random.uniform(-4, 10) / (1 + (hz / random.uniform(60, 300)) ** 2)
    level = level + random.uniform(3, 12) * numpy.exp(-((x - random.uniform(1, 2)) / random.uniform(0.4, 1)) ** 2)
    level = level - 10 * numpy.log10(1 + (hz / random.uniform(7000, 14000)) ** random.uniform(2, 6))
    return hz, level, None


def false_alarms(program, folder, seed, curves, where, noise, digits, phase):
    """How many of so many faultless curves have each finding."""
    random, count = numpy.random.default_rng(seed), collections.Counter()
    for _ in range(curves):
        _, impedance = invented.earphone(random)
        count.update(kinds(inspected(program, folder, invented.measured(random, impedance, where, noise, digits, phase))))
    return count


def detections(program, folder, seed, curves, noise, kind, change, tells):
    """How many of so many curves that this fault was put into, where the data can tell, are found to have it."""
    random, tried, hits = numpy.random.default_rng(seed), 0, 0
    while tried < curves:
        _, impedance = invented.earphone(random)
        rows = invented.measured(random, impedance, "480", noise)
        if not tells(noise, *rows):
            continue
        tried += 1
        hits += kind in kinds(inspected(program, folder, change(random, *rows)))
    return hits


def response_detections(program, folder, seed, curves):
    random, hz = numpy.random.default_rng(seed), invented.frequencies(None, "480")
    return sum("looks-like-response" in kinds(inspected(program, folder, response(random, hz), header=False))
               for _ in range(curves))


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("program")
    parser.add_argument("--curves", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    n, share = args.curves, 100 / args.curves
    with tempfile.TemporaryDirectory() as folder:
        print("false, in percent of the curves: what would be a fault; in brackets what the curve is")
        everywhere = collections.Counter()
        for cell in CLEAN:
            count = false_alarms(args.program, folder, args.seed, n, *cell)
            everywhere.update({k: v for k, v in count.items() if k in FAULTS})
            false = ", ".join(f"{k} {share * count[k]:.1f}" for k in FAULTS if count[k]) or "nothing"
            true = ", ".join(f"{k} {share * count[k]:.0f}" for k in sorted(count) if k not in FAULTS)
            where, noise, digits, phase = cell
            print(f"  {where:13s} {100 * noise:3.1f} % {digits or '-'} {'phase' if phase else '     '}: {false} ({true})",
                  flush=True)
        print("over all of them:", ", ".join(f"{k} {share * everywhere[k] / len(CLEAN):.2f}" for k in FAULTS))
        print("found, in percent of the faulty curves")
        for noise in (0.0, 0.003):
            for kind, change, tells in VARIANTS:
                hits = detections(args.program, folder, args.seed + 1, n, noise, kind, change, tells)
                print(f"  {kind:14s} {100 * noise:3.1f} %: {share * hits:.0f}", flush=True)
        print(f"  response without a header: {share * response_detections(args.program, folder, args.seed + 2, n):.0f}")


if __name__ == "__main__":
    main()
