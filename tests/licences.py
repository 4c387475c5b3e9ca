#!/usr/bin/env python3
"""What asfound is made of, from `cargo metadata`:

- src/evidence/licences.txt: every package that is compiled into the program, with its version and its licence (SPDX);
- src/evidence/licence-texts.zz: the licence texts and notices that come with these packages, each once, and those of the
  fonts (zlib). Where a package lets one choose, MIT is chosen if it is among them, else Apache-2.0.

With --check it says whether the two are what it would write, and whether every package, of every platform, comes from
crates.io, may be used in any of the licences that deny.toml allows, stands there in one version or is named in deny.toml, and
asks for no newer Rust than Cargo.toml does."""
import json
import pathlib
import re
import subprocess
import sys
import tomllib
import zlib

root = pathlib.Path(__file__).resolve().parent.parent
target = root / "src/evidence/licences.txt"
texts_at = root / "src/evidence/licence-texts.zz"
REGISTRY = "registry+https://github.com/rust-lang/crates.io-index"


def metadata(*more):
    made = subprocess.run(
        ["cargo", "metadata", "--locked", "--format-version", "1", *more], cwd=root, check=True, capture_output=True
    )
    return json.loads(made.stdout)


def tree(*more):
    """The packages that cargo would compile, as "name version"; `cargo metadata` also lists some that no feature asks for."""
    line = ["cargo", "tree", "--locked", "--prefix", "none", "--no-dedupe", "--format", "{p}", *more]
    made = subprocess.run(line, cwd=root, check=True, capture_output=True, text=True).stdout
    rows = (row.split() for row in made.splitlines() if row)
    return {f"{row[0]} {row[1].removeprefix('v')}" for row in rows if row[0] != "asfound"}


def compiled(found):
    """The packages that are compiled into the program, tests and build scripts left out."""
    wanted = tree("--edges", "normal", "--target", "x86_64-unknown-linux-gnu")
    packages = [package for package in found["packages"] if f"{package['name']} {package['version']}" in wanted]
    return sorted(packages, key=lambda package: (package["name"], package["version"]))


def chosen(expression):
    """The choices of an SPDX expression, as sets of licences; `/` is how older packages write OR."""
    plain = expression.replace("/", " OR ").replace("(", " ( ").replace(")", " ) ")
    tokens = re.sub(r"\s+WITH\s+", "_WITH_", plain).split()

    def either():
        choices = both()
        while tokens and tokens[0] == "OR":
            tokens.pop(0)
            choices += both()
        return choices

    def both():
        choices = one()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            right = one()
            choices = [left | other for left in choices for other in right]
        return choices

    def one():
        token = tokens.pop(0)
        if token == "(":
            inner = either()
            tokens.pop(0)
            return inner
        return [frozenset([token.replace("_WITH_", " WITH ")])]

    return either()


def files(package):
    """Licence files of a package: of several licences to choose from, those of the one that was chosen."""
    folder = pathlib.Path(package["manifest_path"]).parent
    named = re.compile(r"^(licen[cs]e|copying|copyright|notice|unlicense)", re.IGNORECASE)
    found = [path for path in sorted(folder.iterdir()) if path.is_file() and named.match(path.name)]
    if package["license_file"] and (folder / package["license_file"]) not in found:
        found.append(folder / package["license_file"])
    choices = chosen(package["license"] or "")
    for wanted, mark in (("MIT", "mit"), ("Apache-2.0", "apache")):
        if len(choices) > 1 and frozenset([wanted]) in choices:
            its = [path for path in found if mark in path.name.lower()]
            notices = [path for path in found if re.match("notice|copyright", path.name.lower()) and path not in its]
            return its + notices if its else found
    return found


def list_of(packages):
    text = "What asfound is made of: package, version, licence (SPDX). `asfound licences --texts` prints the texts.\n"
    text += "The fonts in it are under the SIL Open Font License 1.1, Rust's own library under MIT OR Apache-2.0.\n\n"
    return text + "".join(f"{p['name']} {p['version']}: {p['license'] or 'see its files'}\n" for p in packages)


def texts_of(packages):
    """Each text once, under the names of the packages that it came with."""
    by_text, without = {}, []
    for package in packages:
        found = files(package)
        if not found:
            authors = ", ".join(re.sub(r"\s*<[^>]*>", "", author) for author in package["authors"])
            without.append(f"{package['name']} {package['version']}: {package['license']}" + (f"; {authors}" if authors else ""))
        for path in found:
            text = path.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n").strip()
            text = "\n".join(line.rstrip() for line in text.split("\n"))
            by_text.setdefault(text, []).append(f"{package['name']} {package['version']}")
    for path in sorted((root / "templates/fonts").glob("OFL-*.txt")):
        by_text.setdefault(path.read_text(encoding="utf-8").strip(), []).append(f"the fonts of {path.stem}")
    text = ""
    for words, names in sorted(by_text.items(), key=lambda pair: pair[1]):
        text += f"{'=' * 80}\n{', '.join(dict.fromkeys(names))}\n{'=' * 80}\n\n{words}\n\n"
    text += f"{'=' * 80}\nThese packages bring no text of their own; their licences' texts stand above.\n{'=' * 80}\n\n"
    return text + "".join(f"{line}\n" for line in without)


def wrong_in(found):
    """What is wrong with any package of any platform."""
    rules = tomllib.loads((root / "deny.toml").read_text(encoding="utf-8"))
    allowed, skipped = set(rules["licenses"]["allow"]), {entry["crate"] for entry in rules["bans"]["skip"]}
    ours = tomllib.loads((root / "Cargo.toml").read_text(encoding="utf-8"))["package"]["rust-version"]
    version = lambda text: tuple((list(map(int, text.split("-")[0].split("."))) + [0, 0])[:3])
    for package in found["packages"]:
        name = f"{package['name']} {package['version']}"
        if package["source"] is None and package["name"] == "asfound":
            continue
        if package["source"] != REGISTRY:
            yield f"{name} does not come from crates.io but from {package['source']}"
        if package["license"] is None:
            yield f"{name} names no licence"
        elif not any(choice <= allowed for choice in chosen(package["license"])):
            yield f"{name} is under {package['license']}, which deny.toml does not allow"
        if package["rust_version"] and version(package["rust_version"]) > version(ours):
            yield f"{name} needs Rust {package['rust_version']}, and Cargo.toml promises {ours}"


    # Several versions of one package: all but one are told of in deny.toml, and nothing else is.
    versions = {}
    targets = [word for target in rules["graph"]["targets"] for word in ("--target", target)]
    for package in sorted(tree("--edges", "normal,build", *targets)):
        versions.setdefault(package.split()[0], []).append(package.replace(" ", "@"))
    for name, all_of in versions.items():
        if len([one for one in all_of if one not in skipped]) > 1:
            yield f"{name} is there in {len(all_of)} versions, {', '.join(all_of)}; say in deny.toml which are borne with, and why"
    alone = {one for all_of in versions.values() if len(all_of) > 1 for one in all_of}
    for gone in sorted(skipped - alone):
        yield f"deny.toml bears with {gone}, which has no second version any more"


def main():
    packages = compiled(metadata())
    text, texts = list_of(packages), texts_of(packages)
    if "--check" not in sys.argv[1:]:
        target.write_text(text, encoding="utf-8")
        texts_at.write_bytes(zlib.compress(texts.encode(), 9))
        print(f"{len(packages)} packages, {len(texts)} letters of licences")
        return
    wrong = list(wrong_in(metadata()))
    if target.read_text(encoding="utf-8") != text:
        wrong.append("src/evidence/licences.txt is not up to date; run python3 tests/licences.py")
    # What is packed differently by another zlib is the same text.
    if zlib.decompress(texts_at.read_bytes()).decode() != texts:
        wrong.append("src/evidence/licence-texts.zz is not up to date; run python3 tests/licences.py")
    if wrong:
        sys.exit("\n".join(wrong))


main()
