#!/usr/bin/env python3
"""Holds the layout that DEVELOPERS.md describes: a folder includes only folders that stand before it, and inside analysis/ and
design/ the subfolders do not know one another, but for the one that each lists here. Ends with 1 and names every include that
goes the wrong way. What only POSIX systems have is known to one file for each thing that needs it. The library names no flag of
the command line: it speaks of values, and a command says which flag gives them.

usage: layers.py SOURCE_DIR"""
import pathlib
import re
import sys

ORDER = ["text", "base", "hearing", "curve", "circuit", "model", "chain", "analysis", "design", "measure", "plots", "tools"]
SHARED = {"analysis": "deviation", "design": "insertion"}  # what a folder's other subfolders may include

POSIX = re.compile(r"#include <(unistd|fcntl|signal|csignal|spawn|poll|dirent|termios|pthread|pwd|sys/[a-z]+)(\.h)?>")
POSIX_FILES = {"ohmtilt/text/input_file.cpp", "ohmtilt/text/inputs_read.cpp", "ohmtilt/text/output_file.cpp", "ohmtilt/text/temporary_name.cpp",
               "plots/child_process.h", "plots/child_process.cpp", "tools/ohmtilt/program/signals.cpp",
               "tools/ohmtilt/program/standard_streams.cpp", "tools/live/given_files.cpp"}
FLAG = re.compile(r'^(?! *//).*"[^"]*--[a-z]')


def place(path):
    """(layer, subfolder or None) of lib/ohmtilt/LAYER/..., plots/... or tools/..."""
    parts = path.parts
    if parts[0] == "ohmtilt":
        parts = parts[1:]
    return parts[0], parts[1] if len(parts) > 2 else None


def wrong(here, there):
    if ORDER.index(there[0]) != ORDER.index(here[0]):
        return ORDER.index(there[0]) > ORDER.index(here[0])
    if here[0] not in SHARED or there[1] is None or here[1] == there[1]:
        return here[0] in SHARED and here[1] is not None and there[1] is None
    return here[1] is not None and there[1] != SHARED[here[0]]


def main(source):
    found, includes = [], 0
    for base, folder in ((source / "lib", "ohmtilt"), (source, "plots"), (source, "tools")):
        for file in sorted((base / folder).rglob("*")):
            if file.suffix not in (".h", ".cpp"):
                continue
            here = place(file.relative_to(base))
            if here[0] not in ORDER:  # ohmtilt.h, the public surface, names all of them
                continue
            for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
                if POSIX.match(line) and str(file.relative_to(base)) not in POSIX_FILES:
                    found.append(f"{file.relative_to(source)}:{number}: {line}: only POSIX has it; see POSIX_FILES in tests/layers.py")
                if base != source and FLAG.match(line):
                    found.append(f"{file.relative_to(source)}:{number}: names a flag; let the command that has it do so")
                include = re.match(r'#include ["<]((?:ohmtilt|plots|tools)/[^">]+)[">]', line)
                if not include:
                    continue
                includes += 1
                if include[1] == "ohmtilt/ohmtilt.h" or wrong(here, place(pathlib.PurePath(include[1]))):
                    found.append(f"{file.relative_to(source)}:{number}: includes {include[1]}, which does not stand below it")
    print("\n".join(found) or f"{includes} includes, none the wrong way")
    return 1 if found or includes < 100 else 0


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1])))
