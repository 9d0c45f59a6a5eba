"""Every figure of tools/gallery as a PDF, at three lengths of all titles: no word leaves the page.

Where words stand is told by pdftotext -bbox (poppler), which has no part in drawing them.
usage: pdf_words.py PROGRAM PROJECT
"""
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

program, project = Path(sys.argv[1]), Path(sys.argv[2])
SKIPPED = 77
TITLES = {
    "short": "A",
    "common": "Two-way armature pair behind a pad, measured in June",
    "long": "A title that somebody went on writing, with a model, a cable, a date, a place " * 5,
}


def figures():
    """(flag, name, arguments) of each figure that tools/gallery draws."""
    text = (project / "tools/gallery").read_text()
    for line in text.splitlines():
        if not re.match(r"draw(_by)? ", line):
            continue
        words = shlex.split(line.replace("$demo/", "curves/").replace("$demo", "curves"))
        flag, name, *arguments = words[1:] if words[0] == "draw_by" else ["--plot", *words[1:]]
        yield flag, name, [a.replace("$scratch/", "") for a in arguments]


def give_titles(folder, title):
    """The demo data with this title in every file."""
    for file in folder.rglob("*"):
        if file.suffix not in (".toml", ".csv"):
            continue
        text = file.read_text()
        text = re.sub(r'^title = ".*"', f'title = "{title}"', text, flags=re.M)
        file.write_text(re.sub(r"^# title: .*", f"# title: {title}", text, flags=re.M))


def words_outside(pdf):
    """The words of a PDF that do not lie on its page."""
    page = subprocess.run(["pdftotext", "-bbox", pdf, "-"], check=True, capture_output=True, text=True).stdout
    width, height = map(float, re.search(r'<page width="([\d.]+)" height="([\d.]+)"', page).groups())
    boxes = re.findall(r'<word xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*?)</word>', page)
    assert boxes, f"{pdf} has no words"
    return [word for left, top, right, bottom, word in boxes
            if float(left) < 0 or float(top) < 0 or float(right) > width or float(bottom) > height]


def main():
    if not shutil.which("pdftotext"):
        print("pdftotext is not installed (Debian: poppler-utils)")
        return SKIPPED
    wrong = 0
    for length, title in TITLES.items():
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            shutil.copytree(project / "impedance-curves", folder / "curves")
            give_titles(folder / "curves", title)
            for flag, name, arguments in figures():
                pdf = folder / (Path(name).stem + ".pdf")
                ran = subprocess.run([program, *arguments, flag, pdf, "--force"], cwd=folder, capture_output=True)
                if ran.returncode > 1:
                    print(f"{name}, {length}: status {ran.returncode}: {ran.stderr.decode()}")
                    wrong += 1
                    continue
                for word in words_outside(pdf):
                    print(f"{name}, {length} title: \"{word}\" leaves the page")
                    wrong += 1
    return 1 if wrong else 0


sys.exit(main())
