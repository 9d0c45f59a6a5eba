#!/usr/bin/env python3
"""How often what `deviation` states as 95 % holds, and how wide it is, over invented earphones.

  coverage.py PROGRAM [--curves N] [--seed S] [--to OHM] [--only TEXT] [--unlike]

With --unlike earphones of another structure, on other frequencies (unlike_earphones.py), which nothing was
tuned on.

For each cell (where it was measured, noise, digits, phase) the share of frequencies whose true
deviation lies between lower_95_db and upper_95_db, the share of curves that lie within whole_95_db of
deviation_db throughout, and three widths in dB: the median and the mean of whole_95_db, and the error that
95 % of the curves stay within; "over" is the mean over that. One half width for all curves of a cell that
holds 95 % of them can be no smaller than the last: "over" below 2 keeps within twice of it in the mean. A
cell of 100 curves takes about 5 s on one core."""
import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy

sys.path.insert(0, str(Path(__file__).resolve().parent))
import invented_earphones as invented
import unlike_earphones as unlike

CELLS = [("480", 0.0, None), ("480", 0.003, None), ("480", 0.01, None), ("480", 0.0, 3), ("120", 0.0, None),
         ("120", 0.003, None), ("120", 0.01, None), ("31", 0.0, None), ("31", 0.003, None), ("31", 0.01, None),
         ("20", 0.0, None), ("20", 0.01, None), ("irregular 40", 0.0, None), ("irregular 40", 0.01, None),
         ("irregular 20", 0.0, None), ("irregular 20", 0.01, None), ("hole", 0.0, None), ("hole", 0.003, None)]
UNLIKE = [("thirds", 0.0, None), ("thirds", 0.005, None), ("thirds", 0.0, 3), ("sixths", 0.0, None), ("sixths", 0.005, None),
          ("linear", 0.0, None), ("linear", 0.005, None), ("wide", 0.0, None), ("wide", 0.002, 4), ("narrow", 0.0, None),
          ("narrow", 0.01, None), ("jittered", 0.0, None), ("jittered", 0.005, 3), ("picked", 0.0, None), ("picked", 0.005, 3)]
UNLIKE_GRAPHS = ["sixths", "picked"]
GRAPHS = ["120", "31", "irregular 40"]  # read off a picture
ROUNDING_DB = 1e-6  # of the curves' own digits


def stated(program, folder, rows, to_ohm):
    file = Path(folder) / "curve.csv"
    file.write_text(invented.text_of(rows))
    ran = subprocess.run([program, "deviation", str(file), "--from", "0", "--to", str(to_ohm), "--points", "240",
                          "--json"], capture_output=True, text=True, check=True)
    answer = json.loads(ran.stdout)
    case = answer["cases"][0]
    return [numpy.array(answer["frequency_hz"])] + [
        numpy.array(case[key]) for key in ("deviation_db", "lower_95_db", "upper_95_db")] + [case["whole_95_db"]]


def try_cell(program, folder, seed, curves, to_ohm, where, noise, digits, phase, graph=False, of=invented):
    """Per curve: share of frequencies within, whether all are, half width, largest error."""
    random = numpy.random.default_rng(seed)
    found = []
    for _ in range(curves):
        _, impedance = of.earphone(random)
        rows = of.measured(random, impedance, where, noise, digits, phase, graph)
        hz, centre, lower, upper, whole = stated(program, folder, rows, to_ohm)
        truth = invented.deviation_db(impedance, hz, 0.0, to_ohm)
        inside = (truth >= lower - ROUNDING_DB) & (truth <= upper + ROUNDING_DB)
        error = abs(truth - centre).max()
        found.append((inside.mean(), error <= whole + ROUNDING_DB, whole, error))
    return numpy.array(found, float)


def show(cell, found):
    where, noise, digits, phase, graph = cell
    points, whole, width, error = found.T
    errors = numpy.quantile(error, 0.95)
    kind = "graph" if graph else ("yes" if phase else "no")
    print(f"{where:13s} {100 * noise:4.1f} %  {digits or '-':>5}  {kind:>5} |   {100 * points.mean():6.1f} %"
          f"  {100 * whole.mean():5.0f} % | {numpy.median(width):6.3f}  {numpy.mean(width):6.3f}"
          f"  {errors:14.3f}  {numpy.mean(width) / errors:4.1f}", flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("program")
    parser.add_argument("--curves", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--to", type=float, default=6.0)
    parser.add_argument("--only", default="", help="cells whose points are so called")
    parser.add_argument("--unlike", action="store_true", help="the other generator")
    args = parser.parse_args()
    of, measured, graphs = (unlike, UNLIKE, UNLIKE_GRAPHS) if args.unlike else (invented, CELLS, GRAPHS)
    print("points        noise  digits phase | frequencies  curves | median    mean  95 % of errors  over")
    with tempfile.TemporaryDirectory() as folder:
        cells = [(*cell, phase, False) for phase in (False, True) for cell in measured]
        cells += [(where, 0.0, None, False, True) for where in graphs]
        for cell in cells:
            if args.only and cell[0] != args.only:
                continue
            show(cell, try_cell(args.program, folder, args.seed, args.curves, args.to, *cell, of=of))


if __name__ == "__main__":
    main()
