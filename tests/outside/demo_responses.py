#!/usr/bin/env python3
"""The invented responses of the demo earphones.

  level(f) = 94 dB + shape(f) - shape(1 kHz)
  shape(f) = bass_db / (1 + (f/bass_hz)^2)
           + sum of peak_db exp(-(lb(f/peak_hz) / width_octave)^2 / 2)
           - 10 lg(1 + (f/end_hz)^8)

a bass shelf, the ear's gain near 2.7 kHz, the resonances of tube and drivers, and the end of the
range. No measured response stands behind the numbers. Levels are written to 0.001 dB.

  demo_responses.py --check | --write     NAME.response.csv in impedance-curves/
"""
import argparse
import sys

import numpy

from reference_circuit import DEMO_FOLDER, demo_grid, number

# title, (bass_db, bass_hz), [(peak_db, peak_hz, width_octave)], end_hz
SHAPES = {
    "single-dynamic": ("Demo single dynamic", (6, 160),
                       [(8, 2800, 0.55), (4.5, 7200, 0.16), (-3, 5000, 0.3)], 14500),
    "two-way-armature": ("Demo two-way pair", (3, 140),
                         [(9, 2600, 0.6), (5, 8300, 0.14), (-2.5, 1400, 0.5)], 13500),
    "five-armature": ("Demo five armatures", (5, 150),
                      [(8.5, 2700, 0.6), (3, 5600, 0.25), (4, 9800, 0.15)], 16000),
    "dynamic-armature-hybrid": ("Demo dynamic-armature hybrid", (8, 130),
                                [(8.5, 2900, 0.55), (4, 7800, 0.18)], 15000),
    "dynamic-piezo-hybrid": ("Demo dynamic-piezo hybrid", (5, 180),
                             [(7.5, 2700, 0.55), (5, 8400, 0.2), (3, 14500, 0.15)], 18500),
    "planar": ("Demo planar", (4, 120),
               [(9, 2600, 0.65), (3.5, 6400, 0.2), (-2, 4300, 0.25)], 17500),
}


def shape_db(f, shelf, peaks, end_hz):
    bass_db, bass_hz = shelf
    db = bass_db / (1 + (f / bass_hz) ** 2) - 10 * numpy.log10(1 + (f / end_hz) ** 8)
    for peak_db, peak_hz, octaves in peaks:
        db = db + peak_db * numpy.exp(-((numpy.log2(f / peak_hz) / octaves) ** 2) / 2)
    return db


def response_text(title, *shape):
    f = demo_grid()
    level = 94 + shape_db(f, *shape) - shape_db(numpy.array(1000.0), *shape)
    head = [f"# title: {title}", "# quantity: response",
            "# condition: as in a sealed ear simulator; 94 dB SPL at 1 kHz",
            "# origin: invented, see tests/outside/demo_responses.py", "frequency_hz,magnitude_db"]
    rows = [f"{number(x)},{number(round(y, 3))}" for x, y in zip(f, level)]
    return "\n".join(head + rows) + "\n"


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    job = parser.add_mutually_exclusive_group(required=True)
    job.add_argument("--check", action="store_true")
    job.add_argument("--write", action="store_true")
    options = parser.parse_args()
    for name, shape in SHAPES.items():
        path = DEMO_FOLDER / f"{name}.response.csv"
        if options.write:
            path.write_text(response_text(*shape), encoding="utf-8")
        elif path.read_text(encoding="utf-8") != response_text(*shape):
            sys.exit(f"{path.name} is not what its formula gives; run this script with --write")
    print(f"{len(SHAPES)} responses")


if __name__ == "__main__":
    main()
