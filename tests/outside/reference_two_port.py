#!/usr/bin/env python3
"""Two-ports by matrix algebra in NumPy: an outside check of Touchstone two-ports as stages.

Random two-ports (passive ones, and amplifiers) are made as Z matrices. They are written in S, Y and
Z, as RI, MA and DB, in version 1 (normalised, data in the order 11 21 12 22) and 2.0 (two
references, every order and matrix format), by formulas of matrices that share nothing with the
program: S = F (Z - G)(Z + G)^-1 F^-1 with F = diag(1/(2 sqrt R)), G = diag(R) (Kurokawa 1965;
formula from memory). Behind a source of Rs ohm the output impedance is Z22 - Z12 Z21/(Z11 + Rs) and
the open ratio Z21/(Z11 + Rs). `solve` of the chain gives both: within 1e-9 of the value. What the
program writes itself (`--write x.s2p`) of pads, networks, cables and chains gives the same
deviation as the original, within 1e-9 dB.

  reference_two_port.py --against PROGRAM   exit 1 if not equal
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy

from reference_circuit import DEMO_FOLDER

SEED, TRIALS, POINTS = 11, 24, 9
rng = numpy.random.default_rng(SEED)
DIGITS = 17


def random_z():
    """Z of a passive two-port (a positive real part made of one random factor), or of an amplifier."""
    factor = rng.normal(size=(POINTS, 2, 2)) * 10 ** rng.uniform(0, 1.5)
    reactance = rng.normal(size=(POINTS, 2, 2)) * 20
    z = factor @ factor.transpose(0, 2, 1) + 0.1 * numpy.eye(2) + 1j * (reactance + reactance.transpose(0, 2, 1))
    if rng.random() < 0.3:
        z[:, 0, 1] *= 0.01
    return z


def scattering(z, r):
    f, g = numpy.diag(1 / (2 * numpy.sqrt(r))), numpy.diag(r)
    return f @ (z - g) @ numpy.linalg.inv(z + g) @ numpy.linalg.inv(f)


def pair(value, form):
    if form == "RI":
        two = value.real, value.imag
    else:
        size = abs(value) if form == "MA" else 20 * numpy.log10(abs(value))
        two = size, numpy.degrees(numpy.angle(value))
    return " ".join(f"{x:.{DIGITS}g}" for x in two)


def touchstone(hz, z, version, parameter, form, r, order):
    matrix = {"S": scattering(z, r), "Z": z, "Y": numpy.linalg.inv(z)}[parameter]
    norm = 1.0
    if version == 1 and parameter != "S":
        norm = 1 / r[0] if parameter == "Z" else r[0]
    places = {"21_12": [(0, 0), (1, 0), (0, 1), (1, 1)], "12_21": [(0, 0), (0, 1), (1, 0), (1, 1)],
              "Lower": [(0, 0), (1, 0), (1, 1)], "Upper": [(0, 0), (0, 1), (1, 1)]}[order]
    text = "[Version] 2.0\n" if version == 2 else ""
    text += f"# kHz {parameter} {form} R {r[0]:.{DIGITS}g}\n"
    if version == 2:
        text += "[Number of Ports] 2\n"
        text += f"[Two-Port Data Order] {order if '_' in order else '12_21'}\n"
        text += f"[Number of Frequencies] {len(hz)}\n[Reference] {r[0]:.{DIGITS}g}\n{r[1]:.{DIGITS}g}\n"
        text += f"[Matrix Format] {'Full' if '_' in order else order}\n[Network Data]\n"
    for f, m in zip(hz, matrix):
        text += f"{f / 1000:.{DIGITS}g} " + "  ".join(pair(m[p] * norm, form) for p in places) + "\n"
    return text + ("[End]\n" if version == 2 else "")


def run(program, *words):
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"{' '.join(map(str, words))}: {done.stderr}")
    return done.stdout


def read_stages(program, folder):
    hz = numpy.geomspace(20, 20000, POINTS)
    worst = 0.0
    for trial in range(TRIALS):
        version = 1 + trial % 2
        parameter, form = "SYZ"[trial % 3], ["RI", "MA", "DB"][(trial // 3) % 3]
        z = random_z()
        symmetric = numpy.allclose(z[:, 0, 1], z[:, 1, 0])
        orders = ["21_12"] if version == 1 else ["21_12", "12_21"] + (["Lower", "Upper"] if symmetric else [])
        order = orders[(trial // 2) % len(orders)]
        r = 10 ** rng.uniform(0, 2, 2)
        if version == 1:
            r[1] = r[0]
        (folder / "x.s2p").write_text(touchstone(hz, z, version, parameter, form, r, order))
        source, port = 10 ** rng.uniform(-1, 2), 1 + int(rng.random() < 0.5)
        (folder / "x.chain.toml").write_text(f"[source]\noutput_ohm = {source!r}\n[[stage]]\nkind = \"two-port\"\n"
                                             f"file = \"x.s2p\"\nsource_port = {port}\n")
        told = json.loads(run(program, "solve", folder / "x.chain.toml", "--points", POINTS, "--json"))
        if port == 2:
            z = z[:, ::-1, ::-1]
        impedance = z[:, 1, 1] - z[:, 0, 1] * z[:, 1, 0] / (z[:, 0, 0] + source)
        ratio = z[:, 1, 0] / (z[:, 0, 0] + source)
        got = numpy.array(told["impedance_real_ohm"]) + 1j * numpy.array(told["impedance_imag_ohm"])
        of = told["transfer"]["earphone"]
        got_ratio = 10 ** (numpy.array(of["magnitude_db"]) / 20) * numpy.exp(1j * numpy.radians(of["phase_deg"]))
        worst = max(worst, abs(got / impedance - 1).max(), abs(got_ratio / ratio - 1).max())
    return worst


CABLE = """[source]
output_ohm = 2
[[stage]]
kind = "series"
ohm = 0.4
henry = 1e-5
[[stage]]
kind = "cable"
conductor_ohm = 0.3
shared_return_ohm = 0.2
henry = 1e-6
farad = 4e-8
[[stage]]
kind = "pad"
topology = "T"
series_ohm = 6.8
shunt_ohm = 12
second_series_ohm = 4.7
[[stage]]
kind = "transformer"
ratio = 1.5
series_ohm = 0.2
"""


def deviation(program, earphone, chain):
    told = json.loads(run(program, "deviation", earphone, "--from", "0.3", "--to", chain, "--json"))
    return numpy.array(told["cases"][0]["deviation_db"])


def write_and_read_back(program, folder):
    earphone = DEMO_FOLDER / "two-way-armature.circuit.toml"
    (folder / "cable.chain.toml").write_text(CABLE)
    run(program, "solve", folder / "cable.chain.toml", "--write", folder / "cable.s2p")
    run(program, "pad", earphone, "--source", "0.3", "--attenuation", "10", "--write", folder / "pad.chain.toml")
    run(program, "pad", earphone, "--source", "0.3", "--attenuation", "10", "--write", folder / "pad.s2p")
    network = ["flatten", earphone, "--source", "10", "--limit-db", "3"]
    run(program, *network, "--write", folder / "net.circuit.toml")
    run(program, *network, "--write", folder / "net.s2p")
    run(program, "solve", folder / "net.circuit.toml", "--write", folder / "solved.s2p")
    head = "[source]\noutput_ohm = 2\n[[stage]]\n"
    (folder / "net.chain.toml").write_text(head + "kind = \"circuit\"\nfile = \"net.circuit.toml\"\n")
    worst = 0.0
    for name, original in (("cable", "cable"), ("pad", "pad"), ("net", "net"), ("solved", "net")):
        ohm = 0.3 if name == "pad" else 2
        chain = folder / f"{name}-again.chain.toml"
        chain.write_text(f"[source]\noutput_ohm = {ohm}\n[[stage]]\nkind = \"two-port\"\nfile = \"{name}.s2p\"\n")
        one, other = (deviation(program, earphone, c) for c in (folder / f"{original}.chain.toml", chain))
        worst = max(worst, abs(one - other).max())
    return worst


def curves(program, folder):
    """An impedance that solve writes is the curve that it reads: |Z| of both to 1e-12."""
    circuit = DEMO_FOLDER / "two-way-armature.circuit.toml"
    told = json.loads(run(program, "solve", circuit, "--json", "--write", folder / "z.s1p"))
    run(program, "solve", circuit, "--write", folder / "z.csv")
    z = numpy.array(told["impedance_real_ohm"]) + 1j * numpy.array(told["impedance_imag_ohm"])
    worst = 0.0
    for file in ("z.s1p", "z.csv"):
        rows = [r.replace(",", " ").split() for r in (folder / file).read_text().splitlines() if r[0].isdigit()]
        table = numpy.array(rows, float)
        got = table[:, 1] * numpy.exp(1j * numpy.radians(table[:, 2]))
        worst = max(worst, abs(got / z - 1).max())
    return worst


def main():
    program = sys.argv[sys.argv.index("--against") + 1]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        read, again, curve = read_stages(program, folder), write_and_read_back(program, folder), curves(program, folder)
    print(f"read stages {read:.2g} relative, written and read back {again:.2g} dB, curves {curve:.2g} relative")
    sys.exit(0 if read < 1e-9 and again < 1e-9 and curve < 1e-12 else 1)


if __name__ == "__main__":
    main()
