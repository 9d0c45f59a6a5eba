#!/usr/bin/env python3
"""The impedance of circuit files, worked out apart from the C++ solver: an outside check of it.

Nodal analysis with NumPy (dense complex matrices, LAPACK): one ampere is driven through the first
port and its voltage read. It reads *.circuit.toml by tomllib and knows the two-terminal kinds; any
other kind is refused.

  reference_circuit.py --check [FOLDER]   each NAME.csv against its circuit, 1e-9 relative
  reference_circuit.py --write [FOLDER]   writes each NAME.csv (20 Hz to 20 kHz, 480 points)
  reference_circuit.py --against PROGRAM [FOLDER]
                                          PROGRAM solve of each circuit, 1e-9 relative

Values are written with 12 significant digits: within 5e-13 of the circuit, and the same text from
any LAPACK.
"""
import argparse
import json
import math
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy

DEMO_FOLDER = Path(__file__).resolve().parents[2] / "impedance-curves"
CONDITION = "computed; drivers as in a sealed ear simulator"
CODE_LETTERS = {"R": 1.0, "K": 1e3, "k": 1e3, "M": 1e6, "m": 1e-3}


def ohms(value):
    """A number, or an IEC 60062 code such as 4R7 or 4k7, in ohm."""
    if not isinstance(value, str):
        return float(value)
    match = re.fullmatch(r"(\d*)([RKkMm])(\d*)", value)
    if not match:
        raise ValueError(f"{value!r} is no resistance code")
    before, letter, after = match.groups()
    return float(f"{before or 0}.{after or 0}") * CODE_LETTERS[letter]


def tank(f, hz, q, peak_ohm):
    """A parallel resonance: peak_ohm / (1 + jQ (f/f0 - f0/f))."""
    return peak_ohm / (1 + 1j * q * (f / hz - hz / f))


def dynamic_driver(part, f, s):
    dc = ohms(part["dc_ohm"])
    coil = part.get("coil_henry", 0) * s
    if "coil_k" in part:
        coil = part["coil_k"] * s ** part["coil_n"]
    if "moving_gram" not in part:
        q_mechanical = part["q_mechanical"]
        peak = dc * q_mechanical / part["q_electrical"]
        return dc + coil + tank(f, part["resonance_hz"], q_mechanical, peak)
    return dc + coil + motion(part, s)


def motion(part, s, magnetic_newton_per_mm=0):
    """Bl^2 over the mechanical impedance m s + r + stiffness/s, in SI units."""
    stiffness = 1e3 / part["compliance_mm_per_newton"] - 1e3 * magnetic_newton_per_mm
    mechanical = part["moving_gram"] * 1e-3 * s + part["resistance_kg_per_second"] + stiffness / s
    return part["force_factor_newton_per_ampere"] ** 2 / mechanical


def armature_driver(part, f, s):
    z = ohms(part["dc_ohm"]) + part["coil_henry"] * s + part["coil_k"] * numpy.sqrt(s)
    if "moving_gram" in part:
        return z + motion(part, s, part.get("magnetic_stiffness_newton_per_mm", 0))
    return z + sum(tank(f, r["hz"], r["q"], r["peak_ohm"]) for r in part["resonance"])


def piezo_driver(part, f, s):
    y = s * part["farad"] * (1 - 1j * part.get("loss_tangent", 0))
    for r in part.get("resonance", []):
        y = y + 1 / (ohms(r["ohm"]) + r["henry"] * s + 1 / (r["farad"] * s))
    return 1 / y


IMPEDANCES = {
    "resistor": lambda p, f, s: ohms(p["ohm"]) + 0 * s,
    "inductor": lambda p, f, s: p["henry"] * s + ohms(p.get("series_ohm", 0)),
    "capacitor": lambda p, f, s: 1 / (p["farad"] * s) + ohms(p.get("series_ohm", 0)),
    "lossy-inductor": lambda p, f, s: p["k"] * s ** p["n"],
    "planar-driver": lambda p, f, s: ohms(p["dc_ohm"]) + p.get("coil_henry", 0) * s,
    "dynamic-driver": dynamic_driver,
    "armature-driver": armature_driver,
    "piezo-driver": piezo_driver,
}


def admittance_matrices(circuit, f):
    """Node admittances, one matrix a frequency, the reference node left out; and node -> row."""
    names = {n for p in circuit["part"] for n in p["nodes"]} - {circuit["reference"]}
    rows = {name: i for i, name in enumerate(sorted(names))}
    matrices = numpy.zeros((len(f), len(rows), len(rows)), complex)
    s = 2j * math.pi * f
    for part in circuit["part"]:
        y = 1 / IMPEDANCES[part["kind"]](part, f, s)
        ends = [rows.get(n) for n in part["nodes"]]
        for i, a in enumerate(ends):
            for j, b in enumerate(ends):
                if a is not None and b is not None:
                    matrices[:, a, b] += y if i == j else -y
    return matrices, rows


def impedance(circuit, f):
    """Complex impedance in ohm of the first port at the frequencies f (Hz)."""
    matrices, rows = admittance_matrices(circuit, f)
    plus, minus = (rows.get(n) for n in next(iter(circuit["ports"].values())))
    drive = numpy.zeros((len(rows), 1))
    if plus is not None:
        drive[plus] = 1
    if minus is not None:
        drive[minus] = -1
    volts = numpy.linalg.solve(matrices, numpy.broadcast_to(drive, (len(f), len(rows), 1)))
    return (drive.T @ volts)[:, 0, 0]


def read_circuit(path):
    return tomllib.loads(path.read_text(encoding="utf-8"))


def read_table(path):
    """The columns of one of the project's own curve files, as float arrays."""
    lines = path.read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if line and not line.startswith("#")]
    return numpy.array([[float(x) for x in row.split(",")] for row in rows[1:]]).T


def number(value):
    """12 significant digits, in the shortest spelling."""
    text = repr(float(f"{value:.12g}"))
    return text.removesuffix(".0")


def demo_grid():
    f = 20 * 1000 ** (numpy.arange(480) / 479)
    return numpy.array([float(number(x)) for x in f])


def curve_path(circuit_path):
    return circuit_path.with_name(circuit_path.name.replace(".circuit.toml", ".csv"))


def write_curve(circuit_path):
    circuit = read_circuit(circuit_path)
    f = demo_grid()
    z = impedance(circuit, f)
    head = [f"# title: {circuit['title']}", "# quantity: impedance", f"# condition: {CONDITION}",
            f"# origin: computed from {circuit_path.name}", "frequency_hz,magnitude_ohm,phase_deg"]
    degrees = numpy.degrees(numpy.angle(z))
    rows = [",".join(map(number, row)) for row in zip(f, abs(z), degrees)]
    curve_path(circuit_path).write_text("\n".join(head + rows) + "\n", encoding="utf-8")


def check_curve(circuit_path):
    """What is wrong with the curve beside a circuit: a list of sentences."""
    f, magnitude, degrees = read_table(curve_path(circuit_path))
    z = impedance(read_circuit(circuit_path), f)
    told = magnitude * numpy.exp(1j * numpy.radians(degrees))
    worst = numpy.max(abs(told - z) / abs(z))
    wrong = []
    if not worst <= 1e-9:
        wrong.append(f"{curve_path(circuit_path).name} differs from its circuit by {worst:.2g}")
    if not numpy.min(z.real) > 0:
        wrong.append(f"{circuit_path.name} is not passive: Re Z reaches {numpy.min(z.real):.3g} ohm")
    return wrong


def compare_program(program, circuit_path):
    """Where the program's impedance of a circuit differs: a list of sentences."""
    command = [program, "solve", str(circuit_path), "--json"]
    run = subprocess.run(command, capture_output=True, text=True)
    if run.returncode != 0:
        return [f"{' '.join(command)} ended with {run.returncode}: {run.stderr}"]
    answer = json.loads(run.stdout)
    f, real, imaginary = (numpy.array(answer[key], float) for key in (
        "frequency_hz", "impedance_real_ohm", "impedance_imag_ohm"))
    grid = 20 * 1000 ** (numpy.arange(480) / 479)
    if f.shape != grid.shape or not numpy.allclose(f, grid, rtol=1e-12, atol=0):
        return [f"{circuit_path.name}: the program's grid is not 480 points from 20 Hz to 20 kHz"]
    z = impedance(read_circuit(circuit_path), f)
    worst = numpy.max(abs(real + 1j * imaginary - z) / abs(z))
    return [] if worst <= 1e-9 else [f"{circuit_path.name}: the program differs by {worst:.2g}"]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    job = parser.add_mutually_exclusive_group(required=True)
    job.add_argument("--check", action="store_true")
    job.add_argument("--write", action="store_true")
    job.add_argument("--against", metavar="PROGRAM")
    parser.add_argument("folder", nargs="?", type=Path, default=DEMO_FOLDER)
    options = parser.parse_args()
    circuits = sorted(options.folder.glob("*.circuit.toml"))
    if not circuits:
        sys.exit(f"no *.circuit.toml in {options.folder}")
    if options.write:
        for path in circuits:
            write_curve(path)
    if options.against:
        wrong = [s for path in circuits for s in compare_program(options.against, path)]
    else:
        wrong = [s for path in circuits for s in check_curve(path)]
    print("\n".join(wrong) or f"{len(circuits)} circuits agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
