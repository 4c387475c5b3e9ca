"""The captions read by a parser that shares no code with the program (webvtt-py 0.6.0, PyPI), and held against the
filled script.

    python3 tests/captions/check.py OUT/SESSION...

Checked: the parser takes the file without a fault; captions follow each other in time and do not overlap; each has one line
or two of at most 42 letters and lasts at most seven seconds; the words of all of them, in order, are the words of script.md
without its headings, comments, cues and marks of CommonMark (commonmark.py 0.9.1, PyPI, reads them); stills.txt has its
times in order, within the running time.
"""

import html
import re
import sys
from pathlib import Path

import commonmark
import webvtt

FAULTS = []
CUE = re.compile(r"\[(still:.*|camera|pause:.*)\]", re.IGNORECASE)


def fault(path, what):
    FAULTS.append(f"{path}: {what}")


def spoken(markdown):
    """The words of the paragraphs, line by line, without cues."""
    words = []
    for node, entering in commonmark.Parser().parse(markdown).walker():
        if not entering or node.t != "paragraph":
            continue
        line, lines = "", []
        for inner, inside in node.walker():
            if not inside:
                continue
            if inner.t in ("text", "code"):
                line += inner.literal
            elif inner.t in ("softbreak", "linebreak"):
                lines.append(line)
                line = ""
        lines.append(line)
        for line in lines:
            if not CUE.fullmatch(line.strip()):
                words += line.split()
    return words


def seconds(stamp):
    total = 0.0
    for part in stamp.split(":"):
        total = total * 60 + float(part)
    return total


def of_captions(folder):
    path = folder / "script.vtt"
    captions = webvtt.read(str(path))
    last, words = 0.0, []
    for n, caption in enumerate(captions, start=1):
        start, end = seconds(caption.start), seconds(caption.end)
        if start < last - 1e-9 or end <= start:
            fault(path, f"caption {n} from {start} to {end} after {last}")
        if end - start > 7.0:
            fault(path, f"caption {n} lasts {end - start} s")
        if caption.identifier != str(n):
            fault(path, f"caption {n} is called {caption.identifier}")
        lines = [html.unescape(line) for line in caption.lines]
        if not 1 <= len(lines) <= 2 or any(len(line) > 42 for line in lines):
            fault(path, f"caption {n}: {lines}")
        last = end
        words += " ".join(lines).split()
    wanted = spoken((folder / "script.md").read_text(encoding="utf-8"))
    if words != wanted:
        apart = next((n for n, pair in enumerate(zip(words, wanted)) if pair[0] != pair[1]), min(len(words), len(wanted)))
        fault(path, f"word {apart}: {words[apart:apart + 8]} in the captions, {wanted[apart:apart + 8]} in script.md")
    print(f"{path}: {len(captions)} captions, {len(words)} words, {last:.1f} s")
    return last


def of_stills(folder, length):
    path, last = folder / "stills.txt", 0.0
    for line in path.read_text(encoding="utf-8").splitlines()[2:]:
        start, until, _ = line.split(maxsplit=2)
        start, until = seconds(start), seconds(until)
        if start < last or until <= start or until > length + 1:
            fault(path, f"out of order: {line}")
        last = until


def main(folders):
    for folder in map(Path, folders):
        of_stills(folder, of_captions(folder))
    print("\n".join(FAULTS) if FAULTS else "nothing wrong")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
