#!/usr/bin/env python3
"""An impedance from a recording of 60 s, 192 kHz, two channels, 16 bits, by sweep: the program
against the same deconvolution by SciPy, each as a process of its own.

  scipy_acquire.py PROGRAM    PROGRAM is ohmtilt; states wall and processor seconds and the peak of
                              memory of both; exit 1 when the impedances differ by more than 0.5 %

SciPy's side: both files read whole, brought to 48 kHz by resample_poly, one transform each; the
correlation with the sweep, made white, gated to 0.7 s; the ratio of the channels, and the mean of
it over a 48th of an octave. It states no uncertainty and looks for no hum, clipping or drift.
"""
import json
import os
import subprocess
import sys
import tempfile
import time

import numpy
import scipy.fft
import scipy.io.wavfile
import scipy.signal

RATE, REFERENCE_OHM = 192000, 22.0


def impedance(f):
    f = numpy.maximum(f, 1e-3)
    return 6.5 + 25 / (1 + 2.5j * (f / 220 - 220 / f)) + 40 / (1 + 6j * (f / 2600 - 2600 / f))


def make_recording(program, folder):
    sweep = f"{folder}/sweep.wav"
    subprocess.run([program, "acquire", "stimulus", "--seconds", "55", "--sample-rate", str(RATE),
                    "--level-dbfs", "-10", "--write", sweep], check=True, capture_output=True)
    played = scipy.io.wavfile.read(sweep)[1] / 2.0**31
    first = numpy.zeros(60 * RATE)
    first[1000 : 1000 + played.size] = played[: first.size - 1000]
    n = scipy.fft.next_fast_len(first.size, real=True)
    z = impedance(scipy.fft.rfftfreq(n, 1 / RATE))
    second = scipy.fft.irfft(scipy.fft.rfft(first, n) * z / (z + REFERENCE_OHM), n)[: first.size]
    chance = numpy.random.default_rng(1)
    pair = numpy.stack([first, second], axis=1) + 1e-5 * chance.standard_normal((first.size, 2))
    scipy.io.wavfile.write(f"{folder}/take.wav", RATE, numpy.round(pair * 32767).astype(numpy.int16))


def by_scipy(folder):
    """Frequencies and |Z|; runs in a process of its own."""
    rate = RATE // 4
    sweep = scipy.signal.resample_poly(scipy.io.wavfile.read(f"{folder}/sweep.wav")[1] / 2.0**31, 1, 4)
    take = scipy.io.wavfile.read(f"{folder}/take.wav")[1].T / 32768.0
    n = scipy.fft.next_fast_len(60 * rate + sweep.size, real=True)
    played = numpy.conj(scipy.fft.rfft(sweep, n)) * numpy.arange(n // 2 + 1)
    before, after = int(0.2 * rate), int(0.5 * rate)
    spectra = []
    for channel in take:
        lags = scipy.fft.irfft(scipy.fft.rfft(scipy.signal.resample_poly(channel, 1, 4), n) * played, n)
        gated = numpy.concatenate([lags[-before:], lags[:after]])
        gated *= scipy.signal.windows.tukey(gated.size, 0.5)
        spectra.append(scipy.fft.rfft(gated, 1 << 17))
    f = numpy.geomspace(20, 20000, 479)
    bin_hz = rate / (1 << 17)
    z = []
    for hz in f:
        half = max(hz * (2 ** (1 / 96) - 1), 3 * bin_hz)
        at = slice(int(round((hz - half) / bin_hz)), int(round((hz + half) / bin_hz)) + 1)
        h = numpy.vdot(spectra[0][at], spectra[1][at]) / numpy.vdot(spectra[0][at], spectra[0][at])
        z.append(abs(REFERENCE_OHM * h / (1 - h)))
    return {"frequency_hz": list(f), "magnitude_ohm": z}


def measured(command):
    """Standard output, wall seconds, processor seconds and megabytes of a child."""
    start = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    out = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.monotonic() - start
    if status != 0:
        sys.exit(f"{command[0]} failed")
    return json.loads(out), wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main():
    if len(sys.argv) == 3 and sys.argv[1] == "--scipy":
        return print(json.dumps(by_scipy(sys.argv[2])))
    if len(sys.argv) == 4 and sys.argv[1] == "--make":
        return make_recording(*sys.argv[2:])
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    program = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        # Apart, because a child's peak of memory counts from that of its parent.
        subprocess.run([sys.executable, __file__, "--make", program, folder], check=True)
        ours, *our_cost = measured([program, "acquire", "impedance", f"{folder}/take.wav", "--stimulus",
                                    f"{folder}/sweep.wav", "--reference", str(REFERENCE_OHM), "--json"])
        theirs, *their_cost = measured([sys.executable, __file__, "--scipy", folder])
    for name, (wall, processor, megabytes) in (("ohmtilt", our_cost), ("scipy", their_cost)):
        print(f"{name}: {wall:.2f} s, {processor:.2f} processor seconds, {megabytes:.0f} MB")
    f = numpy.array(ours["frequency_hz"])
    truth = abs(impedance(f))
    for name, z in (("ohmtilt", numpy.hypot(ours["real_ohm"], ours["imag_ohm"])),
                    ("scipy", numpy.array(theirs["magnitude_ohm"]))):
        error = 100 * numpy.max(abs(z / truth - 1))
        print(f"{name}: |Z| within {error:.3f} % of the circuit")
        if not error < 0.5:
            sys.exit(f"{name} is off by {error:.2f} %")


if __name__ == "__main__":
    main()
