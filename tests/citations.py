"""Every key cited in the sources, as [Bode1945], stands in lib/BIBLIOGRAPHY.md, and every key there is cited.

usage: citations.py PROJECT
"""
import re
import sys
from pathlib import Path

project = Path(sys.argv[1])
known = re.findall(r"^\| `\[(\w+)\]` \|", (project / "lib/BIBLIOGRAPHY.md").read_text(), re.M)
cited = {}
for file in sorted(f for folder in ("lib", "plots", "tools", "tests") for f in (project / folder).rglob("*")
                   if f.suffix in (".h", ".cpp", ".py", ".md") and f.name != "BIBLIOGRAPHY.md"):
    for key in re.findall(r"\[([A-Z][A-Za-z]*\d{3,5})\]", file.read_text()):
        cited.setdefault(key, file.relative_to(project))
wrong = [f"{cited[key]}: [{key}] is not in lib/BIBLIOGRAPHY.md" for key in cited if key not in known]
wrong += [f"lib/BIBLIOGRAPHY.md: [{key}] is cited nowhere" for key in known if key not in cited]
wrong += [f"lib/BIBLIOGRAPHY.md: [{key}] stands twice" for key in sorted(set(known)) if known.count(key) > 1]
print("\n".join(wrong) or f"{len(known)} keys")
sys.exit(1 if wrong else 0)
