"""Prints the licences of the crates that are built into the program, each text once."""

import json
import subprocess
from pathlib import Path

NAMES = ("licen", "copying", "notice", "copyright", "unlicense")
MOST_BYTES = 100_000


def metadata():
    host = subprocess.run(["rustc", "-vV"], check=True, capture_output=True, text=True).stdout
    host = next(line.split()[1] for line in host.splitlines() if line.startswith("host: "))
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", host]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def below(about, name):
    """Ids of the packages that the program needs to run, and of what these are built with."""
    nodes = {node["id"]: node for node in about["resolve"]["nodes"]}
    first = next(p["id"] for p in about["packages"] if p["name"] == name)
    seen, left = set(), [first]
    while left:
        one = left.pop()
        if one in seen:
            continue
        seen.add(one)
        for dep in nodes[one]["deps"]:
            if any(kind["kind"] != "dev" for kind in dep["dep_kinds"]):
                left.append(dep["pkg"])
    return seen


def texts(package):
    folder = Path(package["manifest_path"]).parent
    files = sorted(p for p in folder.iterdir() if p.is_file() and p.name.lower().startswith(NAMES))
    # Libraries in C bring their own beside their sources.
    files += sorted(p for p in folder.glob("*/*") if p.is_file() and p.name.lower().startswith(NAMES))
    return [p.read_text(errors="replace").strip() for p in files if p.stat().st_size <= MOST_BYTES]


about = metadata()
needed = below(about, "traybook")
by_text, without = {}, []
for package in sorted(about["packages"], key=lambda p: p["name"]):
    if package["id"] not in needed or package["source"] is None:
        continue
    name = f"{package['name']} {package['version']} ({package['license']})"
    found = texts(package)
    if not found:
        without.append(name)
    for text in found:
        by_text.setdefault(text, []).append(name)

print("What is built into traybook, and its licences.\n")
for text, names in by_text.items():
    print("=" * 80, *sorted(set(names)), "-" * 80, text, sep="\n", end="\n\n")
print("=" * 80, "Without a text of their own; the licence is named in their package:", *without, sep="\n")
