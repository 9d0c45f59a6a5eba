#!/usr/bin/env python3
"""The needs of programme material by NumPy from a demo curve: an outside check of `headroom`.

Programme of IEC 60268-1 (tests/data/iec60268_1_programme_spectrum.csv, third-octaves joined by
straight lines in dB over ln f), weighting A by the closed form of IEC 61672-1 annex E, an L pad by
series and parallel resistances. Means over ln f by the trapezoidal rule on the curve's own
frequencies, where the program has a grid of its own: 0.002 dB and 2e-4 relative.

  reference_headroom.py --against PROGRAM   exit 1 if not equal
  reference_headroom.py --print             the numbers that tests/analysis/test_headroom.cpp holds
"""
import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy

from reference_circuit import DEMO_FOLDER, read_table

OUTPUT_OHM, SERIES_OHM, SHUNT_OHM = 0.3, 18.0, 9.1  # attenuator-engaged.chain.toml
OPEN_VOLT, MAX_AMPERE = 4.0, 0.16
DB_PER_VOLT, RESPONSE_OHM = 122.0, 0.1  # two-way-armature.earphone.toml
PLAYER_OHM = 32.0  # EN 50332-2
TARGET_DB, CREST_DB = 90.0, 20.0
SPECTRUM = Path(__file__).resolve().parents[1] / "data" / "iec60268_1_programme_spectrum.csv"


def programme_db(f):
    lines = [line for line in SPECTRUM.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.reader(lines))[1:]
    level = numpy.array([float(row[2]) for row in rows])
    middle = 1000 * 10 ** (numpy.arange(-17, 14) / 10)
    return numpy.interp(numpy.log(f), numpy.log(middle), level)


def a_weighting_db(f):
    f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217

    def gain(x):
        return f4**2 * x**4 / ((x**2 + f1**2) * numpy.sqrt((x**2 + f2**2) * (x**2 + f3**2))
                               * (x**2 + f4**2))

    return 20 * numpy.log10(gain(f) / gain(1000.0))


def mean(f, power):
    weight = 10 ** (programme_db(f) / 10)
    return numpy.trapz(power * weight, numpy.log(f)) / numpy.trapz(weight, numpy.log(f))


def through_the_pad(z):
    """Volt at z, ampere into it and ampere out of the amplifier, for 1 V."""
    beside = SHUNT_OHM * z / (SHUNT_OHM + z)
    source_ampere = 1 / (OUTPUT_OHM + SERIES_OHM + beside)
    volt = source_ampere * beside
    return volt, volt / z, source_ampere


def expected():
    f, magnitude, degrees = read_table(DEMO_FOLDER / "two-way-armature.csv")
    z = magnitude * numpy.exp(1j * numpy.radians(degrees))
    heard_f, heard = read_table(DEMO_FOLDER / "two-way-armature.response.csv")[:2]
    ideal = numpy.interp(numpy.log(f), numpy.log(heard_f), heard)
    ideal = ideal + 20 * numpy.log10(abs(1 + RESPONSE_OHM / z))
    level = DB_PER_VOLT + ideal - numpy.interp(numpy.log(1000), numpy.log(f), ideal)
    volt, ampere, source_ampere = through_the_pad(z)
    sound = abs(volt) ** 2 * 10 ** (level / 10)
    spl = 10 * numpy.log10(mean(f, sound))
    dba = 10 * numpy.log10(mean(f, sound * 10 ** (a_weighting_db(f) / 10)))
    emf = 10 ** ((TARGET_DB + CREST_DB - spl) / 20)
    player = through_the_pad(PLAYER_OHM)
    return {
        "level_dba": TARGET_DB + dba - spl,
        "volt": emf * numpy.sqrt(mean(f, abs(volt) ** 2)),
        "ampere": emf * numpy.sqrt(mean(f, abs(ampere) ** 2)),
        "milliwatt": 1e3 * emf**2 * mean(f, abs(volt) ** 2 * (1 / z).real),
        "emf_volt": emf,
        "niosh_minutes_a_day": min(1440, 480 / 2 ** ((TARGET_DB + dba - spl - 85) / 3)),
        "player_volt": min(OPEN_VOLT, MAX_AMPERE / player[2]) * player[0],
        "flat_dba_less": -10 * numpy.log10(mean(f, 10 ** (a_weighting_db(f) / 10))),
    }


def found(program):
    command = [program, "headroom", str(DEMO_FOLDER / "attenuator-engaged.chain.toml"),
               str(DEMO_FOLDER / "two-way-armature.earphone.toml"), "--target", str(TARGET_DB),
               "--crest", str(CREST_DB), "--json"]
    answer = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return json.loads(answer)


def main():
    wanted = expected()
    if "--print" in sys.argv:
        print(json.dumps(wanted, indent=1))
        return
    told = found(sys.argv[sys.argv.index("--against") + 1])
    wrong = []
    if not abs(told["target"]["level_dba"] - wanted["level_dba"]) < 0.002:
        wrong.append(f"level_dba: {told['target']['level_dba']}, not {wanted['level_dba']}")
    for key, value in (("volt", told["target"]["volt"]), ("ampere", told["target"]["ampere"]),
                       ("milliwatt", told["target"]["milliwatt"]),
                       ("niosh_minutes_a_day", told["niosh_minutes_a_day"])):
        if not abs(value / wanted[key] - 1) < (5e-4 if key == "niosh_minutes_a_day" else 2e-4):
            wrong.append(f"{key}: {value}, not {wanted[key]}")
    print("\n".join(wrong) or "the needs of programme agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
