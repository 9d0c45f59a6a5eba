#!/usr/bin/env python3
"""The span matrix of the demo earphones by NumPy and SciPy: an outside check of `survey`.

Curves, formula and the search for the largest source are those of reference_deviation.py, which
shares no line with the C++ code. The ranking is by the mean span of a row, largest first.

  reference_survey.py --against PROGRAM     spans 1e-9 dB; what hangs on the interpolated 1000 Hz
                                            or on a root 1e-6, as there
"""
import argparse
import json
import subprocess
import sys

import numpy

from reference_circuit import DEMO_FOLDER
from reference_deviation import (FROM_OHM, LIMIT_DB, Curve, change_db, curve_files, differences,
                                 largest_source_ohm, level_change_db)

SOURCES_OHM = [0.1, 0.3, 1, 2.2, 6, 10, 33, 120, 1000, 100000]


def expected():
    curves = [Curve(path) for path in curve_files()]
    span = numpy.array([[numpy.ptp(change_db(c.z, to)) for to in SOURCES_OHM] for c in curves])
    return {
        "span_db": span.tolist(),
        "level_change_db": [[level_change_db(c, to, 1000.0) for to in SOURCES_OHM] for c in curves],
        "ranking": numpy.argsort(-span.mean(axis=1), kind="stable").tolist(),
        "largest_source_ohm": [largest_source_ohm(c) for c in curves],
    }


def found(program):
    command = [program, "survey", str(DEMO_FOLDER), "--from", str(FROM_OHM), "--sources",
               ",".join(map(str, SOURCES_OHM)), "--largest-source", str(LIMIT_DB), "--quantity",
               "level-change", "--json"]
    return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def compare(answer, wanted):
    files = [path.name.replace(".csv", ".earphone.toml") for path in curve_files()]
    told = [earphone["file"].rsplit("/", 1)[-1] for earphone in answer["earphones"]]
    largest = [earphone["largest_source"]["ohm"] for earphone in answer["earphones"]]
    wrong = differences(told, files, "earphones")
    for key, relative in (("span_db", 1e-9), ("level_change_db", 1e-6), ("ranking", 0)):
        wrong += differences(answer[key], wanted[key], key, relative)
    ohms = [source["output_ohm"] for source in answer["sources"]]
    wrong += differences(ohms, list(map(float, SOURCES_OHM)), "sources")
    return wrong + differences(largest, wanted["largest_source_ohm"], "largest_source", 1e-6)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--against", metavar="PROGRAM", required=True)
    wrong = compare(found(parser.parse_args().against), expected())
    print("\n".join(wrong[:40]) or f"{len(curve_files())} earphones agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
