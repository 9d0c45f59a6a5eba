#!/usr/bin/env python3
"""Step and burst responses and modes of `ohmtilt damping`, against SciPy.

Circuits of R, L and C are written as polynomials by hand here; scipy.signal answers for them. The
program gets the same circuits as files.

  reference_damping.py --against PROGRAM      1e-6 of 1 V, 1e-9 relative for modes
"""
import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
from numpy.polynomial import polynomial
from scipy import signal

SOURCES = (0.3, 6.0, 47.0)


class Ratio:
    """num/den in rising powers of s."""

    def __init__(self, num, den=(1.0,)):
        self.num, self.den = numpy.atleast_1d(num), numpy.atleast_1d(den)

    def __add__(self, other):
        return Ratio(polynomial.polyadd(polynomial.polymul(self.num, other.den),
                                        polynomial.polymul(other.num, self.den)),
                     polynomial.polymul(self.den, other.den))

    def inverse(self):
        return Ratio(self.den, self.num)

    def beside(self, other):
        return (self.inverse() + other.inverse()).inverse()


def coil(henry):
    return Ratio([0, henry])


def store(farad):
    return Ratio([1.0], [0, farad])


def ohm(value):
    return Ratio([value])


def part(name, kind, a, b, **values):
    lines = ["[[part]]", f'name = "{name}"', f'kind = "{kind}"', f'nodes = ["{a}", "{b}"]']
    return "\n".join(lines + [f"{key} = {value!r}" for key, value in values.items()]) + "\n"


HEAD = 'title = "reference"\nreference = "0"\n[ports]\nterminals = ["in", "0"]\n'


def driver():
    """A moving coil with its inductance: Re, Le and Res beside Lces beside Cmes (invented)."""
    text = (HEAD + part("Re", "resistor", "in", "a", ohm=16.5)
            + part("Le", "inductor", "a", "b", henry=4.5e-5)
            + part("Res", "resistor", "b", "0", ohm=6.0)
            + part("Lces", "inductor", "b", "0", henry=1.3e-3)
            + part("Cmes", "capacitor", "b", "0", farad=9e-5))
    tank = ohm(6.0).beside(coil(1.3e-3)).beside(store(9e-5))
    return text, ohm(16.5) + coil(4.5e-5) + tank


def two_ways():
    """Two resonances, one behind a capacitor (invented)."""
    text = (HEAD + part("R1", "resistor", "in", "a", ohm=12.0)
            + part("R2", "resistor", "a", "0", ohm=20.0) + part("L2", "inductor", "a", "0", henry=2e-3)
            + part("C2", "capacitor", "a", "0", farad=5e-6)
            + part("C3", "capacitor", "in", "b", farad=2e-6)
            + part("R3", "resistor", "b", "c", ohm=9.0)
            + part("R4", "resistor", "c", "0", ohm=14.0) + part("L4", "inductor", "c", "0", henry=3e-4)
            + part("C4", "capacitor", "c", "0", farad=3e-6))
    low = ohm(12.0) + ohm(20.0).beside(coil(2e-3)).beside(store(5e-6))
    high = store(2e-6) + ohm(9.0) + ohm(14.0).beside(coil(3e-4)).beside(store(3e-6))
    return text, low.beside(high)


def terminal(load, source_ohm):
    """Z/(Z + R) for scipy: falling powers."""
    den = polynomial.polyadd(load.num, source_ohm * load.den)
    return signal.lti(load.num[::-1], den[::-1])


def ask(program, text):
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "reference.circuit.toml"
        file.write_text(text)
        command = [program, "damping", str(file), "--from", str(SOURCES[0]), "--json",
                   "--burst", "1234", "--cycles", "5"]
        for source in SOURCES[1:]:
            command += ["--to", str(source)]
        return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def compare_step(name, answer, load):
    time = numpy.array(answer["step"]["time_ms"]) / 1000
    for source, told in zip(SOURCES, answer["step"]["cases"]):
        _, wanted = signal.step(terminal(load, source), T=time)
        yield f"{name}: step behind {source} ohm", numpy.abs(
            wanted - numpy.array(told["terminal_volt"])).max(), 1e-6


def burst_by_state_space(system, hz, cycles, time):
    """The gated sine comes out of an oscillator, so expm answers exactly at every instant."""
    from scipy.linalg import expm
    space = system.to_ss()
    omega, n = 2 * numpy.pi * hz, space.A.shape[0]
    joint = numpy.zeros((n + 2, n + 2))
    joint[:n, :n], joint[:n, n:n + 1] = space.A, space.B
    joint[n, n + 1], joint[n + 1, n] = omega, -omega
    start, length = numpy.zeros(n + 2), cycles / hz
    start[n + 1] = 1
    end = expm(joint * length) @ start
    end[n:] = 0
    read = numpy.concatenate([space.C[0], [space.D[0, 0], 0]])
    during = [expm(joint * t) @ start if t < length else expm(joint * (t - length)) @ end
              for t in time]
    return numpy.array([read @ x for x in during])


def compare_burst(name, answer, load):
    time = numpy.array(answer["burst"]["time_ms"])[::7] / 1000
    for source, told in zip(SOURCES, answer["burst"]["cases"]):
        wanted = burst_by_state_space(terminal(load, source), 1234, 5, time)
        yield f"{name}: burst behind {source} ohm", numpy.abs(
            wanted - numpy.array(told["terminal_volt"])[::7]).max(), 1e-6


def compare_modes(name, answer, load):
    """Each mode told is a root of the numerator of Z + R (of its poles when open)."""
    for mode in answer["resonances"]:
        for at in mode["at"]:
            if at["q"] is None or at["q"] <= 0.5:
                continue
            num = load.den if at["source_ohm"] is None else polynomial.polyadd(
                load.num, at["source_ohm"] * load.den)
            roots = polynomial.polyroots(num)
            size, q = 2 * numpy.pi * at["hz"], at["q"]
            told = size * (-1 / (2 * q) + 1j * numpy.sqrt(1 - 1 / (4 * q * q)))
            yield f"{name}: mode at {at['hz']:.1f} Hz", numpy.abs(roots - told).min() / size, 1e-9


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--against", metavar="PROGRAM", required=True)
    program = parser.parse_args().against
    wrong, count = [], 0
    for make in (driver, two_ways):
        text, load = make()
        answer = ask(program, text)
        for compare in (compare_step, compare_burst, compare_modes):
            for what, off, limit in compare(make.__name__, answer, load):
                count += 1
                if not off <= limit:
                    wrong.append(f"{what}: off by {off:.3g}, more than {limit}")
    print("\n".join(wrong) or f"{count} comparisons agree")
    sys.exit(1 if wrong or count < 18 else 0)


if __name__ == "__main__":
    main()
