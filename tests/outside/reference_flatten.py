#!/usr/bin/env python3
"""The figures of a flattening network by NumPy from its parts: an outside check of `flatten`.

The program chooses the parts; what it says of them is worked out again here: the largest span over
sources up to 10 ohm, the same with the earphone 10 % up and down in ohm and in hertz, the span that
95 % of the draws keep within when every part, a coil's resistance too, lies within 5 % (uniform),
the current and the loss. How near, relative, stands beside each: 1e-6 on the file's own grid, 1e-4 to
2e-3 where the curve is interpolated (at 1 kHz, between grid points, moved in hertz), 2.5 % for the draws
(400 there, 20000 here).

  reference_flatten.py --against PROGRAM   exit 1 if not equal
"""
import json
import subprocess
import sys

import numpy

from reference_circuit import DEMO_FOLDER, read_table

SOURCE_OHM, VARIATION, TOLERANCE = 10.0, 0.10, 0.05


def span_db(z):
    """The largest over resistive sources up to SOURCE_OHM instead of 0; z is one row a frequency."""
    spans = []
    for ohm in numpy.linspace(0.5, SOURCE_OHM, 20):
        change = 20 * numpy.log10(abs(z / (z + ohm)))
        spans.append(numpy.ptp(change, axis=-1))
    return numpy.max(spans, axis=0)


def branches_of(parts):
    """[ohm, coil ohm, henry or None, farad or None] of each branch; R2, L2 and C2 are the second's."""
    branches = {}
    for part in parts:
        branch = branches.setdefault(part["name"][1:], [0.0, 0.0, None, None])
        if part["kind"] == "resistor":
            branch[0] = part["ohm"]
        elif part["kind"] == "inductor":
            branch[1:3] = [part.get("series_ohm", 0.0), part["henry"]]
        else:
            branch[3] = part["farad"]
    return list(branches.values())


def with_network(f, z, branches, factors=None):
    """z with all branches across it; factors: one draw a row, one column a part."""
    s = 2j * numpy.pi * f
    siemens = 1 / z
    column = 0
    for branch in branches:
        ohm, coil, henry, farad = branch
        value = []
        for nominal in (ohm, coil, henry, farad):
            if nominal is None or nominal == 0:
                value.append(nominal)
                continue
            value.append(nominal if factors is None else nominal * factors[:, column, None])
            column += 1
        series = value[0] + value[1] + (value[2] * s if henry else 0)
        siemens = siemens + 1 / (series + (1 / (value[3] * s) if farad else 0))
    return 1 / siemens


def main():
    program = sys.argv[sys.argv.index("--against") + 1]
    curve = DEMO_FOLDER / "two-way-armature.csv"
    command = [program, "flatten", str(curve), "--source", str(SOURCE_OHM), "--limit-db", "1",
               "--points", "480", "--json"]
    told = json.loads(subprocess.run(command, capture_output=True, text=True).stdout)
    f, magnitude, degrees = read_table(curve)
    z = magnitude * numpy.exp(1j * numpy.radians(degrees))
    branches = branches_of(told["parts"])
    after = with_network(f, z, branches)
    lnz = numpy.log(z.real + 1j * z.imag)
    lnz = lnz.real + 1j * numpy.unwrap(lnz.imag)
    moved = []
    for factor in (1 / (1 + VARIATION), 1 + VARIATION):
        moved.append(span_db(with_network(f, factor * z, branches)))
        at = numpy.log(numpy.clip(f * factor, f[0], f[-1]))
        there = numpy.interp(at, numpy.log(f), lnz.real) + 1j * numpy.interp(at, numpy.log(f), lnz.imag)
        moved.append(span_db(with_network(f, numpy.exp(there), branches)))
    count = sum(1 for branch in branches for value in branch if value)
    chance = numpy.random.default_rng(1)
    drawn = [span_db(with_network(f, z, branches,
                                  1 + TOLERANCE * chance.uniform(-1, 1, (500, count))))
             for _ in range(40)]
    at_1k = numpy.interp(numpy.log(1000), numpy.log(f), lnz.real) + 1j * numpy.interp(
        numpy.log(1000), numpy.log(f), lnz.imag)
    one = numpy.array([numpy.exp(at_1k)])
    loaded = with_network(numpy.array([1000.0]), one, branches)
    loss = 20 * numpy.log10(abs(one / (one + SOURCE_OHM) / (loaded / (loaded + SOURCE_OHM))))[0]
    wanted = {
        "span_before_db": (span_db(z), 1e-6),
        "span_after_db": (span_db(after), 1e-3),
        "extra_current_ratio": (abs(z).min() / abs(after).min(), 1e-6),
        "loss_db": (loss, 1e-4),
        "variation_db": (max(moved + [span_db(after)]), 2e-3),
        "tolerance_p95_db": (numpy.percentile(numpy.concatenate(drawn), 95), 0.025),
    }
    wrong = [f"{key}: {told[key]}, not {value}" for key, (value, limit) in wanted.items()
             if not abs(told[key] / value - 1) < limit]
    print("\n".join(wrong) or ", ".join(f"{key} {told[key]:.4f}" for key in wanted))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
