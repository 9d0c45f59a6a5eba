"""Grammar fuzzer of the whole program: command lines and files, each result classified.

The grammar of the command line is read from the program's own help, so that a new option is tried
without a line here; files are the demo data, mutated by kind. A run is a function of its seed alone.

usage: grammar_fuzz.py PROGRAM PROJECT [--runs N] [--seconds S] [--first SEED] [--jobs J] [--keep FOLDER] [--time-limit S]

What is a finding (the last line counts them by class):
  signal   the program was ended by a signal
  time     it did not end within the limit
  status   a status other than 0 to 3; 2 with something on standard output; 3 without a reason
  message  no "ohmtilt: " sentence on one line, an internal error, an empty place or name
  escape   a control character or a mark of writing direction on standard output or error
  json     not one object of strict JSON, a key twice, NaN
  number   "nan", "inf" or "-0.00" in the text
  svg      a figure that is not complete or not well-formed; a CSV of unequal rows
  agree    text and JSON of one command line differ in status, in warnings or in the span
  files    a file that was not named, or was left behind; an input that was changed
"""
import argparse
import collections
import concurrent.futures
import itertools
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unicodedata
import xml.etree.ElementTree
from pathlib import Path

time_limit = 60  # seconds; the slowest runs take under 2 on an idle core, twenty times that under sanitizers

# ---- the command line, from the help ---------------------------------------------------------------


class Command:
    def __init__(self, words, arguments, options, defaults):
        self.words, self.arguments, self.options, self.defaults = words, arguments, options, defaults


def help_of(program, words):
    return subprocess.run([program, *words, "--help"], check=True, capture_output=True, text=True).stdout


def entries(text, section):
    """Left columns of a section of the help: "--to SOURCE ..."."""
    found = re.search(rf"^{section}:\n((?:  .*\n)+)", text, flags=re.M)
    lines = found.group(1).splitlines() if found else []
    return [re.split(r"\s{2,}", line.strip())[0] for line in lines if re.match(r"  \S", line)]


def commands_of(program, words=()):
    text = help_of(program, words)
    inner = [entry.split()[0] for part in re.findall(r"^(?:Subcommands|For the \w+):$", text, flags=re.M)
             for entry in entries(text, part[:-1])]
    if inner:
        return [found for word in inner for found in commands_of(program, (*words, word))]
    options, defaults = [], {}
    for flag, body in re.findall(r"^  (?:-\w,)?(--[\w-]+)((?:.*\n)(?:    .*\n)*)", text, flags=re.M):
        default = re.search(r"\[(-?\d+(?:\.\d+)?)(?:\]| [^\]]*\])\s*$", body)
        if default:
            defaults[flag] = float(default.group(1))
    for entry in entries(text, "Options"):
        flags, _, value = entry.partition(" ")
        if "help" not in flags and "--show" not in flags:
            options.append((flags.split(",")[-1], value.removesuffix(" ...")))
    return [Command(list(words), entries(text, "Arguments"), options, defaults)]


# ---- values -----------------------------------------------------------------------------------------

NUMBERS = ["0", "1", "0.3", "6", "10", "32", "120", "1000", "-1", "1e-9", "1e9", "0.001", "20", "2", "3"]
HOSTILE_NUMBERS = ["", " ", "nan", "inf", "-inf", "1e400", "1e308", "-1e308", "1e-320", "0x10", "1,5", "1e",
                   "--", "-", "+5", "6R0", "4k7", "R33", "1_000", "９", "1" * 400, "0.1.2", "5 ohm"]
BANDS = ["20-20000", "100-10000", "20-20k", "50-5000", "100-1000", "1000-100", "1-1e5", "20-20k", "1e-300-1e300", "5-5", "-20-20", "a-b", "20-"]
TEXTS = ["plain", "a\nb", "\x1b[31mred", "\x9b2J", "\u202eevil", "\u2066x", "`x`", "<b>&amp;", "$(touch x)",
         "'\"", "é", "日本", "%s%n", "a" * 3000, "\x07", "\ufffe", "=1+1", "]]>"]


def number(rng):
    pick = rng.random()
    if pick < 0.7:
        return rng.choice(["0.3", "1", "2", "6", "10", "20", "32", "120"])
    if pick < 0.9:
        return rng.choice(NUMBERS) if pick < 0.8 else f"{10 ** rng.uniform(-6, 6):.4g}"
    return rng.choice(HOSTILE_NUMBERS)


def near(rng, default):
    """A number about as large as an option's default."""
    value = default * rng.choice([0.5, 1, 1, 2, 1.5])
    return str(int(value)) if default == int(default) else f"{value:g}"


def output_name(rng):
    return rng.choice(["out", "o u t", "-out", "out\u202e", "sub/out", "out\n"]) if rng.random() < 0.2 else "out"


CURVES = ("armature.csv", "planar.csv", "dynamic.csv", "hybrid.csv", ".s1p")
EARPHONES = (*CURVES, ".circuit.toml")
# Options that a command is no use without.
USUAL = {"deviation": ["--to"], "damping": ["--to"], "equalize": ["--to"], "pad": ["--source", "--attenuation"],
         "flatten": ["--source", "--limit-db"], "tune": ["--move"], "acquire stimulus": ["--write"],
         "acquire impedance": ["--reference"], "acquire readings": ["--reference"], "report": ["--output"],
         "live": ["--output"]}
# What a command's --write or --output makes.
WRITTEN = {"pad": ".chain.toml", "flatten": ".circuit.toml", "tune": ".chain.toml", "model": ".circuit.toml", "inspect": ".csv",
           "acquire stimulus": ".wav", "acquire impedance": ".csv", "acquire readings": ".csv",
           "acquire source": ".chain.toml", "report": ".html", "live": ".html"}


class Line:
    """A command line under construction: what it reads, and the files it may write."""

    def __init__(self, rng, folder):
        self.rng, self.written, self.defaults = rng, [], {}
        self.files = sorted(p.name for p in folder.iterdir() if p.is_file())

    def file(self, *endings):
        fitting = [f for f in self.files if f.endswith(endings)] or self.files
        pick = self.rng.random()
        return self.rng.choice(fitting) if pick < 0.97 else self.rng.choice(self.files + ["none.csv", "", ".", "/dev/null"])

    def output(self, ending):
        name = output_name(self.rng) + ending
        self.written.append(name)
        return name

    def source(self):
        return number(self.rng) if self.rng.random() < 0.5 else self.file(".chain.toml")

    def value(self, flag, kind):
        rng = self.rng
        if "|" in kind:
            return rng.choice(kind.split("|") + (["nothing"] if rng.random() < 0.1 else []))
        if flag in ("--csv", "--fir", "--filters"):
            return self.output(".wav" if flag == "--fir" else ".csv")
        if flag == "--plot":
            return "text" if rng.random() < 0.7 else self.output(rng.choice([".svg", ".svg", ".png", ".pdf", ".gif"]))
        if flag == "--draw":
            return self.output(rng.choice([".svg", ".pdf"]))
        if flag in ("--write", "--output"):
            usual = WRITTEN.get(self.command)
            return self.output(usual if usual and rng.random() < 0.9 else rng.choice(sorted(set(WRITTEN.values()))))
        if kind.startswith("SOURCE") or kind == "CHAIN":
            count = rng.randint(2, 4) if flag in ("--to", "--sources") and rng.random() < 0.2 else 1
            return ",".join(self.source() for _ in range(count))
        if kind == "FOLDER":
            return "."
        if kind.startswith("FILE"):
            return self.file(".csv", ".wav", ".toml")
        if kind == "LO-HI":
            return rng.choice(BANDS)
        if flag == "--points":
            return rng.choice(["2", "3", "48", "120", "480", "480", "1000", "0", "1.5", "1e9"])
        if flag in ("--samples", "--draws", "--trials"):
            return rng.choice(["100", "1000", "0", "1", "-5"])
        if flag == "--seconds":
            return rng.choice(["1", "2", "0", "-1", "0.5", "1e9"])
        if kind in ("TEXT", "DATE") or "title" in flag:
            return rng.choice(TEXTS)
        if flag in self.defaults and rng.random() < 0.8:
            return near(rng, self.defaults[flag])
        if rng.random() < 0.05:
            return ",".join(number(rng) for _ in range(rng.randint(2, 40)))
        return number(rng)

    def argument(self, name):
        usual = {"inspect": CURVES, "model": CURVES, "acquire readings": ("readings.csv",),
                 "acquire source": ("loads.csv",), "acquire impedance": (".wav",), "solve": (".circuit.toml",)}
        if self.command in usual:
            return self.file(*usual[self.command])
        if "chain" in name or "source" in name:
            return self.source() if self.rng.random() < 0.1 else self.file(".chain.toml")
        if "folder" in name:
            return "."
        return self.file(".earphone.toml") if self.rng.random() < 0.7 else self.file(*EARPHONES)

    def words(self, command):
        rng, words = self.rng, list(command.words)
        self.command, self.defaults = " ".join(command.words), command.defaults
        for name in command.arguments:
            if rng.random() < 0.98:
                words.append(self.argument(name))
        usual = USUAL.get(self.command, [])
        for flag, kind in command.options:
            likely = 0.95 if flag in usual else 0.3 if flag == "--json" else 0.05
            if rng.random() < likely:
                words += [flag, self.value(flag, kind)] if kind else [flag]
        # Ten thousand draws of a circuit take seconds; a hundred take every turn that they take.
        drawn = {"--tolerance", "--distribution", "--heating-volt", "--seed"} & set(words)
        if drawn and any(flag == "--samples" for flag, _ in command.options) and rng.random() < 0.9:
            words += ["--samples", "100"] if "--samples" not in words else []
        if rng.random() < 0.03:
            words.insert(rng.randint(0, len(words)), rng.choice(["--", "--nonsense", "", "-", "--to=6", "\x1b[2J"]))
        return [w.encode("utf-8", "surrogateescape").replace(b"\0", b"") for w in words]


# ---- files ------------------------------------------------------------------------------------------

CELLS = ["", "nan", "inf", "-inf", "0", "-1", "1e308", "-1e308", "1e-308", "1e4", "-999", "abc", "1,5", "\x1b[31m", "\"1\""]


def mutate_table(rng, lines):
    rows = [i for i, line in enumerate(lines) if line and line[0].isdigit()]
    for _ in range(rng.randint(1, 3)):
        how, at = rng.randrange(8), rng.choice(rows or [0])
        cells = lines[at].split(",")
        if how == 0:
            cells[rng.randrange(len(cells))] = rng.choice(CELLS)
            lines[at] = ",".join(cells)
        elif how == 1:
            del lines[at]
            rows = [i for i, line in enumerate(lines) if line and line[0].isdigit()]
        elif how == 2:
            lines.insert(at, lines[at])
        elif how == 3:
            lines[at] = lines[at].replace(",", rng.choice([";", "\t", " ", ",,"]))
        elif how == 4:
            lines[:] = lines[: at + 1]
            rows = [i for i in rows if i <= at]
        elif how == 5:
            lines.insert(0, "# title: " + rng.choice(TEXTS).replace("\n", " "))
            rows = [i + 1 for i in rows]
        elif how == 6 and rows:  # every value of a column
            column, factor = rng.randrange(len(cells)), rng.choice(["0", "-1", "1e6", "1e-6", "1e300"])
            for i in rows:
                parts = lines[i].split(",")
                if column < len(parts):
                    try:
                        parts[column] = f"{float(parts[column]) * float(factor):.6g}"
                    except ValueError:
                        pass
                    lines[i] = ",".join(parts)
        elif how == 7 and rows:
            lines[:] = [line for i, line in enumerate(lines) if i not in rows or rng.random() < 0.05 or i in rows[:2]]
            rows = [i for i, line in enumerate(lines) if line and line[0].isdigit()]


def toml_text(text):
    return json.dumps(text).replace("\\ufffe", "x")


def mutate_toml(rng, lines):
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(lines))
        key, equals, value = lines[at].partition(" = ")
        how = rng.randrange(7)
        if how == 0 and equals:
            lines[at] = key + " = " + number(rng)
        elif how == 1 and equals:
            lines[at] = key + " = " + toml_text(rng.choice(TEXTS))
        elif how == 2:
            del lines[at]
            lines = lines or [""]
        elif how == 3:
            lines.insert(at, lines[rng.randrange(len(lines))])
        elif how == 4 and equals:
            lines[at] = key[:-1] + " = " + value
        elif how == 5:
            for i, line in enumerate(lines):
                if line.startswith("title = "):
                    lines[i] = "title = " + toml_text(rng.choice(TEXTS))
        elif how == 6 and equals and re.fullmatch(r" *[-+]?\d+(\.\d+)?([eE][-+]?\d+)? *", value):
            lines[at] = f"{key} = {float(value) * 10 ** rng.uniform(-8, 8):.6g}"
        if not lines:
            lines.append("")


def mutate_bytes(rng, data):
    data = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        at = rng.randrange(max(1, len(data)))
        how = rng.randrange(4)
        if how == 0 and data:
            data[at] = rng.randrange(256)
        elif how == 1:
            del data[at: at + rng.randint(1, 200)]
        elif how == 2:
            data[at:at] = bytes(rng.randrange(256) for _ in range(rng.randint(1, 8)))
        else:
            del data[at:]
    return bytes(data)


def mutate(rng, file):
    data = file.read_bytes()
    file.unlink()  # it is a link to the demo data
    if file.suffix == ".wav" or rng.random() < 0.1:
        file.write_bytes(mutate_bytes(rng, data))
        return
    lines = data.decode("utf-8", "replace").splitlines() or [""]
    (mutate_toml if file.suffix == ".toml" else mutate_table)(rng, lines)
    file.write_bytes(("\n".join(lines) + "\n").encode("utf-8", "surrogatepass"))


# ---- results ----------------------------------------------------------------------------------------


def once(pairs):
    keys = [key for key, _ in pairs]
    if len(keys) != len(set(keys)):
        raise ValueError("a key stands twice")
    return dict(pairs)


def no_constant(name):
    raise ValueError(name)


def strict_json(text):
    return json.loads(text, object_pairs_hook=once, parse_constant=no_constant)


def is_obeyed(character):
    return unicodedata.category(character) in ("Cc", "Zl", "Zp") and character != "\n" or \
        unicodedata.bidirectional(character) in ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI") or \
        character in "\u061c\u200e\u200f"


class Result:
    def __init__(self, status, out, err, late):
        self.status, self.late = status, late
        self.out_bytes, self.err_bytes = out, err
        self.out, self.err = out.decode("utf-8", "replace"), err.decode("utf-8", "replace")


def run(program, words, folder):
    process = subprocess.Popen([program, *words], cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE)
    try:
        out, err = process.communicate(timeout=time_limit)
        return Result(process.returncode, out, err, False)
    except subprocess.TimeoutExpired:
        process.kill()
        out, err = process.communicate()
        return Result(-signal.SIGKILL, out, err, True)


def state_of(file):
    try:
        facts = file.lstat()
    except OSError:
        return None
    return facts.st_ino, facts.st_size, facts.st_mtime_ns


def figure_fault(file):
    data = file.read_bytes()
    # A table or a recording may be given such a name too; a figure or page that was cut still begins as one.
    begins = {".svg": b"<?xml", ".png": b"\x89PNG", ".pdf": b"%PDF", ".html": b"<!"}.get(file.suffix)
    if data and begins and not data.lstrip().startswith(begins):
        return None
    if file.suffix == ".svg":
        if not data.rstrip().endswith(b"</svg>"):
            return "no end"
        try:
            xml.etree.ElementTree.fromstring(data)
        except xml.etree.ElementTree.ParseError as error:
            return str(error)
    if file.suffix == ".png" and not data.endswith(b"IEND\xae\x42\x60\x82"):
        return "no end"
    if file.suffix == ".pdf" and not data.rstrip().endswith(b"%%EOF"):
        return "no end"
    if file.suffix == ".html" and not data.rstrip().endswith(b"</html>"):
        return "no end"
    return None


def faults_of(result, words, folder, before, named):
    """(class, what) of all that is wrong with a run."""
    if result.late:
        yield "time", f"over {time_limit:g} s"
        return
    if result.status < 0:
        yield "signal", signal.Signals(-result.status).name
        return
    if result.status > 3:
        yield "status", str(result.status)
    lines = result.err.splitlines()
    if result.status == 2:
        if result.out:
            yield "status", "2 with an answer on standard output"
        if len(lines) != 1:
            yield "message", f"{len(lines)} lines for status 2"
    if result.status == 3 and not lines:
        yield "status", "3 without a reason"
    for line in lines:
        if not line.startswith("ohmtilt: "):
            yield "message", "a line of its own: " + line[:200]
    for bad in ("internal error", "ohmtilt: :", "std::", "pthread", "what():"):
        if bad in result.err:
            yield "message", result.err[:300]
    for name, text, raw in (("output", result.out, result.out_bytes), ("error", result.err, result.err_bytes)):
        wrong = sorted({f"U+{ord(c):04X}" for c in text if is_obeyed(c)})
        if wrong:
            yield "escape", f"{', '.join(wrong)} on standard {name}"
        try:
            raw.decode("utf-8")
        except UnicodeDecodeError as error:
            yield "escape", f"standard {name} is no UTF-8: {error}"
    is_json = b"--json" in words
    if is_json and result.out:
        try:
            if not isinstance(strict_json(result.out), dict) or result.out.count("\n") != 1:
                yield "json", "not one object on one line"
        except ValueError as error:
            yield "json", str(error)
    if not is_json:
        # Between quotes stands what a file says, as in: frequency "nan" is not a finite number.
        wrong = re.search(r"(?<![\w.\"])[-+]?(nan|inf)(?![\w\"-])", result.out)
        if wrong:
            yield "number", result.out[max(0, wrong.start() - 60): wrong.end() + 40]
    for file, content in before.items():
        if file not in named and state_of(folder / file) != content:
            yield "files", f"{file} was changed"
    for file in folder.rglob("*"):
        name = str(file.relative_to(folder))
        if file.is_dir() or name in before:
            continue
        # `pad --steps --write a.chain.toml` writes a file a step.
        if name not in named and not any(name.startswith(n.split(".")[0]) for n in named):
            yield "files", f"{name!r} was not named"
        fault = figure_fault(file)
        if fault:
            yield "svg", f"{name}: {fault}"
        # A recording may be given such a name, too.
        if file.suffix == ".csv" and result.status < 2 and not file.read_bytes().startswith(b"RIFF"):
            rows = {row.count(",") for row in file.read_text("utf-8", "replace").splitlines()
                    if row and row[0] != "#" and '"' not in row}
            if len(rows) > 1:
                yield "svg", f"{name}: rows of {sorted(rows)} commas"


def rounded(value):
    return f"{0.0 if abs(value) < 0.005 else value:.2f} dB"


def disagreements(text, js, words):
    """Between the two forms of one answer."""
    if text.status != js.status:
        yield f"status {text.status} as text and {js.status} as JSON"
    if text.status > 1 or js.status > 1:
        if text.status == js.status == 2 and text.err != js.err:
            yield "two messages: " + text.err + js.err
        return
    value = strict_json(js.out)
    notes = [line.removeprefix("ohmtilt: note: ") for line in text.err.splitlines()]
    if len(notes) != len(value["warnings"]):
        yield f"{len(notes)} notes and {len(value['warnings'])} warnings"
    if words[0] == b"deviation":
        spans = re.findall(r": a span of (-?[\d.]+ dB)", text.out)
        told = [rounded(case["span_db"]) for case in value["cases"] if case.get("span_db") is not None]
        if spans != told:
            yield f"spans {spans} and {told}"


# ---- the search -------------------------------------------------------------------------------------


def copied_demo(project, folder):
    """A copy of all demo data in one folder, to link to."""
    demo = project / "impedance-curves"
    for file in [*demo.glob("*.toml"), *demo.glob("*.csv"), *demo.glob("bench/*.csv"), *demo.glob("bench/*.wav"),
                 *(project / "tests/data/touchstone").glob("ok_s*.s1p")]:
        shutil.copy(file, folder / file.name)
    for source in folder.glob("*.chain.toml"):  # what hiss and headroom need, in every chain
        text = source.read_text()
        wanted = {"open_volt": 4, "noise_volt": 2e-6}
        lines = "".join(f"{key} = {value}\n" for key, value in wanted.items() if f"\n{key} = " not in text)
        source.write_text(text.replace("[source]\n", "[source]\n" + lines, 1))
    return folder


def prepared(rng, demo, folder):
    """The demo data in folder, some of it mutated; returns what is there."""
    for file in sorted(demo.iterdir()):
        if file.suffix != ".wav" or rng.random() < 0.2:
            os.link(file, folder / file.name)
    files = sorted(folder.iterdir())
    for _ in range(rng.choice([0, 0, 1, 2, 4, 8])):
        mutate(rng, rng.choice(files))
    return {file.name: state_of(file) for file in folder.iterdir()}


def words_of(rng, commands, folder):
    line = Line(rng, folder)
    command = rng.choice(commands)
    if command.words == ["report"] and rng.random() < 0.8:  # a page takes as long as twenty others
        command = rng.choice(commands)
    words = line.words(command)
    return words, line.written


def one(seed, program, demo, commands, scratch_root):
    """The findings of a seed: [(class, what)], and its command line."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory(dir=scratch_root) as scratch:
        folder = Path(scratch)
        before = prepared(rng, demo, folder)
        words, named = words_of(rng, commands, folder)
        result = run(program, words, folder)
        found = list(faults_of(result, words, folder, before, named))
        plain = [w for w in words if w not in (b"--json",)]
        writes = any(n in words for n in (b"--plot", b"--draw", b"--csv", b"--write", b"--output", b"--fir", b"--show"))
        if not found and seed % 4 == 0 and not writes and result.status < 3 and words:
            end = plain.index(b"--") if b"--" in plain else len(plain)  # behind it stand names only
            as_json = [*plain[:end], b"--json", *plain[end:]]
            text, js = run(program, plain, folder), run(program, as_json, folder)
            if not any(r.late or r.status < 0 for r in (text, js)):
                found += [("agree", what) for what in disagreements(text, js, words)]
        return seed, found, words, result.status


def keep(folder, seed, demo, words):
    """The files of a finding, and how to run it."""
    place = folder / str(seed)
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    prepared(random.Random(seed), demo, place)
    for file in place.iterdir():  # files of their own
        data = file.read_bytes()
        file.unlink()
        file.write_bytes(data)
    (place / "command").write_bytes(b" ".join(b"'" + w.replace(b"'", b"'\\''") + b"'" for w in words) + b"\n")


def search(program, demo, commands, root, options):
    """Runs seeds and prints findings; how many runs, statuses and findings there were."""
    end = time.monotonic() + options.seconds if options.seconds else None
    statuses, classes, runs = collections.Counter(), collections.Counter(), 0
    seeds = itertools.count(options.first)
    if end is None:
        seeds = itertools.islice(seeds, options.runs)
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        waiting = set()
        while True:
            while len(waiting) < 2 * options.jobs and (end is None or time.monotonic() < end):
                seed = next(seeds, None)
                if seed is None:
                    break
                waiting.add(pool.submit(one, seed, program, demo, commands, root))
            if not waiting:
                return runs, statuses, classes
            done, waiting = concurrent.futures.wait(waiting, return_when=concurrent.futures.FIRST_COMPLETED)
            for future in done:
                seed, found, words, status = future.result()
                runs += 1
                statuses[status] += 1
                for kind, what in found:
                    classes[kind] += 1
                    print(f"seed {seed}: {kind}: {what}\n    ohmtilt {b' '.join(words)!r}", flush=True)
                if found and options.keep:
                    keep(options.keep, seed, demo, words)


def main():
    global time_limit
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", type=Path)
    parser.add_argument("project", type=Path)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seconds", type=float, help="in place of --runs: go on for so long")
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--keep", type=Path, help="where the files of findings go")
    parser.add_argument("--time-limit", type=float, default=time_limit, help="seconds that one run may take")
    options = parser.parse_args()
    time_limit = options.time_limit
    program = str(options.program.resolve())
    commands = commands_of(program)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with tempfile.TemporaryDirectory(prefix="ohmtilt-fuzz-") as root:
        (Path(root) / "demo").mkdir()
        demo = copied_demo(options.project, Path(root) / "demo")
        runs, statuses, classes = search(program, demo, commands, root, options)
    told = ", ".join(f"{count} of status {status}" for status, count in sorted(statuses.items()))
    print(f"{runs} runs: {told}; findings: {dict(classes) or 'none'}")
    return 1 if classes else 0


if __name__ == "__main__":
    sys.exit(main())
