#!/usr/bin/env python3
"""Crosstalk by an own nodal solution in NumPy: an outside check of `crosstalk`.

Two channels with a T pad, a cable and returns that both use, on a demo earphone. Node by node: each
e.m.f. stands on the reference behind the output resistance; the pad's shunt goes to the common
return at the amplifier, the earphone's other end through its own conductor to the common return of
the cable. The idle e.m.f. is 0 V, or its amplifier is unplugged. Agreement: 1e-8 dB (the program's
grid is the curve's own).

  reference_crosstalk.py --against PROGRAM   exit 1 if not equal
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy

from reference_circuit import DEMO_FOLDER, read_table

OUTPUT, FIRST, SHUNT, SECOND = 0.5, 6.8, 12.0, 4.7
CONDUCTOR, CABLE_RETURN, SOURCE_RETURN, FARAD = 0.21, 0.33, 0.045, 4e-10
CHAIN = f"""[source]
output_ohm = {OUTPUT}
shared_return_ohm = {SOURCE_RETURN}
[[stage]]
kind = "pad"
topology = "T"
series_ohm = {FIRST}
shunt_ohm = {SHUNT}
second_series_ohm = {SECOND}
[[stage]]
kind = "cable"
conductor_ohm = {CONDUCTOR}
shared_return_ohm = {CABLE_RETURN}
farad = {FARAD}
"""


def separation_db(f, z, idle_driven):
    """20 lg of the driven over the idle earphone's voltage."""
    names = ["amplifier return", "cable return"]
    for channel in "di":
        names += [channel + node for node in ("out", "middle", "pad", "tip", "sleeve")]
    number = {name: i for i, name in enumerate(names)}
    y = numpy.zeros((f.size, len(names), len(names)), complex)

    def join(one, other, siemens):
        for a, b in ((one, other), (other, one)):
            if a is None:
                continue
            y[:, number[a], number[a]] += siemens
            if b is not None:
                y[:, number[a], number[b]] -= siemens

    join("amplifier return", None, 1 / SOURCE_RETURN)
    join("cable return", "amplifier return", 1 / CABLE_RETURN)
    for channel in "di":
        if channel == "d" or idle_driven:
            join(channel + "out", None, 1 / OUTPUT)
        join(channel + "out", channel + "middle", 1 / FIRST)
        join(channel + "middle", "amplifier return", 1 / SHUNT)
        join(channel + "middle", channel + "pad", 1 / SECOND)
        join(channel + "pad", channel + "tip", 1 / CONDUCTOR)
        join(channel + "tip", channel + "sleeve", 1 / z + 2j * numpy.pi * f * FARAD)
        join(channel + "sleeve", "cable return", 1 / CONDUCTOR)
    ampere = numpy.zeros((f.size, len(names), 1), complex)
    ampere[:, number["dout"]] = 1 / OUTPUT
    volt = numpy.linalg.solve(y, ampere)[:, :, 0]
    across = [volt[:, number[c + "tip"]] - volt[:, number[c + "sleeve"]] for c in "di"]
    return 20 * numpy.log10(abs(across[0] / across[1]))


def main():
    program = sys.argv[sys.argv.index("--against") + 1]
    curve = DEMO_FOLDER / "two-way-armature.csv"
    f, magnitude, degrees = read_table(curve)
    z = magnitude * numpy.exp(1j * numpy.radians(degrees))
    worst = 0.0
    with tempfile.TemporaryDirectory() as folder:
        chain = Path(folder) / "both.chain.toml"
        chain.write_text(CHAIN)
        for idle in ("driven", "open"):
            command = [program, "crosstalk", str(chain), str(curve), "--idle", idle, "--json"]
            answer = subprocess.run(command, capture_output=True, text=True, check=True).stdout
            told = json.loads(answer)
            wanted = separation_db(f, z, idle == "driven")
            worst = max(worst, numpy.abs(numpy.array(told["separation_db"]) - wanted).max())
    print(f"largest difference {worst:.2g} dB, separation {wanted.min():.2f} dB or more")
    sys.exit(0 if worst < 1e-8 else 1)


if __name__ == "__main__":
    main()
