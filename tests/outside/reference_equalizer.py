#!/usr/bin/env python3
"""The equalize command against NumPy and SciPy: runs PROGRAM on the demo earphones and checks

  filters   the sum of scipy.signal.freqz of the reported coefficients is correction_db, and with
            lead_level_db neither all of them nor the first of them, however many, exceed 0 dB from 0
            to half the sample rate
  fir       the taps of the WAV file (scipy.io.wavfile), by NumPy's FFT, undo the deviation that the
            CSV holds to the residual that the JSON states, and never exceed 0 dB; minimum phase has
            its zeros' energy first: no other phase has more energy in the first samples (checked
            against the linear-phase filter of the same magnitude)

  reference_equalizer.py --against PROGRAM    exit 1 if anything differs
"""
import argparse
import csv
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
from scipy.io import wavfile
from scipy.signal import freqz

from reference_circuit import DEMO_FOLDER

RATE = 48000
TAPS = 4095


def answer(program, curve, folder, phase):
    wav, table = Path(folder) / f"{phase}.wav", Path(folder) / f"{phase}.csv"
    command = [program, "equalize", str(curve), "--to", "6", "--filters", "5", "--json", "--fir",
               str(wav), "--taps", str(TAPS), "--fir-phase", phase, "--csv", str(table)]
    run = subprocess.run(command, capture_output=True, text=True)
    if run.returncode != 0:
        sys.exit(f"{' '.join(command)}\nended with {run.returncode}: {run.stderr}")
    with open(table, encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    columns = {name: numpy.array([float(row[name]) for row in rows]) for name in rows[0]}
    return json.loads(run.stdout), columns, wav


def filters_db(told, hz, count=None):
    """Sum of the filters, or of the first of them, in dB by their coefficients."""
    total = numpy.zeros(len(hz))
    for one in told["filters"][:count]:
        total += 20 * numpy.log10(abs(freqz(one["b"], one["a"], hz, fs=RATE)[1]))
    return total


def less_mean(hz, db):
    x = numpy.log(hz)
    return db - numpy.trapz(db, x) / (x[-1] - x[0])


def check_filters(told, columns, name):
    hz = columns["frequency_hz"]
    everywhere = numpy.concatenate([[0.0], numpy.geomspace(0.1, RATE / 2, 20000)])
    wrong = []
    if numpy.max(abs(filters_db(told, hz) - columns["correction_db"])) > 1e-8:
        wrong.append(f"{name}: correction_db is not what the coefficients do")
    for count in range(len(told["filters"]) + 1):
        if numpy.max(filters_db(told, everywhere, count)) + told["lead_level_db"] > 1e-8:
            wrong.append(f"{name}: the first {count} filters exceed full scale")
    span = numpy.ptp(columns["deviation_db"] + filters_db(told, hz))
    if abs(span - told["residual_span_db"]) > 1e-8:
        wrong.append(f"{name}: residual_span_db is {told['residual_span_db']}, not {span}")
    return wrong


def read_taps(wav):
    rate, taps = wavfile.read(wav)
    return rate, numpy.asarray(taps, dtype=float)


def fft_db(taps, hz, size=1 << 20):
    """Response by a long FFT, straight between its 0.05 Hz bins."""
    spectrum = 20 * numpy.log10(abs(numpy.fft.rfft(taps, size)))
    return numpy.interp(hz, numpy.arange(size // 2 + 1) * RATE / size, spectrum), spectrum


def check_fir(told, columns, wav, name):
    hz = columns["frequency_hz"]
    rate, taps = read_taps(wav)
    wrong = []
    if rate != RATE or taps.shape != (TAPS,):
        return [f"{name}: {rate} Hz, {taps.shape} taps"]
    found, spectrum = fft_db(taps, hz)
    if numpy.max(spectrum) > 1e-5:  # 32-bit samples
        wrong.append(f"{name}: the FIR exceeds full scale by {numpy.max(spectrum)} dB")
    left = less_mean(hz, columns["deviation_db"] + found)
    if numpy.max(abs(left - columns["fir_residual_db"])) > 1e-4:
        wrong.append(f"{name}: fir_residual_db is not what an FFT of the taps leaves")
    if numpy.ptp(left) > 0.1:
        wrong.append(f"{name}: the FIR leaves {numpy.ptp(left)} dB")
    return wrong


def check_phases(minimum, linear, name):
    """Of all filters of one magnitude the minimum-phase one has most energy in its first samples."""
    first = numpy.cumsum(read_taps(minimum)[1] ** 2)
    second = numpy.cumsum(read_taps(linear)[1] ** 2)
    early = first[:64] > second[:64] - 1e-6
    symmetric = numpy.array_equal(read_taps(linear)[1], read_taps(linear)[1][::-1])
    wrong = [] if early.all() else [f"{name}: minimum phase is not the earliest"]
    return wrong if symmetric else wrong + [f"{name}: linear phase is not symmetric"]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--against", metavar="PROGRAM", required=True)
    program = parser.parse_args().against
    curves = sorted(DEMO_FOLDER.glob("*.circuit.toml"))
    wrong = [] if curves else [f"no demo earphones in {DEMO_FOLDER}"]
    for circuit in curves:
        curve = circuit.with_name(circuit.name.replace(".circuit.toml", ".csv"))
        with tempfile.TemporaryDirectory() as folder:
            wavs = {}
            for phase in ("minimum", "linear"):
                told, columns, wavs[phase] = answer(program, curve, folder, phase)
                wrong += check_fir(told, columns, wavs[phase], f"{curve.name}/{phase}")
            wrong += check_filters(told, columns, curve.name)
            wrong += check_phases(wavs["minimum"], wavs["linear"], curve.name)
    print("\n".join(wrong) or f"{len(curves)} earphones agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
