#!/usr/bin/env python3
"""Measures pictures in their pixels, by a decoder that shares no code with the program (Pillow, PyPI).

    measure.py FOLDER GROUND [--upright] [--clear-below] [--capitals AT_LEAST]

FOLDER holds the PNG files of `asfound stills`. Of each is asked:

- its size is 1920 by 1080 pixels, 3840 by 2160, or the same upright, and it has alpha exactly where it is
  to be laid over another picture;
- nothing lies outside the safe title area: 90 % of the width and of the height (SMPTE ST 2046-1), nor, where
  that is asked, in the lower fifth;
- with --capitals, for sessions whose names are of the letter H alone: every H found in the pixels stands at least
  as high as the capitals of words whose size is a thirtieth of the shorter side (0.66 of it, OS/2 sCapHeight of
  the font), and stands 4.5:1 on what lies behind it by the formula of WCAG 2.2 ("contrast ratio"), also when the
  picture is laid over white, black and grey. So many letters must be found at least.
"""

import re
import sys
from pathlib import Path

from PIL import Image, ImageChops

SAFE = 0.05
CAPITAL = 0.66
WORDS = 4.5


def luminance(colour):
    def linear(channel):
        c = channel / 255
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    r, g, b = (linear(channel) for channel in colour[:3])
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def inked(picture, ground):
    """1 where something is drawn, else 0."""
    if ground == "clear":
        return picture.getchannel("A").point(lambda a: 1 if a > 0 else 0)
    plain = Image.new("RGB", picture.size, picture.getpixel((0, 0)))
    r, g, b = ImageChops.difference(picture.convert("RGB"), plain).split()
    return ImageChops.lighter(ImageChops.lighter(r, g), b).point(lambda d: 1 if d > 2 else 0)


def components(mask):
    """Boxes (left, top, right, bottom) of what hangs together, with the runs of each, by rows."""
    width, height = mask.size
    rows = mask.tobytes()
    parent, runs_of, before = [], [], []

    def root(i):
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for y in range(height):
        here = []
        for found in re.finditer(b"\x01+", rows[y * width : (y + 1) * width]):
            left, right = found.span()
            own = len(parent)
            parent.append(own)
            runs_of.append((y, left, right))
            for other_left, other_right, other in before:
                if other_left <= right and left <= other_right:
                    parent[root(other)] = root(own)
            here.append((left, right, own))
        before = here
    groups = {}
    for index, run in enumerate(runs_of):
        groups.setdefault(root(index), []).append(run)
    return groups.values()


def letters(mask, least):
    """Boxes of what has the shape of an H: two stems as high as the whole, one bar between them."""
    for runs in components(mask):
        top, bottom = runs[0][0], runs[-1][0] + 1
        left, right = min(run[1] for run in runs), max(run[2] for run in runs)
        height, width = bottom - top, right - left
        if height < least or not 0.7 < width / height < 1.0:
            continue
        by_row = {}
        for y, start, end in runs:
            by_row.setdefault(y, []).append((start, end))
        shapes = ["x" if len(row) == 1 and row[0][1] - row[0][0] > 0.9 * width else "o" if len(row) == 2 else "?" for _, row in sorted(by_row.items())]
        text = "".join(shapes)
        if re.fullmatch(r"o{3,}\??x{1,}\??o{3,}", text) and abs(text.find("x") / len(text) - 0.5) < 0.2:
            yield left, top, right, bottom


def of_words(picture, ground, plain):
    """1 where a pixel is nearer to the colour of words than to what lies behind them."""
    flat = picture.convert("RGB")
    if ground == "light":
        return flat.convert("L").point(lambda v: 1 if v < 150 else 0)
    light = flat.convert("L").point(lambda v: 1 if v > 110 else 0)
    if ground == "clear":
        light = ImageChops.darker(light, picture.getchannel("A").point(lambda a: 1 if a > 128 else 0))
    return light


def letter_contrast(picture, ground, box):
    """The contrast of a letter's middle with what lies behind it, at its worst over other pictures."""
    left, top, right, bottom = box
    behind = picture.getpixel((0, 0)) if ground != "clear" else (0, 0, 0)
    # A stem is a few pixels wide, and its edges are neither ink nor ground: its own colour is the farthest from it.
    stem = max(range((right - left) // 4 + 1), key=lambda x: contrast(picture.getpixel((left + x, (top + bottom) // 2)), behind))
    core = picture.getpixel((left + stem, (top + bottom) // 2))
    if ground != "clear":
        return contrast(core, behind)
    worst = 21.0
    for under in ((255, 255, 255), (0, 0, 0), (119, 119, 119)):
        over = Image.new("RGBA", picture.size, under + (255,))
        piece = (left - 12, top - 12, right + 12, bottom + 12)
        laid = Image.alpha_composite(over.crop(piece), picture.crop(piece))
        # Just outside the stem lies the letter's own edge.
        outside = laid.getpixel((12 - 2, 12 + (bottom - top) // 2))
        worst = min(worst, contrast(laid.getpixel((12 + stem, 12 + (bottom - top) // 2)), outside))
    return worst


def measure(path, ground, upright, clear_below, capitals):
    picture = Image.open(path)
    picture.load()
    size = picture.size[::-1] if upright else picture.size
    assert size in ((1920, 1080), (3840, 2160)), f"{path.name}: {picture.size}"
    assert picture.mode == ("RGBA" if ground == "clear" else "RGB"), f"{path.name}: {picture.mode}"
    assert picture.info.get("Software", "").startswith("asfound "), path.name
    mask = inked(picture, ground)
    width, height = picture.size
    left, top, right, bottom = mask.getbbox()
    below = 0.2 if clear_below else SAFE
    assert left >= SAFE * width and right <= (1 - SAFE) * width, f"{path.name}: {left} to {right} of {width}"
    assert top >= SAFE * height and bottom <= (1 - below) * height, f"{path.name}: {top} to {bottom} of {height}"
    if ground == "clear":
        covers = set(picture.getchannel("A").tobytes())
        assert {0, 255} <= covers and len(covers) > 2, f"{path.name}: no real alpha"
    if not capitals:
        return 0, None, None
    least = CAPITAL * min(picture.size) / 30
    found = list(letters(of_words(picture, ground, picture.getpixel((0, 0))), 0.5 * least))
    heights = [box[3] - box[1] for box in found]
    if heights:
        # Half a pixel at either end is neither ink nor ground.
        assert min(heights) >= least - 1.0, f"{path.name}: a capital of {min(heights)} pixels, {least:.1f} wanted"
    contrasts = [letter_contrast(picture, ground, box) for box in found]
    if contrasts:
        assert min(contrasts) >= WORDS, f"{path.name}: contrast {min(contrasts):.2f}"
    return len(found), min(heights, default=None), min(contrasts, default=None)


def main():
    words = sys.argv[1:]
    capitals = int(words[words.index("--capitals") + 1]) if "--capitals" in words else 0
    folder, ground = Path(words[0]), words[1]
    pictures = sorted(folder.glob("*.png"))
    assert pictures, f"{folder}: no picture"
    results = [measure(path, ground, "--upright" in words, "--clear-below" in words, capitals) for path in pictures]
    said = f"{folder}: {len(pictures)} pictures measured"
    if capitals:
        count = sum(result[0] for result in results)
        assert count >= capitals, f"{folder}: {count} capitals found, {capitals} wanted"
        least = min(result[1] for result in results if result[1] is not None)
        worst = min(result[2] for result in results if result[2] is not None)
        said += f", {count} capitals, the lowest {least} pixels, contrast at least {worst:.2f}"
    print(said)


main()
