"""Seeded earphones and measurements of them, all invented: what tests/bench/coverage.py and
tests/outside/reference_coverage.py try the program's claims on.

earphone(random) gives (kind, impedance over hertz): one to five drivers (moving coils, balanced
armatures, planar, piezoelectric, MEMS) behind crossovers with and without loss and a cable.
measured(random, impedance, ...) gives the rows of a curve file: where it was measured, with what
noise, digits and phase, or read off a graph."""
import numpy

AUDIO = (20.0, 20000.0)


def between(random, low, high):
    """Even over the logarithm."""
    return float(numpy.exp(random.uniform(numpy.log(low), numpy.log(high))))


def coil(s, henry, half_order):
    """An inductance with a half-order one across it (eddy currents)."""
    if half_order <= 0:
        return s * henry
    return 1 / (1 / (s * henry) + 1 / (half_order * numpy.sqrt(s)))


def resonance(s, hz, q, ohm):
    w = 2 * numpy.pi * hz
    return ohm / (1 + q * (s / w + w / s))


def armature(random, way):
    ohm = between(random, 4, 120)
    henry, half = ohm * between(random, 5e-6, 6e-5), 0.0
    if random.random() < 0.8:
        half = ohm * between(random, 1e-3, 2e-2)
    low, high = ((300, 2500), (1000, 5000), (2500, 12000))[way]
    modes = [(between(random, low, high), between(random, 1, 8), ohm * between(random, 0.1, 2.5))]
    for _ in range(random.integers(0, 3)):
        modes.append((between(random, low, 18000), between(random, 1.5, 10), ohm * between(random, 0.03, 0.6)))
    return lambda s: ohm + coil(s, henry, half) + sum(resonance(s, *m) for m in modes)


def moving_coil(random):
    ohm = between(random, 8, 200)
    henry, half = ohm * between(random, 5e-7, 4e-5), 0.0
    if random.random() < 0.6:
        half = ohm * between(random, 1e-4, 3e-3)
    modes = [(between(random, 60, 4500), between(random, 0.5, 5), ohm * between(random, 0.02, 1.2))]
    for _ in range(random.integers(0, 3)):
        modes.append((between(random, 1500, 17000), between(random, 1.5, 12), ohm * between(random, 0.005, 0.15)))
    return lambda s: ohm + coil(s, henry, half) + sum(resonance(s, *m) for m in modes)


def planar(random):
    ohm = between(random, 8, 80)
    henry = ohm * between(random, 1e-8, 5e-6)
    modes = [(between(random, 40, 9000), between(random, 0.6, 6), ohm * between(random, 0.001, 0.03))
             for _ in range(random.integers(0, 3))]
    return lambda s: ohm + s * henry + sum(resonance(s, *m) for m in modes)


def capacitive(random, farad, series_ohm, parallel_ohm):
    arms = [(between(random, 2500, 18000), between(random, 3, 20), farad * between(random, 0.01, 0.25))
            for _ in range(random.integers(1, 4))]

    def impedance(s):
        siemens = s * farad + 1 / parallel_ohm
        for hz, q, arm in arms:
            w = 2 * numpy.pi * hz
            henry = 1 / (w * w * arm)
            siemens = siemens + 1 / (s * henry + w * henry / q + 1 / (s * arm))
        return series_ohm + 1 / siemens

    return impedance


def piezo(random):
    return capacitive(random, between(random, 5e-8, 1.5e-6), between(random, 1, 60), between(random, 1e3, 1e6))


def mems(random):
    return capacitive(random, between(random, 3e-9, 6e-8), between(random, 5, 100), between(random, 1e5, 1e8))


def branch(random, driver, parts):
    """A driver behind its part of a crossover: "r", "c", "l" or "lc"."""
    ohm = between(random, 0.5, 60) if random.random() < 0.6 else 0.0
    lossy = random.random() < 0.6
    farad = between(random, 3e-7, 3e-5 if parts == "c" else 1e-5)
    henry = between(random, 2e-5, 2e-3 if parts == "l" else 5e-4)
    loss = between(random, 0.03, 2) if lossy else 0.0
    capacitor = (lambda s: 1 / (s * farad)) if "c" in parts else (lambda s: 0 * s)
    inductor = (lambda s: s * henry) if "l" in parts else (lambda s: 0 * s)
    return lambda s: ohm + loss + capacitor(s) + inductor(s) + driver(s)


def several(random):
    count = int(random.integers(2, 6))
    branches = []
    for i in range(count):
        way = 0 if i == 0 else (2 if i == count - 1 else int(random.integers(0, 3)))
        if i == 0 and random.random() < 0.4:
            driver = moving_coil(random)
        elif i == count - 1 and random.random() < 0.12:
            driver = piezo(random)
        else:
            driver = armature(random, way)
        parts = random.choice(["c", "c", "c", "r", "lc"]) if i else ("r" if random.random() < 0.7 else "l")
        branches.append(branch(random, driver, str(parts)))
    return lambda s: 1 / sum(1 / b(s) for b in branches)


KINDS = (("several", 0.45, several), ("moving coil", 0.20, moving_coil), ("armature", 0.13, lambda r: armature(r, int(r.integers(0, 2)))),
         ("planar", 0.10, planar), ("piezo", 0.06, piezo), ("mems", 0.06, mems))


def earphone(random):
    """(kind, function from hertz to complex ohms)."""
    cable, chance = between(random, 0.1, 1.5), random.random()
    for kind, share, make in KINDS:
        chance -= share
        if chance < 0:
            break
    driver = make(random)
    return kind, lambda hz: cable + driver(2j * numpy.pi * numpy.asarray(hz, float))


def frequencies(random, where):
    """"480", "120", "31", "20" evenly, "irregular 40", "irregular 20", "hole" (480 but for one)."""
    even = numpy.geomspace(*AUDIO, 480)
    if where == "31":
        return 1000 * 10 ** (numpy.arange(-17, 14) / 10)
    if where.startswith("irregular"):
        count = int(where.split()[1])
        while True:
            inner = random.uniform(numpy.log(AUDIO[0]), numpy.log(AUDIO[1]), count - 2)
            hz = numpy.sort(numpy.concatenate([AUDIO, numpy.exp(inner)]))
            if numpy.diff(numpy.log(hz)).min() > 1e-3:
                return hz
    if where == "hole":
        low = between(random, 100, 6000)
        high = low * 2 ** random.uniform(0.8, 3)
        return even[(even < low) | (even > high)]
    return numpy.geomspace(*AUDIO, int(where))


def measured(random, impedance, where, noise=0.0, digits=None, phase=True, graph=False):
    """(hertz, ohms, degrees or None). noise: standard deviation, relative and in radians. digits: of
    the largest value, so that small ones have fewer. graph: read off a picture, frequencies off by
    0.3 % each, magnitudes in steps of a pixel, 0.5 %."""
    hz = frequencies(random, where)
    z = impedance(hz)
    ohm, degrees = abs(z), numpy.degrees(numpy.angle(z))
    if graph:
        pixel = 0.005
        read_hz = hz * numpy.exp(random.normal(0, 0.003, hz.size))
        if numpy.diff(read_hz).min() > 0:
            hz = numpy.clip(read_hz, *AUDIO) if numpy.diff(numpy.clip(read_hz, *AUDIO)).min() > 0 else hz
        ohm = numpy.exp(pixel * numpy.round(numpy.log(ohm) / pixel))
    ohm = ohm * numpy.exp(noise * random.standard_normal(hz.size))
    degrees = degrees + numpy.degrees(noise * random.standard_normal(hz.size))
    if digits:
        step = 10.0 ** (numpy.floor(numpy.log10(ohm.max())) - digits + 1)
        ohm = numpy.maximum(numpy.round(ohm / step), 1) * step
        degrees = numpy.round(degrees, 1)
    return hz, ohm, degrees if phase else None


def text_of(rows, header=True):
    """The rows as a curve file."""
    hz, ohm, degrees = rows
    columns = [hz, ohm] + ([] if degrees is None else [degrees])
    names = ["frequency_hz", "magnitude_ohm", "phase_deg"][:len(columns)]
    lines = [",".join(names)] if header else []
    lines += [",".join(f"{float(v):.10g}" for v in row) for row in zip(*columns)]
    return "\n".join(lines) + "\n"


def deviation_db(impedance, hz, from_ohm, to_ohm, anchor_hz=1000.0):
    """The true one."""
    def level(f):
        z = impedance(f)
        return 20 * numpy.log10(abs((z + from_ohm) / (z + to_ohm)))
    return level(hz) - level(numpy.array([anchor_hz]))
