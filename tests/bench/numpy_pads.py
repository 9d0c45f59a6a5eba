#!/usr/bin/env python3
"""The E96 L pads of bench_pads in NumPy: every combination by itself, then front and tolerance.

Usage: numpy_pads.py [BENCH_PADS [ROUNDS]]. Does the whole job of l_pads_e96: loss at 1 kHz, output
impedance, span and lowest load on 480 points for each of 147,456 combinations, one at a time; the
front of those within 10 +- 0.5 dB; and for each pad on it current, heat, noise and 4000 draws of
both resistors. Given the program, runs it before and after each round and prints the ratio of
times, for the elapsed time and for that of the processors (the program uses all of them).
"""
import json
import math
import pathlib
import subprocess
import sys
import time

import numpy as np

ROOT = pathlib.Path(__file__).resolve().parents[2]
SOURCE, ASKED, WITHIN, POINTS, DRAWS, TOLERANCE = 0.3, 10, 0.5, 480, 4000, 0.01


def curve():
    table = np.genfromtxt(ROOT / "impedance-curves/two-way-armature.csv", delimiter=",",
                          comments="#", skip_header=0)
    table = table[~np.isnan(table[:, 0])]
    return table[:, 0], table[:, 1] * np.exp(1j * np.radians(table[:, 2]))


def impedance(hz):
    known, z = curve()
    at = np.log(hz)
    return np.interp(at, np.log(known), z.real) + 1j * np.interp(at, np.log(known), z.imag)


def e96(decades):
    return [round(100 * 10 ** (i / 96)) / 100 * 10.0**d for d in range(decades) for i in range(96)]


def a_weighting(hz):
    f2 = hz**2
    gain = 12194**2 * f2**2 / ((f2 + 20.6**2) * np.sqrt((f2 + 107.7**2) * (f2 + 737.9**2))
                               * (f2 + 12194**2))
    return gain * 10 ** 0.1


class Site:
    """What does not depend on the pad, once."""

    def __init__(self):
        hz = np.geomspace(20, 20000, POINTS)
        self.z = impedance(hz)
        self.bare = np.abs(self.z + SOURCE)
        self.z_anchor = complex(impedance(np.array([1000.0]))[0])
        self.bare_anchor = abs(self.z_anchor + SOURCE)
        self.a_weight_hertz = np.trapezoid(a_weighting(hz)**2, hz) if hasattr(
            np, "trapezoid") else np.trapz(a_weighting(hz)**2, hz)
        random = np.random.default_rng(1)
        self.draws = random.uniform(-1, 1, (2, DRAWS))

    def loss_power(self, series, shunt):
        """Of numbers or arrays."""
        out = (SOURCE + series) * shunt / (SOURCE + series + shunt)
        return (abs(self.z_anchor + out) / self.bare_anchor * (1 + (SOURCE + series) / shunt))**2

    def evaluate(self, series, shunt):
        out = (SOURCE + series) * shunt / (SOURCE + series + shunt)
        loss_db = 10 * math.log10(self.loss_power(series, shunt))
        level = self.bare / np.abs(self.z + out)
        span_db = 20 * math.log10(level.max() / level.min())
        lowest = np.abs(series + self.z * shunt / (self.z + shunt)).min()
        return abs(loss_db - ASKED), out, span_db, -lowest

    def figures(self, series, shunt):
        """Largest current, heat in both, noise, 95 % of loss and of channel difference."""
        load = self.z * shunt / (self.z + shunt)
        ampere = 1 / np.abs(SOURCE + series + load)
        volt = ampere * np.abs(load)
        out = (SOURCE + series) * shunt / (SOURCE + series + shunt)
        own = out - SOURCE * (shunt / (SOURCE + series + shunt))**2
        noise = math.sqrt(4 * 1.380649e-23 * 293.15 * own * self.a_weight_hertz)
        power = self.loss_power(series * (1 + TOLERANCE * self.draws[0]),
                                shunt * (1 + TOLERANCE * self.draws[1]))
        db = 10 * np.log10(power / self.loss_power(series, shunt))
        half = DRAWS // 2
        return (ampere.max(), (ampere**2).max() * series, (volt**2).max() / shunt, noise,
                np.percentile(np.abs(db), 95), np.percentile(np.abs(db[:half] - db[half:]), 95))


def front(costs):
    """Indices of the rows that no other row dominates."""
    order = np.lexsort(costs.T[::-1])
    kept = np.empty((0, costs.shape[1]))
    indices = []
    for i in order:
        if len(kept) and (kept <= costs[i]).all(axis=1).any() and not (kept == costs[i]).all(
                axis=1).any():
            continue
        kept = np.vstack([kept, costs[i]])
        indices.append(i)
    return indices


def job():
    """Seconds of each part, and how many pads were on the front."""
    marks = [time.perf_counter()]
    site = Site()
    values = e96(4)
    pads = [(series, shunt) for series in values for shunt in values]
    costs = np.array([site.evaluate(*pad) for pad in pads])
    marks.append(time.perf_counter())
    near = np.flatnonzero(costs[:, 0] <= WITHIN)
    best = [near[i] for i in front(costs[near])]
    marks.append(time.perf_counter())
    for i in best:
        site.figures(*pads[i])
    marks.append(time.perf_counter())
    return np.diff(marks), len(best)


def program_milliseconds(bench):
    """Elapsed and processor time of one job, the least of three."""
    text = subprocess.run([bench, "--benchmark_filter=l_pads_e96/", "--benchmark_format=json",
                           "--benchmark_repetitions=3"], check=True, capture_output=True, text=True)
    runs = [run for run in json.loads(text.stdout)["benchmarks"] if run["run_type"] == "iteration"]
    return min(run["real_time"] for run in runs), min(run["cpu_time"] for run in runs)


def main():
    bench = sys.argv[1] if len(sys.argv) > 1 else None
    for _ in range(int(sys.argv[2]) if len(sys.argv) > 2 else 1):
        times = [program_milliseconds(bench)] if bench else []
        processor = time.process_time()
        parts, count = job()
        processor = 1e3 * (time.process_time() - processor)
        elapsed = 1e3 * parts.sum()
        print("NumPy, one core: {:.0f} ms = combinations {:.0f} + front {:.0f} + {} pads' figures "
              "{:.0f}; processor {:.0f} ms".format(elapsed, *(1e3 * parts[:2]), count,
                                                   1e3 * parts[2], processor))
        if not bench:
            continue
        times.append(program_milliseconds(bench))
        ours = [sum(one) / 2 for one in zip(*times)]
        print("bench_pads: {:.1f} ms, processors {:.1f} ms; ratios {:.0f} and {:.0f}".format(
            *ours, elapsed / ours[0], processor / ours[1]))


if __name__ == "__main__":
    main()
