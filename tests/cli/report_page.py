#!/usr/bin/python3
"""Holds pages of `ohmtilt report` against HTML5 as others read it: Python's own parser and tidy.

usage: report_page.py PROGRAM FOLDER-OF-THE-DEMO-FILES

The policy's hash is made anew with hashlib; that the page is valid is tidy's word (a page that is not is tried first,
so that a tidy that says yes to everything is noticed).
"""
import base64
import hashlib
import html.parser
import pathlib
import re
import subprocess
import sys
import tempfile

VOID = {"meta", "br", "hr", "img", "input", "link"}
SVG_SHAPES = {"path", "rect", "circle", "polygon", "use"}
HOSTILE = "<script>alert(1)</script>\\\" onload='x' ]]> &amp; <!-- ${HOME} `id` \\u202e"


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.stack, self.wrong, self.headings, self.ids, self.links = [], [], [], [], []
        self.names, self.svgs, self.style, self.meta, self.said = set(), [], "", [], ""
        self.feed(text)
        self.close()
        if self.stack:
            self.wrong.append(f"not closed: {self.stack}")

    def handle_starttag(self, tag, attributes):
        names = [name for name, _ in attributes]
        given = dict(attributes)
        self.names.add(tag)
        if len(names) != len(set(names)):
            self.wrong.append(f"an attribute twice in {tag}")
        self.wrong += [f"{tag} has {name}" for name in names if name.startswith("on") or name in ("style", "src")]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if "id" in given:
            self.ids.append(given["id"])
        if "href" in given:
            self.links.append(given["href"])
        if tag == "svg":
            self.svgs.append(given)
        if tag == "meta":
            self.meta.append(given)
        if tag not in VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in SVG_SHAPES:
            self.wrong.append(f"{tag} is no empty element")
        self.stack.pop()

    def handle_endtag(self, tag):
        if not self.stack or self.stack.pop() != tag:
            self.wrong.append(f"</{tag}> closes another element")

    def handle_data(self, data):
        if self.stack and self.stack[-1] == "style":
            self.style += data
        else:
            self.said += data


def faults(text):
    """Everything that is wrong with a page, a line each."""
    page = Page(text)
    wrong = list(page.wrong)
    if not text.startswith("<!DOCTYPE html>"):
        wrong.append("no doctype")
    if page.headings.count(1) != 1 or page.headings[0] != 1:
        wrong.append("not one h1 at the start")
    wrong += [f"h{a} is followed by h{b}" for a, b in zip(page.headings, page.headings[1:]) if b > a + 1]
    wrong += [f"id twice: {one}" for one in set(page.ids) if page.ids.count(one) > 1]
    wrong += [f"link to outside or nowhere: {link}" for link in page.links
              if not link.startswith("#") or link[1:] not in page.ids]
    wrong += [f"forbidden element: {tag}" for tag in
              page.names & {"script", "iframe", "object", "embed", "link", "img", "base", "form", "image", "a:href"}]
    wrong += ["a picture says nothing" for svg in page.svgs
              if svg.get("role") != "img" or len(svg.get("aria-label", "")) < 10]
    if not page.svgs:
        wrong.append("no picture")
    digest = base64.b64encode(hashlib.sha256(page.style.encode()).digest()).decode()
    policy = [meta.get("content", "") for meta in page.meta if meta.get("http-equiv") == "Content-Security-Policy"]
    if len(policy) != 1 or not policy[0].startswith(f"default-src 'none'; style-src 'sha256-{digest}';"):
        wrong.append(f"policy {policy}, expected the hash {digest}")
    if re.search(r"https?:|url\(|@import|javascript:", text):
        wrong.append("an address")
    return wrong


def tidy_says(text):
    ran = subprocess.run(["tidy", "-quiet", "-errors", "-utf8", "--show-warnings", "yes", "--drop-empty-elements", "no"],
                         input=text.encode(), capture_output=True, check=False)
    return [line for line in ran.stderr.decode(errors="replace").splitlines() if line.strip()]


def hostile_files(folder):
    title = f'title = "{HOSTILE}"\n'
    (folder / "h.csv").write_text(f"# title: {HOSTILE}\n# condition: <b onclick='x'>\n"
                                  "frequency_hz,magnitude_ohm\n20,30\n1000,20\n3000,45\n20000,60\n")
    (folder / "h.earphone.toml").write_text(title + 'kind = "<i>"\nimpedance = "h.csv"\nsensitivity_db_per_volt = 120\n')
    (folder / "h.chain.toml").write_text(title + "[source]\noutput_ohm = 0.5\nopen_volt = 2\nnoise_volt = 2e-6\n"
                                         "bias_volt = 1\nshared_return_ohm = 0.1\n"
                                         '[[stage]]\nkind = "pad"\ntopology = "L"\nseries_ohm = 18\nshunt_ohm = 9.1\n')
    return [str(folder / "h.chain.toml"), str(folder / "h.earphone.toml"), str(folder / "h.csv")]


def main(program, demo):
    demo = pathlib.Path(demo)
    failed = 0
    with tempfile.TemporaryDirectory() as made:
        folder = pathlib.Path(made)
        chain = str(demo / "attenuator-engaged.chain.toml")
        earphones = sorted(str(one) for one in demo.glob("*.earphone.toml"))
        for name, files in (("one", [chain, earphones[0]]), ("all", [chain, *earphones]),
                            ("bare", ["6", str(demo / "planar.csv")]), ("hostile", hostile_files(folder))):
            page = folder / f"{name}.html"
            subprocess.run([program, "report", *files, "-o", str(page)], check=True, capture_output=True)
            text = page.read_text(encoding="utf-8")
            wrong = faults(text) + tidy_says(text)
            if name == "hostile" and "<script>alert(1)</script>" not in Page(text).said:
                wrong.append("the hostile title is not shown as text")
            print(name, "\n".join(wrong) if wrong else "is valid")
            failed += len(wrong)
    broken = "<!DOCTYPE html><html><head></head><body><h1>x<h3 id=a><p id=a></div></body></html>"
    if not tidy_says(broken) or len(faults(broken)) < 5:
        print("the checks do not notice a broken page")
        failed += 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
