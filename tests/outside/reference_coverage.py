#!/usr/bin/env python3
"""What `deviation` and `inspect` claim, against the truth of invented earphones: a small share of
tests/bench/coverage.py and faults.py.

  reference_coverage.py --against PROGRAM    exit 1 if a claim fails more often than chance allows

Curves are independent, so the number of whole curves within their 95 % is binomial; the bounds below
are passed with probability above 0.999 where 93 % is true."""
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "bench"))
import coverage
import faults
import invented_earphones as invented

import numpy

CURVES, SEED = 24, 20
FAULTY = 12
# scipy.stats.binom.ppf(0.001, 24, 0.93) is 18: of 24 curves at least so many lie within. 93 % is what is
# promised of whole curves.
FEWEST_WHOLE = 18
CELLS = [("480", 0.003, None, False), ("120", 0.0, None, True), ("31", 0.0, None, False),
         ("irregular 20", 0.0, None, True), ("hole", 0.003, None, False)]
FALSE_ALARMS = 2  # of 48 curves with 1 % each: binom.cdf(2, 48, 0.01) is 0.988
FEWEST_FOUND = 8  # of 12 faulty curves where 95 % are found: binom.ppf(0.001, 12, 0.95)


def main():
    program = sys.argv[sys.argv.index("--against") + 1]
    wrong = []
    with tempfile.TemporaryDirectory() as folder:
        for where, noise, digits, phase in CELLS:
            found = coverage.try_cell(program, folder, SEED, CURVES, 6.0, where, noise, digits, phase)
            points, whole = found[:, 0].mean(), int(found[:, 1].sum())
            print(f"{where}, noise {noise}, phase {phase}: {100 * points:.1f} % of frequencies, {whole} of {CURVES} curves")
            # Frequencies of one curve hang together; 87 % allows for some twenty independent ones.
            if whole < FEWEST_WHOLE or points < 0.87:
                wrong.append(where)
        random, false = numpy.random.default_rng(SEED), []
        for _ in range(CURVES):
            _, impedance = invented.earphone(random)
            for where in ("480", "31"):
                rows = invented.measured(random, impedance, where)
                alarms = faults.kinds(faults.inspected(program, folder, rows)) & set(faults.FAULTS)
                false += [f"{sorted(alarms)} on an exact curve of {where} points"] if alarms else []
        print(f"{len(false)} false alarms")
        if len(false) > FALSE_ALARMS:
            wrong += false
        found = {kind: faults.detections(program, folder, SEED, FAULTY, 0.003, kind, change, tells)
                 for kind, change, tells in faults.VARIANTS}
        found["response"] = faults.response_detections(program, folder, SEED, FAULTY)
        print(f"found, of {FAULTY} faulty curves:", found)
        wrong += [f"{kind} found in {hits} only" for kind, hits in found.items() if hits < FEWEST_FOUND]
    if wrong:
        sys.exit("claims that do not hold: " + "; ".join(map(str, wrong)))


if __name__ == "__main__":
    main()
