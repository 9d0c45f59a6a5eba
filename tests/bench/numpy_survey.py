#!/usr/bin/env python3
"""1,000 curves of 480 points against 100 sources in NumPy: what bench_survey does, as one would
write it. Span, largest rise and level change of every pair; the largest source within 1 dB of every
curve by bisection.
"""
import time

import numpy as np

CURVES, SOURCES, POINTS = 1000, 100, 480


def curves(hz):
    dc, peak, q, place = np.random.default_rng(1).uniform(size=(4, CURVES, 1))
    hz0 = 100 * 100**place
    return 4 + 30 * dc + 40 * peak / (1 + 1j * (1 + 3 * q) * (hz / hz0 - hz0 / hz))


def matrix(z, anchor, ohms):
    span, rise, level = (np.empty((CURVES, SOURCES)) for _ in range(3))
    for i, ohm in enumerate(ohms):
        change = 20 * np.log10(np.abs(z / (z + ohm)))
        level[:, i] = change[:, anchor]
        span[:, i] = np.ptp(change, axis=1)
        rise[:, i] = change.max(axis=1) - level[:, i]
    return span, rise, level


def largest(z, limit=1.0):
    low, high = np.zeros((CURVES, 1)), np.full((CURVES, 1), 1e6)
    for _ in range(50):
        middle = (low + high) / 2
        over = np.ptp(20 * np.log10(np.abs(z / (z + middle))), axis=1, keepdims=True) > limit
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return low


def main():
    hz = np.geomspace(20, 20000, POINTS)
    z = curves(hz)
    anchor = int(np.argmin(np.abs(hz - 1000)))
    start = time.perf_counter()
    matrix(z, anchor, 1.2 * np.arange(1, SOURCES + 1))
    spans = time.perf_counter()
    largest(z)
    end = time.perf_counter()
    print(f"NumPy: matrix {1e3 * (spans - start):.0f} ms, largest sources {1e3 * (end - spans):.0f} ms")


if __name__ == "__main__":
    main()
