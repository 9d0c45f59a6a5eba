#!/usr/bin/env python3
"""The uncertainty of a deviation by draws with NumPy (JCGM 101:2008, propagation of distributions),
an outside check of the C++ code, which propagates linearly by closed derivatives.

A demo curve gets an invented uncertainty, u/|Z| rising from 0.2 % to 1.5 % with frequency. Each draw
moves every point by a circular normal error of that size, independent from point to point. The
scatter of the deviation over 20000 draws is compared with what the program states: within 4 % at
every frequency (the draws' own scatter is 0.5 %) but those within one data step of the anchor.

  reference_uncertainty.py --against PROGRAM    exit 1 if not equal
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy

from reference_circuit import DEMO_FOLDER, read_table

DRAWS, LIMIT = 20000, 0.04
FROM_OHM, TO_OHM = 0.3, 6.0


def write_curve(folder, f, magnitude, degrees, u):
    rows = numpy.column_stack([f, magnitude, degrees, u])
    lines = [",".join(repr(float(x)) for x in row) for row in rows]
    path = Path(folder) / "measured.csv"
    path.write_text("frequency_hz,magnitude_ohm,phase_deg,uncertainty_ohm\n" + "\n".join(lines) + "\n")
    earphone = Path(folder) / "measured.earphone.toml"
    earphone.write_text('title = "Drawn"\nimpedance = "measured.csv"\n')
    return earphone


def scatter_db(z, u, anchor):
    """Standard deviation over the draws; anchor is an index, a slice, or None."""
    chance = numpy.random.default_rng(1)
    sums = numpy.zeros((2, z.size))
    for _ in range(DRAWS // 1000):
        noise = chance.standard_normal((2, 1000, z.size))
        drawn = z + u * (noise[0] + 1j * noise[1])
        d = 20 * numpy.log10(abs(drawn + FROM_OHM) / abs(drawn + TO_OHM))
        if anchor is not None:
            d = d - d[:, anchor : anchor + 1]
        sums += numpy.stack([d.sum(axis=0), (d**2).sum(axis=0)])
    mean = sums[0] / DRAWS
    return numpy.sqrt(sums[1] / DRAWS - mean**2)


def stated_db(program, earphone, anchor):
    command = [program, "deviation", str(earphone), "--from", str(FROM_OHM), "--to", str(TO_OHM),
               "--anchor", anchor, "--json"]
    answer = subprocess.run(command, capture_output=True, text=True, check=True)
    return numpy.array(json.loads(answer.stdout)["cases"][0]["parts_95_db"]["stated"]) / 1.96


def main():
    program = sys.argv[sys.argv.index("--against") + 1]
    worst = 0.0
    for name in ("two-way-armature", "dynamic-piezo-hybrid"):
        f, magnitude, degrees = (numpy.array(c) for c in read_table(DEMO_FOLDER / f"{name}.csv"))
        z = magnitude * numpy.exp(1j * numpy.radians(degrees))
        u = magnitude * numpy.geomspace(0.002, 0.015, f.size)
        with tempfile.TemporaryDirectory() as folder:
            earphone = write_curve(folder, f, magnitude, degrees, u)
            for anchor in (None, 280):
                text = "none" if anchor is None else repr(float(f[anchor]))
                stated, drawn = stated_db(program, earphone, text), scatter_db(z, u, anchor)
                apart = numpy.ones(f.size, bool)
                if anchor is not None:
                    apart[anchor - 1 : anchor + 2] = False
                    if stated[anchor] > 1e-6:
                        sys.exit(f"{name}: the uncertainty at the anchor is {stated[anchor]} dB")
                error = float(numpy.max(abs(stated[apart] / drawn[apart] - 1)))
                print(f"{name}, anchor {text}: largest difference {100 * error:.2f} %")
                worst = max(worst, error)
    if not worst < LIMIT:
        sys.exit(f"stated and drawn uncertainties differ by {100 * worst:.1f} %")


if __name__ == "__main__":
    main()
