#!/usr/bin/env python3
"""Writes src/evidence/licences.txt (every package that is compiled into the program, with its version and its licence as an
SPDX expression, from `cargo metadata`), or with --check says whether it is what it would write."""
import json
import pathlib
import subprocess
import sys

root = pathlib.Path(__file__).resolve().parent.parent
target = root / "src/evidence/licences.txt"
metadata = json.loads(
    subprocess.run(
        ["cargo", "metadata", "--locked", "--format-version", "1", "--filter-platform", "x86_64-unknown-linux-gnu"],
        cwd=root,
        check=True,
        capture_output=True,
    ).stdout
)
packages = {package["id"]: package for package in metadata["packages"]}
nodes = {node["id"]: node for node in metadata["resolve"]["nodes"]}
ours = metadata["resolve"]["root"]
wanted, waiting = set(), [ours]
while waiting:
    for dependency in nodes[waiting.pop()]["deps"]:
        built_in = any(kind["kind"] is None for kind in dependency["dep_kinds"])
        if built_in and dependency["pkg"] not in wanted:
            wanted.add(dependency["pkg"])
            waiting.append(dependency["pkg"])
rows = sorted((packages[i]["name"], packages[i]["version"], packages[i]["license"] or "see its files") for i in wanted)
text = "What asfound is made of: package, version, licence (SPDX). The texts come with each package's source, on crates.io.\n"
text += "The fonts in it are under the SIL Open Font License 1.1.\n\n"
text += "".join(f"{name} {version}: {licence}\n" for name, version, licence in rows)
if "--check" in sys.argv[1:]:
    if target.read_text(encoding="utf-8") != text:
        sys.exit("src/evidence/licences.txt is not up to date; run python3 tests/licences.py")
else:
    target.write_text(text, encoding="utf-8")
    print(f"{len(rows)} packages")
