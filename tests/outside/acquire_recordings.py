#!/usr/bin/env python3
"""Two-channel recordings of a known circuit, made with NumPy and SciPy alone.

The circuit is an invented armature pair behind a 22 ohm reference and a 2 ohm amplifier:
Z = 6.5 + 0.004 sqrt(j w) + 25/(1 + j 2.5 (f/220 - 220/f)) + 40/(1 + j 6 (f/2600 - 2600/f)).
What a sound card adds: noise, a gain mismatch of 0.3 dB, 0.3 samples of delay, 1 % second
harmonic in the second channel, mains hum, 16-bit quantisation.

usage: acquire_recordings.py FOLDER KIND SEEDS [SECONDS] [RATE]
KIND is sweep, noise (all lines of a period) or odd (odd lines, some left out); SEEDS is FIRST-LAST,
and what the seeds share (circuit, latency) is worked out once. Writes stimulus.wav, truth.csv, and for every seed
measured-N.wav and same-N.wav (both channels on the same signal) into FOLDER.
"""
import sys

import numpy as np
import scipy.fft
import scipy.io.wavfile

REFERENCE_OHM = 22.0
AMPLIFIER_OHM = 2.0


def impedance(hz):
    f = np.maximum(hz, 1e-3)
    z = 6.5 + 0.004 * np.sqrt(2j * np.pi * f)
    z = z + 25 / (1 + 2.5j * (f / 220 - 220 / f))
    return z + 40 / (1 + 6j * (f / 2600 - 2600 / f))


def sweep(rate, seconds):
    low, high = 12.0, min(22500.0, 0.47 * rate)
    t = np.arange(int(seconds * rate)) / rate
    scale = seconds / np.log(high / low)
    x = np.sin(2 * np.pi * low * scale * (np.exp(t / scale) - 1))
    rise, fall = int(scale * np.log(18 / low) * rate), int(scale * np.log(high / 20500) * rate)
    x[:rise] *= np.sin(np.linspace(0, np.pi / 2, rise)) ** 2
    x[-fall:] *= np.cos(np.linspace(0, np.pi / 2, fall)) ** 2
    return np.concatenate([np.zeros(rate // 4), x, np.zeros(int(2.6 * rate))])


def repeated(rate, seconds, lines):
    """Pink noise on these lines of a period of 65536, with random phase."""
    period = 1 << 16
    hz = lines * rate / period
    chosen = lines[(hz >= 10) & (hz <= 22000)]
    spectrum = np.zeros(period // 2 + 1, complex)
    phase = np.random.default_rng(1).uniform(0, 2 * np.pi, chosen.size)
    spectrum[chosen] = np.exp(1j * phase) / np.sqrt(chosen)
    x = np.tile(scipy.fft.irfft(spectrum, period), int(np.ceil(seconds * rate / period)))
    return x / np.max(np.abs(x))


def periodic_noise(rate, seconds):
    return repeated(rate, seconds, np.arange(1, 1 << 15))


def random_odd(rate, seconds):
    """Odd lines, of every four neighbours one left out."""
    odd = np.arange(1, 1 << 15, 2).reshape(-1, 4)
    left_out = np.random.default_rng(2).integers(0, 4, odd.shape[0])
    return repeated(rate, seconds, odd[np.arange(4) != left_out[:, None]])


SOUNDS = {"sweep": sweep, "noise": periodic_noise, "odd": random_odd}


def through(x, rate, response):
    n = scipy.fft.next_fast_len(x.size + 2 * rate, real=True)
    hz = scipy.fft.rfftfreq(n, 1 / rate)
    return scipy.fft.irfft(scipy.fft.rfft(x, n) * response(hz), n)[: x.size + rate // 2]


def with_second_harmonic(x, share):
    """Squared at twice the rate, so that nothing folds back; coupled by a capacitor at 3 Hz."""
    n = scipy.fft.next_fast_len(x.size, real=True)
    twice = scipy.fft.irfft(scipy.fft.rfft(x, n), 2 * n) * 2
    squared = scipy.fft.rfft(2 * share * twice**2 / np.max(np.abs(twice)))[: n // 2 + 1] / 2
    hz = np.arange(n // 2 + 1)
    return x + scipy.fft.irfft(squared * hz / (hz + 3j * n / 48000), n)[: x.size]


def heard(x, rate, share, latency):
    """Both channels before noise; share is what the second one sees of the first."""

    def coupled(hz):  # the card's own coupling capacitor at 3 Hz
        return np.exp(-2j * np.pi * hz * latency) * hz / (hz + 3j)

    def pair(hz):
        z = impedance(hz)
        return (z + REFERENCE_OHM) / (z + REFERENCE_OHM + AMPLIFIER_OHM)

    first = through(x, rate, lambda hz: coupled(hz) * pair(hz))
    late = 0.3 / rate
    second = through(
        x, rate, lambda hz: coupled(hz) * pair(hz) * share(hz) * np.exp(-2j * np.pi * hz * late)
    )
    return 0.5 * first, 0.5 * with_second_harmonic(second * 10 ** (0.3 / 20), 0.01)


def recorded(pair, rate, chance):
    """One recording: the channels with noise and hum of their own, in 16 bits."""
    turn = 2j * np.pi / rate * np.arange(pair[0].size)
    lines = [(10 ** (level / 20), np.exp(hz * turn)) for hz, level in ((50.02, -70), (150.06, -78))]
    channels = []
    for signal, hum in zip(pair, (1.0, 1.6)):
        y = signal + 10 ** (-90 / 20) * chance.standard_normal(signal.size)
        for size, wave in lines:
            y += np.imag(hum * size * np.exp(1j * chance.uniform(0, 2 * np.pi)) * wave)
        channels.append(np.clip(np.round(y * 32767), -32768, 32767).astype(np.int16))
    return np.stack(channels, axis=1)


def main():
    folder, kind = sys.argv[1], sys.argv[2]
    first, last = (int(s) for s in sys.argv[3].split("-"))
    seconds = float(sys.argv[4]) if len(sys.argv) > 4 else 5.0
    rate = int(sys.argv[5]) if len(sys.argv) > 5 else 48000
    x = SOUNDS[kind](rate, seconds)
    scipy.io.wavfile.write(f"{folder}/stimulus.wav", rate, np.round(x * 0.9 * 32767).astype(np.int16))
    hz = np.geomspace(20, 20000, round(np.log2(1000) * 48) + 1)
    z = impedance(hz)
    np.savetxt(
        f"{folder}/truth.csv",
        np.column_stack([hz, z.real, z.imag]),
        delimiter=",",
        header="frequency_hz,real_ohm,imag_ohm",
        comments="",
        fmt="%.15g",
    )
    latency = 0.0917 + 1e-3 * np.random.default_rng([first, 2]).uniform()
    load = heard(x, rate, lambda f: impedance(f) / (impedance(f) + REFERENCE_OHM), latency)
    same = heard(x, rate, lambda f: np.ones_like(f), latency)
    for seed in range(first, last + 1):
        chance = np.random.default_rng([seed, 1])
        for name, pair in (("measured", load), ("same", same)):
            file = f"{folder}/{name}-{seed}.wav"
            scipy.io.wavfile.write(file, rate, recorded(pair, rate, chance))


if __name__ == "__main__":
    main()
