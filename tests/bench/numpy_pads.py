#!/usr/bin/env python3
"""E96 L pads one combination at a time in NumPy: what bench_pads does, as one would write it.

Usage: numpy_pads.py [COUNT]. Evaluates COUNT combinations (default 4000, spread over all 147,456)
and scales the time up; attenuation at 1 kHz, span and lowest input on 480 points for each.
"""
import pathlib
import sys
import time

import numpy as np

ROOT = pathlib.Path(__file__).resolve().parents[2]


def curve():
    table = np.genfromtxt(ROOT / "impedance-curves/two-way-armature.csv", delimiter=",",
                          comments="#", skip_header=0)
    table = table[~np.isnan(table[:, 0])]
    return table[:, 0], table[:, 1] * np.exp(1j * np.radians(table[:, 2]))


def e96(decades):
    return [round(100 * 10 ** (i / 96)) / 100 * 10.0**d for d in range(decades) for i in range(96)]


def evaluate(z, z_anchor, source, series, shunt):
    out = (source + series) * shunt / (source + series + shunt)
    ratio = shunt / (source + series + shunt)
    gain = ratio * z_anchor / (z_anchor + out)
    bare = z_anchor / (z_anchor + source)
    deviation = 20 * np.log10(np.abs((z + source) / (z + out)))
    lowest = np.abs(series + z * shunt / (z + shunt)).min()
    return 20 * np.log10(np.abs(bare / gain)), deviation.max() - deviation.min(), out, lowest


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    hz, z = curve()
    z_anchor = np.interp(1000, hz, z.real) + 1j * np.interp(1000, hz, z.imag)
    values = e96(4)
    total = len(values) ** 2
    picks = np.linspace(0, total - 1, count).astype(int)
    start = time.perf_counter()
    for pick in picks:
        evaluate(z, z_anchor, 0.3, values[pick // len(values)], values[pick % len(values)])
    each = (time.perf_counter() - start) / count
    print(f"single core: {count} of {total} combinations: {1e6 * each:.1f} us each, {1e3 * each * total:.0f} ms for all")


if __name__ == "__main__":
    main()
