#!/usr/bin/env python3
"""The deviations of all demo earphones by NumPy and SciPy from the CSV files: an outside check of
the C++ code, which it shares no line with.

How each word is worked out
  grid           480 frequencies equally spaced in ln f, 20 Hz to 20 kHz: the data's own
  Z              the data; between them ln|Z| and unwrapped phase by SciPy's monotone cubic
                 (PchipInterpolator; Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980) over ln f
  D(f)           20 lg |Z/(Z+Zto)| - 20 lg |Z/(Z+Zfrom)|, less the level change
  level change   D at 1000 Hz; or the mean of D over ln f from 300 to 3000 Hz (Simpson's rule, 4001
                 points); or 0
  rms_db         root of the mean of D^2 over ln f, trapezoidal rule on the grid
  erb_span_db    p = 10^(D/10) is taken as straight lines in LINEAR frequency through the grid
                 points. Its integral over f - ERB/2 to f + ERB/2, cut at the grid's ends, is exact
                 (window ends fall between points: linear interpolation of p), and is divided by
                 the width that is left. ERB = 24.7 (4.37 f/1000 + 1) Hz (Glasberg and Moore, Hear.
                 Res. 47, 1990). The span is that of 10 lg of the averages at the grid points.
  bound_db       the largest span that any earphone of at least |Z|min can have between two
                 resistances: 20 lg((m + a)/(m + b)) of a resistor m = |Z|min, or of a reactance of
                 that size 10 lg((m^2 + a^2)/(m^2 + b^2)), the larger, against an open load
  largest source the smallest resistance above the first at which the span exceeds 1 dB: a scan of
                 20001 resistances up to 1e6 ohm, then brentq; null if the span never does

  reference_deviation.py --write              writes tests/data/demo_deviations.json and prints the
                                              table that impedance-curves/README.md must hold
  reference_deviation.py --check              both files against a new run, 1e-9
  reference_deviation.py --against PROGRAM    runs PROGRAM deviation on every curve and compares:
                                              arrays 1e-9 dB, numbers 1e-6 dB; exit 1 if not equal.
                                              The mean over an anchor band depends on the fineness
                                              of its grid, so there the level change and what moves
                                              with it may differ by 1e-5 dB, D itself by 1e-9
"""
import argparse
import json
import math
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import numpy
from scipy.integrate import simpson
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from reference_circuit import DEMO_FOLDER, number, read_table

RESULT_FILE = Path(__file__).resolve().parents[1] / "data" / "demo_deviations.json"
FROM_OHM = 0.3
TO_OHM = (1, 6, 30, 120)
LIMIT_DB = 1.0
ANCHORS = {"1000": 1000.0, "band:300-3000": (300.0, 3000.0), "none": None}
SAMPLES = (0, 96, 192, 288, 384, 479)
FIXED = ("span_db", "erb_span_db", "bound_db")  # the same for every anchor
ANCHORED = ("level_change_db", "rms_db", "rise", "fall")


def change_db(z, to_ohm):
    """Change of the terminal voltage in dB: the two dividers' ratio, Z itself cancels."""
    return 20 * numpy.log10(abs(z + FROM_OHM) / abs(z + to_ohm))


class Curve:
    """An impedance from a CSV file; complex ohm at any frequency within it."""

    def __init__(self, path):
        self.f, magnitude, degrees = read_table(path)
        phase = numpy.unwrap(numpy.radians(degrees))
        self.z = magnitude * numpy.exp(1j * phase)
        self.log_z = PchipInterpolator(numpy.log(self.f), numpy.log(magnitude))
        self.phase = PchipInterpolator(numpy.log(self.f), phase)

    def at(self, f):
        return numpy.exp(self.log_z(numpy.log(f)) + 1j * self.phase(numpy.log(f)))


def level_change_db(curve, to_ohm, anchor):
    if anchor is None:
        return 0.0
    if isinstance(anchor, float):
        return float(change_db(curve.at(anchor), to_ohm))
    ln_f = numpy.linspace(*numpy.log(anchor), 4001)
    d = change_db(curve.at(numpy.exp(ln_f)), to_ohm)
    return float(simpson(d, x=ln_f) / (ln_f[-1] - ln_f[0]))


def erb_averages(f, p):
    """Mean of p over one ERB round each f; p straight between the points (see above)."""
    cells = numpy.diff(f) * (p[1:] + p[:-1]) / 2
    integral_to = numpy.concatenate([[0], numpy.cumsum(cells)])

    def integral(x):
        i = numpy.clip(numpy.searchsorted(f, x, side="right") - 1, 0, len(f) - 2)
        return integral_to[i] + (x - f[i]) * (p[i] + numpy.interp(x, f, p)) / 2

    half = 24.7 * (4.37 * f / 1000 + 1) / 2
    low, high = numpy.maximum(f - half, f[0]), numpy.minimum(f + half, f[-1])
    return (integral(high) - integral(low)) / (high - low)


def bound_db(lowest, to_ohm):
    resistor = 20 * math.log10((lowest + to_ohm) / (lowest + FROM_OHM))
    reactance = 10 * math.log10((lowest**2 + to_ohm**2) / (lowest**2 + FROM_OHM**2))
    return max(abs(resistor), abs(reactance))


def extreme(f, d, index):
    return {"hz": float(f[index]), "db": float(d[index])}


def case(curve, to_ohm, anchor):
    """One deviation: the words of the program's JSON, and the whole curve."""
    f, level = curve.f, level_change_db(curve, to_ohm, anchor)
    d = change_db(curve.z, to_ohm) - level
    ln_f = numpy.log(f)
    smooth = 10 * numpy.log10(erb_averages(f, 10 ** (d / 10)))
    return {
        "to_ohm": to_ohm,
        "level_change_db": level,
        "rise": extreme(f, d, numpy.argmax(d)),
        "fall": extreme(f, d, numpy.argmin(d)),
        "span_db": float(numpy.ptp(d)),
        "rms_db": math.sqrt(numpy.trapz(d**2, ln_f) / (ln_f[-1] - ln_f[0])),
        "erb_span_db": float(numpy.ptp(smooth)),
        "bound_db": bound_db(numpy.min(abs(curve.z)), to_ohm),
        "deviation_db": d,
    }


def largest_source_ohm(curve):
    def excess(to_ohm):
        return float(numpy.ptp(change_db(curve.z, to_ohm))) - LIMIT_DB

    ohms = FROM_OHM + numpy.geomspace(1e-6, 1e6 - FROM_OHM, 20001)
    above = next((i for i, ohm in enumerate(ohms) if excess(ohm) > 0), None)
    if above is None:
        return None
    return brentq(excess, FROM_OHM if above == 0 else ohms[above - 1], ohms[above], rtol=1e-14)


def without_array(one):
    kept = {k: v for k, v in one.items() if k != "deviation_db"}
    kept["sample_db"] = [float(one["deviation_db"][i]) for i in SAMPLES]
    return kept


def rounded(value):
    """The same with 12 significant digits."""
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v) for v in value]
    return float(number(value)) if isinstance(value, float) else value


def earphone_result(path):
    curve = Curve(path)
    return {
        "file": path.name,
        "min_ohm": float(numpy.min(abs(curve.z))),
        "max_ohm": float(numpy.max(abs(curve.z))),
        "largest_source": {"limit_db": LIMIT_DB, "ohm": largest_source_ohm(curve)},
        "anchors": {name: [without_array(case(curve, to, anchor)) for to in TO_OHM]
                    for name, anchor in ANCHORS.items()},
    }


def curve_files():
    files = [c.with_name(c.name.replace(".circuit.toml", ".csv"))
             for c in sorted(DEMO_FOLDER.glob("*.circuit.toml"))]
    return files or sys.exit(f"no demo earphones in {DEMO_FOLDER}")


def all_results():
    return rounded({
        "note": "Deviations of the invented demo earphones, computed with NumPy and SciPy by "
                "tests/outside/reference_deviation.py --write from impedance-curves/*.csv. "
                "sample_db: deviation at the grid points sample_index, counted from 0.",
        "from_ohm": FROM_OHM,
        "sample_index": list(SAMPLES),
        "earphones": [earphone_result(path) for path in curve_files()],
    })


def rounded_down(value):
    """Two significant digits, never more than the value."""
    step = Decimal(1).scaleb(Decimal(value).adjusted() - 1)
    return f"{float((Decimal(value) // step) * step):g}"


def table_row(earphone):
    """One line of the README's table: the spans against FROM_OHM with the anchor at 1000 Hz."""
    spans = " | ".join(f"{one['span_db']:.2f}" for one in earphone["anchors"]["1000"])
    largest = earphone["largest_source"]["ohm"]
    return (f"| `{earphone['file'].removesuffix('.csv')}` | {earphone['min_ohm']:.1f} | "
            f"{earphone['max_ohm']:.1f} | {spans} | "
            f"{'never' if largest is None else f'{rounded_down(largest)} ohm'} |")


def readme_differences(results):
    text = (DEMO_FOLDER / "README.md").read_text(encoding="utf-8")
    rows = map(table_row, results["earphones"])
    return [f"README.md lacks the row {row}" for row in rows if row not in text]


def differences(told, wanted, place="", relative=1e-9):
    """Where two JSON values differ: a list of sentences."""
    if isinstance(wanted, dict) and isinstance(told, dict) and told.keys() == wanted.keys():
        return [s for k in wanted for s in differences(told[k], wanted[k], f"{place}/{k}", relative)]
    if isinstance(wanted, list) and isinstance(told, list) and len(told) == len(wanted):
        return [s for i, w in enumerate(wanted)
                for s in differences(told[i], w, f"{place}/{i}", relative)]
    if isinstance(wanted, float) and isinstance(told, (int, float)):
        close = abs(told - wanted) <= relative * max(1, abs(wanted))
        return [] if close else [f"{place}: {told} instead of {wanted}"]
    return [] if told == wanted else [f"{place}: {told} instead of {wanted}"]


def write_results(results):
    RESULT_FILE.write_text(json.dumps(results, indent=1) + "\n", encoding="utf-8")
    print(*map(table_row, results["earphones"]), sep="\n")


def check_results(results):
    committed = json.loads(RESULT_FILE.read_text(encoding="utf-8"))
    return differences(committed, results) + readme_differences(results)


def program_answer(program, path, anchor_name):
    sources = [word for to in TO_OHM for word in ("--to", str(to))]
    command = [program, "deviation", str(path), "--from", str(FROM_OHM), *sources, "--anchor",
               anchor_name, "--largest-source", str(LIMIT_DB), "--json"]
    run = subprocess.run(command, capture_output=True, text=True)
    if run.returncode != 0:
        sys.exit(f"{' '.join(command)}\nended with {run.returncode}: {run.stderr}")
    return json.loads(run.stdout)


def compare_arrays(told, wanted, place, anchored):
    """The deviation as it is, or with the level change put back where that has its own limit."""
    shifts = (0, 0) if anchored else (told["level_change_db"], wanted["level_change_db"])
    d = [[x + shift for x in one["deviation_db"]] for one, shift in zip((told, wanted), shifts)]
    return differences(*d, f"{place}/deviation_db")


def compare_case(told, wanted, place, is_band):
    wrong = compare_arrays(told, wanted, place, not is_band)
    for word in FIXED:
        wrong += differences(told[word], wanted[word], f"{place}/{word}", 1e-6)
    for word in ANCHORED:
        wrong += differences(told[word], wanted[word], f"{place}/{word}", 1e-5 if is_band else 1e-6)
    return wrong + differences(told["output_ohm"], float(wanted["to_ohm"]), f"{place}/output_ohm")


def compare_answer(answer, curve, place, anchor):
    wrong = differences(answer["frequency_hz"], list(map(float, curve.f)), f"{place}/frequency_hz")
    if len(answer["cases"]) != len(TO_OHM):
        return wrong + [f"{place}: {len(answer['cases'])} cases instead of {len(TO_OHM)}"]
    for told, to in zip(answer["cases"], TO_OHM):
        wrong += compare_case(told, case(curve, to, anchor), f"{place}/to {to} ohm",
                              isinstance(anchor, tuple))
    source = {"limit_db": LIMIT_DB, "ohm": largest_source_ohm(curve)}
    return wrong + differences(answer["largest_source"], source, f"{place}/largest_source", 1e-6)


def compare_program(program):
    wrong = []
    for path in curve_files():
        curve = Curve(path)
        for name, anchor in ANCHORS.items():
            answer = program_answer(program, path, name)
            wrong += compare_answer(answer, curve, f"{path.name}/anchor {name}", anchor)
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    job = parser.add_mutually_exclusive_group(required=True)
    job.add_argument("--write", action="store_true")
    job.add_argument("--check", action="store_true")
    job.add_argument("--against", metavar="PROGRAM")
    options = parser.parse_args()
    if options.write:
        return write_results(all_results())
    wrong = compare_program(options.against) if options.against else check_results(all_results())
    print("\n".join(wrong[:40]) or f"{len(curve_files())} earphones agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
