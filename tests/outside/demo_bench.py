#!/usr/bin/env python3
"""The invented measurements of impedance-curves/bench: what an owner would bring from the bench.

  recording.wav   two-way-armature behind 22 ohm, 2.9 s of pink noise, both channels as a sound card
                  takes them: channel 1 across reference and earphone, channel 2 across the earphone
  readings.csv    the same pair read with a meter, three voltages at each frequency, to 1 mV
  loads.csv       the output of attenuator-engaged.chain.toml, open and at 32 ohm, to 1 mV

  demo_bench.py --check | --write
The recording is compared to two steps of its 16 bits, as an FFT may differ in its last digits.
"""
import argparse
import sys

import numpy
import scipy.fft
import scipy.io.wavfile

from reference_circuit import DEMO_FOLDER, impedance, number, read_circuit

BENCH = DEMO_FOLDER / "bench"
REFERENCE_OHM = 22.0
RATE = 24000  # to keep the file small; a real one is taken at 44100 or more
FRAMES = 70000


def earphone_ohm(hz):
    return impedance(read_circuit(DEMO_FOLDER / "two-way-armature.circuit.toml"), hz)


def recording():
    hz = scipy.fft.rfftfreq(FRAMES, 1 / RATE)
    size = numpy.where((hz >= 10) & (hz <= 11500), 1 / numpy.sqrt(numpy.maximum(hz, 1)), 0)
    phase = numpy.random.default_rng(7).uniform(0, 2 * numpy.pi, hz.size)
    grid = numpy.geomspace(5, RATE / 2, 4000)
    z = earphone_ohm(grid)
    share_on_grid = z / (z + REFERENCE_OHM)
    share = numpy.interp(hz, grid, share_on_grid.real) + 1j * numpy.interp(hz, grid, share_on_grid.imag)
    spectrum = size * numpy.exp(1j * phase)
    pair = numpy.stack([scipy.fft.irfft(spectrum, FRAMES), scipy.fft.irfft(spectrum * share, FRAMES)])
    return numpy.round(pair.T / numpy.max(numpy.abs(pair)) * 16000).astype(numpy.int16)


def readings_text():
    lines = ["# Invented, see tests/outside/demo_bench.py: two-way-armature behind 22 ohm",
             "frequency_hz,volt_both,volt_reference,volt_load"]
    hz = numpy.array([20, 50, 100, 200, 400, 700, 1000, 1500, 2000, 3000, 4000, 5000, 6000, 7000,
                      8000, 10000, 12000, 15000, 20000], float)
    for f, z in zip(hz, earphone_ohm(hz)):
        ampere = 0.5 / abs(z + REFERENCE_OHM)
        volts = [0.5, ampere * REFERENCE_OHM, ampere * abs(z)]
        lines.append(",".join([number(f)] + [f"{volt:.3f}" for volt in volts]))
    return "\n".join(lines) + "\n"


def loads_text():
    output_ohm = 18.3 * 9.1 / (18.3 + 9.1)
    return ("# Invented, see tests/outside/demo_bench.py: the output with its attenuator on\n"
            "load_ohm,volt\n" f"inf,1.000\n32,{32 / (32 + output_ohm):.3f}\n")


def check_recording(path, samples):
    rate, there = scipy.io.wavfile.read(path)
    same = rate == RATE and there.shape == samples.shape
    return same and numpy.max(numpy.abs(there.astype(int) - samples)) <= 2


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    job = parser.add_mutually_exclusive_group(required=True)
    job.add_argument("--check", action="store_true")
    job.add_argument("--write", action="store_true")
    options = parser.parse_args()
    texts = {"readings.csv": readings_text(), "loads.csv": loads_text()}
    samples = recording()
    if options.write:
        BENCH.mkdir(exist_ok=True)
        scipy.io.wavfile.write(BENCH / "recording.wav", RATE, samples)
        for name, text in texts.items():
            (BENCH / name).write_text(text, encoding="utf-8")
        return
    wrong = [name for name, text in texts.items() if (BENCH / name).read_text(encoding="utf-8") != text]
    if not check_recording(BENCH / "recording.wav", samples):
        wrong.append("recording.wav")
    if wrong:
        sys.exit(f"{', '.join(wrong)}: not what the script gives; run it with --write")
    print("3 files")


if __name__ == "__main__":
    main()
