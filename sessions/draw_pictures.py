#!/usr/bin/env python3
"""Draws the pictures of the demo session. They are drawings, since the machine is invented and no camera saw it.

Every picture is painted at twice its size and scaled down: shapes are masks, and
each mask is filled with a field of colour that is worked out per pixel, so that
a cylinder is round and a disc is turned. JPEGs carry the date of the visit as
their EXIF DateTimeOriginal. The same versions of the libraries give the same bytes.

    python3 -m pip install numpy pillow piexif     (drawn with numpy 2.4.6, pillow 13.0.0, piexif 1.1.3)
    python3 draw_pictures.py
"""

from pathlib import Path

import numpy as np
import piexif
from PIL import Image, ImageDraw, ImageFilter, ImageFont

WIDE, HIGH, OVER = 1000, 750, 2
HERE = Path(__file__).parent / "arbor-bearings"

STEEL = (0.70, 0.72, 0.75)
DARK_STEEL = (0.38, 0.40, 0.43)
IRON = (0.46, 0.48, 0.50)
BLACK = (0.10, 0.10, 0.11)
CARD = (0.72, 0.56, 0.38)


class Canvas:
    """A picture in linear floats, OVER times as large as what is saved; coordinates are those of the saved one."""

    def __init__(self, top, bottom, seed):
        self.random = np.random.Generator(np.random.PCG64(seed))
        rows, columns = HIGH * OVER, WIDE * OVER
        self.y, self.x = np.mgrid[0:rows, 0:columns].astype(np.float32) / OVER
        fall = (self.y / HIGH)[..., None]
        self.rgb = (1 - fall) * np.array(top, np.float32) + fall * np.array(bottom, np.float32)

    def mask(self, draw):
        image = Image.new("L", (WIDE * OVER, HIGH * OVER), 0)
        draw(ImageDraw.Draw(image))
        return np.asarray(image, np.float32) / 255

    def polygon(self, points):
        return self.mask(lambda d: d.polygon([(x * OVER, y * OVER) for x, y in points], fill=255))

    def box(self, left, top, right, bottom, round_by=0):
        edges = [left * OVER, top * OVER, right * OVER, bottom * OVER]
        return self.mask(lambda d: d.rounded_rectangle(edges, radius=round_by * OVER, fill=255))

    def oval(self, cx, cy, rx, ry=None):
        ry = rx if ry is None else ry
        edges = [(cx - rx) * OVER, (cy - ry) * OVER, (cx + rx) * OVER, (cy + ry) * OVER]
        return self.mask(lambda d: d.ellipse(edges, fill=255))

    def specks(self, spots):
        """Many small ovals in one mask: (x, y, rx, ry, how dark from 0 to 1) each."""
        def draw(pen):
            for x, y, rx, ry, dark in spots:
                pen.ellipse([(x - rx) * OVER, (y - ry) * OVER, (x + rx) * OVER, (y + ry) * OVER], fill=round(255 * dark))

        return self.mask(draw)

    def line(self, points, width):
        path = [(x * OVER, y * OVER) for x, y in points]
        return self.mask(lambda d: d.line(path, fill=255, width=round(width * OVER), joint="curve"))

    def soft(self, mask, blur):
        image = Image.fromarray((mask * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(blur * OVER))
        return np.asarray(image, np.float32) / 255

    def paint(self, mask, colour, strength=1.0):
        """Lays a colour, or a field of colour as large as the canvas, over what the mask covers."""
        cover = (mask * strength)[..., None]
        self.rgb = self.rgb * (1 - cover) + np.asarray(colour, np.float32) * cover

    def shadow(self, mask, dx=8, dy=12, blur=12, strength=0.45):
        down, right = round(dy * OVER), round(dx * OVER)
        moved = np.zeros_like(mask)
        moved[down:, right:] = mask[: mask.shape[0] - down, : mask.shape[1] - right]
        self.paint(self.soft(moved, blur), BLACK, strength)

    def grain(self, size):
        """Even grey noise about 1, for surfaces that are not painted."""
        return 1 + self.random.normal(0, size, self.x.shape).astype(np.float32)[..., None]

    def across(self, low, high, axis, colour):
        """A cylinder's sheen between two edges along `axis` ('x' or 'y'): a bright line, a dark flank, a rim light."""
        where = np.clip(((self.y if axis == "y" else self.x) - low) / (high - low), 0, 1)
        light = 0.42 + 0.55 * np.exp(-(((where - 0.30) / 0.17) ** 2)) + 0.20 * np.exp(-(((where - 0.93) / 0.06) ** 2))
        light -= 0.16 * np.exp(-(((where - 0.74) / 0.12) ** 2))
        return np.clip(light[..., None] * 1.25 * np.array(colour, np.float32), 0, 1)

    def turned(self, cx, cy, colour, contrast=0.22):
        """A faced disc: the fans of light that fine turning marks throw."""
        angle, radius = np.arctan2(self.y - cy, self.x - cx), np.hypot(self.x - cx, self.y - cy)
        light = 0.86 + contrast * np.cos(2 * angle + 0.9) + 0.10 * np.cos(4 * angle + 2.0) + 0.02 * np.sin(radius * 1.9)
        return np.clip(light[..., None] * np.array(colour, np.float32), 0, 1)

    def finished(self):
        edge = np.hypot((self.x - WIDE / 2) / WIDE, (self.y - HIGH / 2) / HIGH)
        picture = self.rgb * (1 - 0.35 * np.clip(edge - 0.35, 0, 1))[..., None]
        image = Image.fromarray((np.clip(picture, 0, 1) * 255).astype(np.uint8))
        return image.resize((WIDE, HIGH), Image.Resampling.LANCZOS)

    def save_jpeg(self, path, taken):
        path.parent.mkdir(parents=True, exist_ok=True)
        self.finished().save(path, "JPEG", quality=86, optimize=True, exif=said(path, taken))


# A telephone took these two: it knew the offset of its clock, and wrote a place, which lies in the open sea.
BY_TELEPHONE = {"bearing.jpg": b"-05:00", "dial.jpg": b"-05:00"}
PLACE = {
    piexif.GPSIFD.GPSVersionID: (2, 3, 0, 0),
    piexif.GPSIFD.GPSLatitudeRef: b"S",
    piexif.GPSIFD.GPSLatitude: ((12, 1), (30, 1), (1800, 100)),
    piexif.GPSIFD.GPSLongitudeRef: b"W",
    piexif.GPSIFD.GPSLongitude: ((25, 1), (15, 1), (3600, 100)),
}


def said(path, taken):
    """The Exif data: when, and from the telephone also where."""
    stamp = taken.encode("ascii")
    exif = {"0th": {piexif.ImageIFD.DateTime: stamp}, "Exif": {piexif.ExifIFD.DateTimeOriginal: stamp}}
    if path.name in BY_TELEPHONE:
        exif["Exif"][piexif.ExifIFD.OffsetTimeOriginal] = BY_TELEPHONE[path.name]
        exif["GPS"] = PLACE
    return piexif.dump(exif)


def digits(canvas, text, middle, top, high, ink):
    """Seven-segment figures, as a liquid-crystal display shows them."""
    lit = {"0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc", "5": "afgcd",
           "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg", "-": "g"}
    wide, thick = high * 0.5, high * 0.11
    step, dot = wide + thick * 2.4, thick * 1.6
    x = middle - (sum(dot if letter == "." else step for letter in text) - thick * 2.4) / 2
    for letter in text:
        if letter == ".":
            canvas.paint(canvas.box(x - thick * 0.4, top + high - thick, x + thick * 0.8, top + high), ink)
            x += dot
            continue
        ends = {"a": (0, 0, 1, 0), "b": (1, 0, 1, 0.5), "c": (1, 0.5, 1, 1), "d": (0, 1, 1, 1),
                "e": (0, 0.5, 0, 1), "f": (0, 0, 0, 0.5), "g": (0, 0.5, 1, 0.5)}
        for segment in lit[letter]:
            x0, y0, x1, y1 = ends[segment]
            canvas.paint(canvas.line([(x + x0 * wide, top + y0 * high), (x + x1 * wide, top + y1 * high)], thick), ink)
        x += step


def workshop(seed):
    """A dim wall, out of focus, above a cast-iron table."""
    canvas = Canvas((0.30, 0.33, 0.36), (0.20, 0.21, 0.23), seed)
    for cx, cy, r, tint in [(180, 120, 130, 0.10), (760, 80, 170, 0.08), (520, 230, 90, 0.05)]:
        canvas.paint(canvas.soft(canvas.oval(cx, cy, r), 45), (0.95, 0.90, 0.78), tint)
    top = canvas.box(-10, 610, WIDE + 10, HIGH + 10)
    sheen = 0.75 + 0.35 * np.exp(-(((canvas.x - 420) / 260) ** 2))
    canvas.paint(top, np.clip(sheen[..., None] * np.array(IRON, np.float32) * canvas.grain(0.05), 0, 1))
    canvas.paint(canvas.box(-10, 606, WIDE + 10, 612), (0.80, 0.82, 0.84), 0.7)
    return canvas


def arbor(canvas, colour, chalk):
    """The flange at the left, the plain arbor, its thread at the right; centre line at y = 440."""
    housing = canvas.box(-20, 300, 150, 580, 18)
    canvas.shadow(housing)
    canvas.paint(housing, canvas.across(300, 580, "y", (0.30, 0.37, 0.36)) * canvas.grain(0.03))
    shaft = canvas.box(150, 385, 800, 495)
    canvas.shadow(shaft, 4, 26, 16)
    canvas.paint(shaft, canvas.across(385, 495, "y", colour))
    for x in np.arange(630, 800, 11):  # the thread's flanks
        canvas.paint(canvas.polygon([(x, 385), (x + 5, 385), (x + 9, 495), (x + 4, 495)]), BLACK, 0.42)
        canvas.paint(canvas.polygon([(x + 5, 385), (x + 7, 385), (x + 11, 495), (x + 9, 495)]), (1, 1, 1), 0.25)
    canvas.paint(canvas.box(786, 385, 800, 495, 5), canvas.across(385, 495, "y", DARK_STEEL), 0.8)
    flange = canvas.box(150, 268, 232, 612, 7)
    canvas.shadow(flange, 14, 8, 14)
    canvas.paint(flange, canvas.across(268, 612, "y", colour))
    canvas.paint(canvas.box(222, 272, 232, 608, 4), (1, 1, 1), 0.28)
    for y in chalk:
        canvas.paint(canvas.soft(canvas.line([(156, y), (224, y + 2)], 5), 1.2), (0.98, 0.97, 0.92), 0.85)


def plunger_picture(path, taken, shown, worn, at, seed):
    canvas = workshop(seed)
    arbor(canvas, (0.66, 0.64, 0.60) if worn else STEEL, [312, 352, 440, 530, 572])
    if worn:  # fretting where the washer sat, and rust
        chance = canvas.random
        stains = [(245 + abs(chance.normal(0, 60)), chance.uniform(392, 488), chance.uniform(1, 5),
                   chance.uniform(0.6, 2), chance.uniform(0.1, 0.5)) for _ in range(420)]
        canvas.paint(canvas.specks(stains), (0.36, 0.22, 0.13))
    post = canvas.box(872, 60, 902, 640, 4)
    canvas.shadow(post, 10, 4, 10)
    canvas.paint(post, canvas.across(872, 902, "x", STEEL))
    base = canvas.box(800, 596, 976, 700, 8)
    canvas.shadow(base, 8, 14, 14)
    canvas.paint(base, canvas.across(596, 740, "y", (0.24, 0.26, 0.28)))
    arm = canvas.box(at, 128, 890, 152, 6)
    canvas.shadow(arm, 2, 12, 10)
    canvas.paint(arm, canvas.across(128, 152, "y", STEEL))
    canvas.paint(canvas.box(862, 112, 914, 168, 8), canvas.across(112, 168, "y", DARK_STEEL))
    stem = canvas.box(at - 11, 250, at + 11, 322, 2)
    canvas.paint(stem, canvas.across(at - 11, at + 11, "x", STEEL))
    canvas.paint(canvas.box(at - 5, 320, at + 5, 374), canvas.across(at - 5, at + 5, "x", STEEL))
    canvas.paint(canvas.oval(at, 377, 8), canvas.across(at - 8, at + 8, "x", DARK_STEEL))
    body = canvas.oval(at, 150, 116)
    canvas.shadow(body, 10, 16, 18)
    canvas.paint(body, canvas.turned(at, 150, (0.56, 0.58, 0.61)))
    canvas.paint(canvas.oval(at, 150, 104), (0.13, 0.14, 0.16))
    canvas.paint(canvas.box(at - 84, 104, at + 84, 176, 8), (0.73, 0.78, 0.70))
    canvas.paint(canvas.box(at - 84, 104, at + 84, 114, 5), BLACK, 0.16)
    digits(canvas, shown, at, 129, 32, (0.12, 0.14, 0.12))
    for dx in (-44, 0, 44):
        canvas.paint(canvas.oval(at + dx, 212, 13), canvas.turned(at + dx, 212, (0.42, 0.44, 0.47)))
    canvas.save_jpeg(path, taken)


def teeth(cx, cy, inner, outer, count):
    """The outline of a saw blade: a gullet and a hooked tooth, `count` times."""
    points = []
    for tooth in range(count):
        for part, radius in [(0.0, outer), (0.05, outer - 2), (0.52, inner + 8), (0.62, inner - 6), (0.85, inner - 2)]:
            angle = 2 * np.pi * (tooth + part) / count
            points.append((cx + radius * np.cos(angle), cy + radius * np.sin(angle)))
    return points


def blade_picture(path, taken, seed):
    canvas = workshop(seed)
    cx, cy = 400, 560
    plate = canvas.polygon(teeth(cx, cy, 430, 452, 40))
    canvas.shadow(plate, 14, 8, 20)
    canvas.paint(plate, canvas.turned(cx, cy, (0.80, 0.81, 0.82)))
    for turn in range(5):  # expansion slots
        angle = 2 * np.pi * (turn + 0.10) / 5
        near, far = [(cx + r * np.cos(angle), cy + r * np.sin(angle)) for r in (366, 432)]
        canvas.paint(canvas.line([near, far], 4), BLACK, 0.85)
        canvas.paint(canvas.oval(*near, 7), BLACK, 0.85)
    canvas.paint(canvas.line([(cx, cy - 150), (cx, cy - 300)], 5), (0.25, 0.27, 0.30), 0.25)
    washer = canvas.oval(cx, cy, 140)
    canvas.shadow(washer, 8, 8, 10)
    canvas.paint(washer, canvas.turned(cx, cy, STEEL, 0.30))
    nut = canvas.polygon([(cx + 78 * np.cos(np.pi * i / 3 + 0.2), cy + 78 * np.sin(np.pi * i / 3 + 0.2)) for i in range(6)])
    canvas.shadow(nut, 6, 8, 8)
    canvas.paint(nut, canvas.turned(cx, cy, DARK_STEEL, 0.35))
    canvas.paint(canvas.oval(cx, cy, 46), canvas.turned(cx, cy, STEEL, 0.30))
    canvas.paint(canvas.box(-10, 640, WIDE + 10, HIGH + 10), np.clip(np.array(IRON) * canvas.grain(0.05), 0, 1))
    canvas.paint(canvas.box(-10, 636, WIDE + 10, 642), (0.82, 0.84, 0.86), 0.8)
    lever_indicator(canvas, tip=(648, 300))
    canvas.save_jpeg(path, taken)


def lever_indicator(canvas, tip):
    """A lever-type indicator from the right, its ball on `tip`."""
    x, y = tip
    post = canvas.box(930, 40, 956, 660, 4)
    canvas.shadow(post, 10, 4, 10)
    canvas.paint(post, canvas.across(930, 956, "x", STEEL))
    canvas.paint(canvas.box(866, 600, 1010, 700, 8), canvas.across(600, 740, "y", (0.24, 0.26, 0.28)))
    arm = canvas.polygon([(x + 150, y - 78), (940, y - 120), (940, y - 100), (x + 150, y - 58)])
    canvas.shadow(arm, 2, 12, 10)
    canvas.paint(arm, canvas.across(y - 122, y - 56, "y", STEEL))
    lever = canvas.polygon([(x - 2, y - 4), (x + 76, y - 44), (x + 80, y - 34), (x + 2, y + 4)])
    canvas.shadow(lever, 10, 12, 5, 0.5)
    canvas.paint(lever, canvas.across(y - 44, y + 4, "y", STEEL))
    canvas.paint(canvas.oval(x, y, 8), canvas.turned(x, y, (0.86, 0.30, 0.34), 0.4))
    case = canvas.polygon([(x + 70, y - 70), (x + 180, y - 112), (x + 196, y - 40), (x + 84, y - 14)])
    canvas.shadow(case, 8, 16, 10)
    canvas.paint(case, canvas.across(y - 112, y - 14, "y", (0.44, 0.46, 0.49)))
    cx, cy = x + 132, y - 62
    rim = canvas.oval(cx, cy, 72)
    canvas.shadow(rim, 8, 14, 12)
    canvas.paint(rim, canvas.turned(cx, cy, STEEL, 0.3))
    canvas.paint(canvas.oval(cx, cy, 62), (0.96, 0.96, 0.93))
    for mark in range(50):
        angle, inner = 2 * np.pi * mark / 50, 46 if mark % 5 == 0 else 52
        ends = [(cx + r * np.cos(angle), cy + r * np.sin(angle)) for r in (inner, 58)]
        canvas.paint(canvas.line(ends, 2 if mark % 5 == 0 else 1), BLACK, 0.9)
    canvas.paint(canvas.line([(cx - 10, cy + 8), (cx + 42, cy - 34)], 2.5), (0.72, 0.12, 0.10))
    canvas.paint(canvas.oval(cx, cy, 6), BLACK)


def bearing_picture(path, taken, seed):
    """The inner ring on its side: one face, then the outside with the ball track and its flaked patch."""
    canvas = Canvas((0.62, 0.60, 0.56), (0.50, 0.48, 0.45), seed)
    canvas.rgb *= canvas.grain(0.015)  # a sheet of paper on the bench
    cy, half, left, right, lean = 375, 250, 330, 760, 88
    outline = np.maximum(canvas.box(left, cy - half, right, cy + half), canvas.oval(right, cy, lean, half))
    outline = np.maximum(outline, canvas.oval(left, cy, lean, half))
    canvas.shadow(outline, 26, 34, 30, 0.55)
    canvas.paint(outline, canvas.across(cy - half, cy + half, "y", STEEL))
    bend = lean * np.sqrt(np.clip(1 - ((canvas.y - cy) / half) ** 2, 0, 1))
    place = canvas.x - bend  # how far along the axis a point of the outside lies
    track = np.exp(-(((place - 545) / 66) ** 6)) * outline * (canvas.x > left)
    hollow = 0.70 + 0.30 * np.tanh((place - 545) / 45)
    canvas.paint(track, canvas.across(cy - half, cy + half, "y", (0.60, 0.61, 0.62)) * hollow[..., None])
    for edge in (472, 618):
        canvas.paint(outline * np.exp(-(((place - edge) / 3.0) ** 2)), (0.95, 0.96, 0.97), 0.55)
    canvas.paint(outline * np.exp(-(((place - 548) / 17) ** 4)), (0.30, 0.27, 0.24), 0.45)  # the worn path
    flakes = []  # densest low down, where the belt pulls
    for _ in range(260):
        x, y = canvas.random.normal(548, 13), cy + np.clip(canvas.random.normal(112, 42), -230, 215)
        shift = lean * np.sqrt(max(0.0, 1 - ((y - cy) / half) ** 2))
        r = abs(canvas.random.normal(0, 3.6)) + 0.8
        flakes.append((x + shift, y, r * 0.8, r * 1.6, canvas.random.uniform(0.5, 0.85)))
    lit = [(x + 1.4, y + 1.6, rx, ry, 0.5) for x, y, rx, ry, _ in flakes]
    canvas.paint(canvas.specks(lit), (0.90, 0.90, 0.88))
    canvas.paint(canvas.specks(flakes), (0.12, 0.10, 0.09))
    face = canvas.oval(left, cy, lean, half)
    canvas.paint(face, canvas.turned(left, cy, (0.78, 0.79, 0.81), 0.16))
    bore = canvas.oval(left, cy, lean * 0.66, half * 0.68)
    canvas.paint(bore, canvas.across(cy + half * 0.68, cy - half * 0.68, "y", (0.34, 0.35, 0.37)))
    canvas.paint(bore * (1 - canvas.oval(left - 26, cy, lean * 0.60, half * 0.66)), (0.80, 0.81, 0.83), 0.45)
    canvas.save_jpeg(path, taken)


def box_picture(path, taken, seed):
    """A cardboard parcel, open, with the new arbor in paper."""
    canvas = Canvas((0.44, 0.41, 0.37), (0.31, 0.28, 0.25), seed)
    for y in range(0, HIGH, 125):  # the bench's boards
        tone = 0.9 + 0.2 * canvas.random.random()
        board = canvas.box(-5, y, WIDE + 5, y + 122)
        waves = 1 + 0.05 * np.sin(canvas.y * 0.9 + 6 * np.sin(canvas.x * 0.006 + y))
        canvas.paint(board, np.clip(np.array([0.50, 0.38, 0.26]) * tone * waves[..., None] * canvas.grain(0.02), 0, 1), 0.85)
    outer = canvas.polygon([(150, 250), (850, 250), (930, 610), (70, 610)])
    canvas.shadow(outer, 14, 26, 26, 0.6)
    flaps = [[(150, 250), (850, 250), (880, 120), (120, 120)], [(150, 250), (70, 610), (-60, 560), (40, 230)],
             [(850, 250), (930, 610), (1060, 560), (960, 230)]]
    for flap, tone in zip(flaps, (0.86, 1.08, 0.94)):
        shape = canvas.polygon(flap)
        canvas.shadow(shape, 6, 10, 10, 0.3)
        stripe = 1 + 0.03 * np.sin(canvas.x * 1.1)
        canvas.paint(shape, np.clip(np.array(CARD) * tone * stripe[..., None] * canvas.grain(0.02), 0, 1))
    canvas.paint(outer, np.array(CARD) * 0.62)
    inside = canvas.polygon([(168, 268), (832, 268), (905, 596), (95, 596)])
    canvas.paint(inside, np.array(CARD) * 0.42)
    for _ in range(150):  # crumpled paper: facets, each of its own tone
        x, y = canvas.random.uniform(130, 870), canvas.random.uniform(285, 585)
        corners = [(x + canvas.random.normal(0, 42), y + canvas.random.normal(0, 26)) for _ in range(4)]
        tone = canvas.random.uniform(0.74, 1.08)
        canvas.paint(canvas.polygon(corners) * inside, np.clip(np.array([0.83, 0.76, 0.64]) * tone, 0, 1), 0.75)
    parts = [(250, 372, 470, 512, DARK_STEEL, 10), (330, 352, 372, 532, STEEL, 6), (470, 392, 520, 492, STEEL, 4),
             (520, 320, 556, 564, STEEL, 6), (556, 404, 780, 480, STEEL, 4)]
    for left, top, right, bottom, colour, bend in parts:
        part = canvas.box(left, top, right, bottom, bend)
        canvas.shadow(part, 6, 18, 10, 0.5)
        canvas.paint(part, canvas.across(top, bottom, "y", colour))
    for x in np.arange(690, 780, 10):
        canvas.paint(canvas.polygon([(x, 404), (x + 4, 404), (x + 7, 480), (x + 3, 480)]), BLACK, 0.45)
    canvas.paint(canvas.line([(332, 352), (332, 532)], 2), BLACK, 0.4)
    front = canvas.polygon([(70, 610), (930, 610), (915, 700), (85, 700)])
    stripe = 1 + 0.03 * np.sin(canvas.x * 1.1)
    canvas.paint(front, np.clip(np.array(CARD) * 1.05 * stripe[..., None] * canvas.grain(0.02), 0, 1))
    canvas.paint(canvas.box(600, 628, 820, 688, 3), (0.95, 0.94, 0.90))
    for row, end in [(642, 790), (656, 760), (670, 776)]:
        canvas.paint(canvas.line([(616, row), (end, row)], 4), (0.30, 0.30, 0.32), 0.8)
    canvas.save_jpeg(path, taken)


def stations_picture(path):
    """A plain sketch of where the dials stood."""
    scale, ink, grey = 2, (28, 30, 34), (120, 124, 130)
    image = Image.new("RGB", (1000 * scale, 520 * scale), "white")
    pen = ImageDraw.Draw(image)
    font = ImageFont.load_default(size=26 * scale)

    def line(points, width=3, fill=ink):
        pen.line([(x * scale, y * scale) for x, y in points], fill=fill, width=width * scale, joint="curve")

    def box(left, top, right, bottom, fill):
        pen.rectangle([v * scale for v in (left, top, right, bottom)], fill=fill, outline=ink, width=3 * scale)

    def word(x, y, text, fill=ink):
        pen.text((x * scale, y * scale), text, font=font, fill=fill, anchor="mm")

    box(60, 190, 200, 350, (226, 228, 231))
    box(200, 130, 250, 410, (208, 211, 215))
    box(250, 226, 820, 314, (236, 238, 240))
    for x in range(640, 820, 14):
        line([(x, 226), (x + 8, 314)], 2, grey)
    for x in range(30, 960, 44):  # the axis, dash and dot
        line([(x, 270), (x + 24, 270)], 2, grey)
        line([(x + 32, 270), (x + 36, 270)], 2, grey)
    for x, name, distance in [(285, "shoulder", "0 mm"), (425, "middle", "20 mm"), (565, "tip", "40 mm")]:
        line([(x, 110), (x, 212)])
        pen.polygon([(v * scale, w * scale) for v, w in [(x - 9, 204), (x + 9, 204), (x, 226)]], fill=ink)
        word(x, 92, name)
        word(x, 60, distance, grey)
    line([(400, 380), (268, 380)])
    pen.polygon([(v * scale, w * scale) for v, w in [(272, 371), (272, 389), (250, 380)]], fill=ink)
    word(520, 380, "rim, radius 38 mm")
    word(130, 380, "housing", grey)
    word(730, 345, "thread", grey)
    word(500, 470, "The bare arbor from the side, blade and washer off; not to scale", grey)
    path.parent.mkdir(parents=True, exist_ok=True)
    image.resize((1000, 520), Image.Resampling.LANCZOS).quantize(64).save(path, "PNG", optimize=True)


if __name__ == "__main__":
    found, left = HERE / "visits/as-found/photos", HERE / "visits/as-left/photos"
    plunger_picture(found / "indicator.jpg", "2026:03:02 14:41:07", "-0.0015", worn=True, at=330, seed=1)
    blade_picture(found / "blade.jpg", "2026:03:02 15:26:40", seed=2)
    bearing_picture(left / "bearing.jpg", "2026:03:24 09:52:18", seed=3)
    plunger_picture(left / "dial.jpg", "2026:03:24 10:33:55", "0.0005", worn=False, at=545, seed=4)
    box_picture(HERE / "photos/box.jpg", "2026:03:19 17:04:30", seed=5)
    stations_picture(HERE / "photos/stations.png")
