"""Seeded earphones of another structure than tests/bench/invented_earphones.py, all invented: a check on what
was tuned there. Drivers by their electromechanics (motor, mechanics, air volumes, tubes with viscous loss, the
ear), coils by the diffusion of eddy currents, plates and membranes with their series of modes, random passive
ladders; crossovers of first and second order with lossy parts. The same two functions: earphone(random),
measured(random, impedance, where, ...)."""
import numpy

from invented_earphones import between


def wave(hz):
    return 2 * numpy.pi * hz


def coil(s, henry, tau):
    """A coil whose core's eddy currents diffuse: henry s tanh(x)/x, x = sqrt(s tau)."""
    x = numpy.sqrt(s * tau)
    return s * henry * numpy.tanh(x) / x


def tube(s, seconds, loss, end):
    """The impedance into a tube, relative to its own, that ends in another; viscous loss as the root of s."""
    turn = numpy.tanh(s * seconds + loss * numpy.sqrt(s * seconds))
    return (end + turn) / (1 + end * turn)


def air(random):
    """What the air lays on a diaphragm, relative to its resistance at resonance: a volume, a tube, the ear."""
    ear_hz, ear_ohm = between(random, 300, 3000), between(random, 0.1, 5)
    seconds, loss = between(random, 5, 60) * 1e-3 / 343, between(random, 0.03, 0.4)
    front_hz, share = between(random, 2000, 20000), between(random, 0.03, 1.5)

    def load(s):
        ear = ear_ohm + wave(ear_hz) / s
        inner = tube(s, seconds, loss, ear)
        return share / (1 / inner + s / wave(front_hz))

    return load


def motional(random, low_hz, high_hz, q, ohm):
    """A motor's impedance: ohm over the mechanical impedance and the air's, both relative."""
    w, q, ohm = wave(between(random, low_hz, high_hz)), between(random, *q), between(random, *ohm)
    load = air(random)
    return lambda s: ohm / (1 + q * (s / w + w / s) + load(s))


def armature(random, low_hz=400, high_hz=4000):
    ohm = between(random, 5, 100)
    henry, tau = ohm * between(random, 1e-5, 1.2e-4), between(random, 3e-6, 1e-3)
    motor = motional(random, low_hz, high_hz, (1.0, 7), (0.15 * ohm, 2.5 * ohm))
    return lambda s: ohm + coil(s, henry, tau) + motor(s)


def moving_coil(random):
    ohm = between(random, 8, 150)
    henry, tau = ohm * between(random, 5e-7, 2e-5), between(random, 1e-6, 2e-4)
    motor = motional(random, 50, 3000, (0.6, 5), (0.03 * ohm, 1.2 * ohm))
    return lambda s: ohm + coil(s, henry, tau) + motor(s)


def planar(random):
    ohm, henry = between(random, 10, 60), between(random, 1e-7, 5e-5)
    first, q, part = between(random, 60, 3000), between(random, 1, 6), between(random, 0.002, 0.03)
    modes = [(wave(first * n), q, part * ohm / n**2) for n in (1, 3, 5)]
    return lambda s: ohm + s * henry + sum(r / (1 + k * (s / w + w / s)) for w, k, r in modes)


def plate(random, farad, series_ohm):
    """A capacitive plate: modes at the squares of odd numbers, coupled ever less, loaded by the air."""
    first, q, coupling = between(random, 1500, 9000), between(random, 3, 18), between(random, 0.02, 0.25)
    leak, loss = between(random, 1e5, 1e8), between(random, 0.002, 0.03)
    modes = [(wave(first * n**2), q, coupling / n**2) for n in (1, 2, 3)]

    def impedance(s):
        siemens = s * farad * (s / wave(1000)) ** -loss + 1 / leak  # a loss that is causal: constant angle
        for w, k, part in modes:
            siemens = siemens + s * farad * part / (1 + s / (w * k) + (s / w) ** 2)
        return series_ohm + 1 / siemens

    return impedance


def piezo(random):
    return plate(random, between(random, 6e-8, 1e-6), between(random, 2, 80))


def mems(random):
    return plate(random, between(random, 4e-9, 5e-8), between(random, 8, 80))


def ladder(random):
    """Two to five sections, each a part in series and one across, around one level of ohms."""
    level = between(random, 8, 60)

    def part(across):
        kind = random.choice(["r", "l", "c", "lr", "cr", "tank"])
        ohm, w = level * between(random, 0.2, 4 if across else 2), wave(between(random, 60, 14000))
        q = between(random, 0.7, 8)
        return {"r": lambda s: ohm + 0 * s, "l": lambda s: ohm * s / w + 0.05 * ohm,
                "c": lambda s: ohm * w / s + 0.02 * ohm, "lr": lambda s: ohm * (s / w) / (1 + s / w),
                "cr": lambda s: ohm / (1 + s / w), "tank": lambda s: ohm / (1 + q * (s / w + w / s))}[kind]

    sections = [(part(False), part(True)) for _ in range(random.integers(2, 6))]

    def impedance(s):
        z = level + 0 * s
        for along, across in sections:
            z = 0.15 * level + along(s) + 1 / (1 / z + 1 / (across(s) + 0.3 * level))
        return z

    return impedance


def behind(random, driver, order):
    """A driver behind a high pass of this order (1: a capacitor, 2: a coil across the driver too), or a low pass (-1)."""
    ohm = between(random, 0.3, 40) if random.random() < 0.5 else 0.1
    farad, henry = between(random, 4e-7, 2e-5), between(random, 1e-4, 3e-3)
    esr, dcr = between(random, 0.02, 1), between(random, 0.1, 3)
    if order < 0:
        return lambda s: ohm + dcr + s * henry + driver(s)
    if order == 0:
        return lambda s: ohm + driver(s)
    if order == 1:
        return lambda s: ohm + esr + 1 / (s * farad) + driver(s)
    return lambda s: ohm + esr + 1 / (s * farad) + 1 / (1 / driver(s) + 1 / (dcr + s * henry))


def several(random):
    count = int(random.integers(2, 5))
    low = moving_coil(random) if random.random() < 0.4 else armature(random, 300, 2000)
    branches = [behind(random, low, int(random.choice([0, 0, -1])))]
    for i in range(1, count):
        upper = piezo(random) if i == count - 1 and random.random() < 0.15 else armature(random, 800 * i, 9000)
        branches.append(behind(random, upper, int(random.choice([0, 1, 1, 2]))))
    return lambda s: 1 / sum(1 / b(s) for b in branches)


KINDS = {"armature": armature, "moving coil": moving_coil, "planar": planar, "piezo": piezo, "mems": mems,
         "ladder": ladder, "several": several}
SHARES = [0.16, 0.18, 0.08, 0.07, 0.06, 0.15, 0.30]


def earphone(random):
    """(kind, impedance over hertz)."""
    kind = str(random.choice(list(KINDS), p=SHARES))
    core = KINDS[kind](random)
    cable_ohm, cable_henry = between(random, 0.05, 2), between(random, 2e-7, 3e-6)

    def impedance(hz):
        s = 2j * numpy.pi * numpy.asarray(hz, float)
        return cable_ohm + s * cable_henry + core(s)

    return kind, impedance


NOMINAL = numpy.array([1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8])  # IEC 61260-1, annex E


def frequencies(random, where, impedance):
    """"thirds" and "sixths" (nominal, 20 Hz to 20 kHz), "linear" (steps of 40 Hz), "wide" and "narrow" (even,
    other ranges), "jittered" (twelve an octave, off their places), "picked" (25, more where the curve bends)."""
    thirds = numpy.concatenate([10 * NOMINAL[3:], 100 * NOMINAL, 1000 * NOMINAL, 10000 * NOMINAL[:4]])
    if where == "thirds":
        return thirds
    if where == "sixths":
        return numpy.sort(numpy.concatenate([thirds, numpy.round(numpy.sqrt(thirds[1:] * thirds[:-1]), 1)]))
    if where == "linear":
        return 40.0 * numpy.arange(1, 501)
    if where == "wide":
        return numpy.geomspace(10, 40000, 200)
    if where == "narrow":
        return numpy.geomspace(50, 16000, 100)
    if where == "jittered":
        even = numpy.geomspace(20, 20000, 120)
        return numpy.concatenate([even[:1], even[1:-1] * numpy.exp(random.uniform(-0.025, 0.025, 118)), even[-1:]])
    if where == "picked":
        fine = numpy.geomspace(20, 20000, 2001)
        bend = abs(numpy.gradient(numpy.gradient(numpy.log(abs(impedance(fine))))))
        density = numpy.cumsum(0.25 / fine.size + 0.75 * numpy.sqrt(bend) / numpy.sqrt(bend).sum())
        places = numpy.searchsorted(density, numpy.linspace(density[0], density[-1], 25)[1:-1])
        return numpy.unique(numpy.concatenate([[20.0], numpy.round(fine[places], 1), [20000.0]]))
    raise ValueError(where)


def measured(random, impedance, where, noise=0.0, digits=None, phase=True, graph=False):
    """(hertz, ohms, degrees or None). noise: the standard deviation of either part, half of it in proportion to |Z|
    and half to its median, as a divider's; digits: of each value; graph: read off a picture, 0.3 % in frequency,
    lines of 0.4 % in level."""
    hz = frequencies(random, where, impedance)
    z = impedance(hz)
    size = noise * (abs(z) + numpy.median(abs(z))) / 2
    z = z + size * (random.standard_normal(hz.size) + 1j * random.standard_normal(hz.size))
    ohm, degrees = abs(z), numpy.degrees(numpy.angle(z))
    if graph:
        read_hz = hz * numpy.exp(random.normal(0, 0.003, hz.size))
        hz = read_hz if numpy.diff(read_hz).min() > 0 else hz
        ohm = numpy.exp(0.004 * numpy.round(numpy.log(ohm) / 0.004))
    if digits:
        ohm = numpy.array([float(f"{value:.{digits}g}") for value in ohm])
        degrees = numpy.round(degrees, 1)
    return hz, ohm, degrees if phase else None
