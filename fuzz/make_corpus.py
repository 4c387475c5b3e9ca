#!/usr/bin/env python3
"""Writes the corpora that fuzzing starts from, a folder a target, from the demo sessions and a few files made here (Python 3
alone). The same bytes every time; together well under a megabyte. `fuzz/run` calls it, and a test with a folder of its own."""

import io
import math
import re
import struct
import sys
import zipfile
import zlib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CORPUS = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "fuzz" / "corpus"
SESSIONS = ROOT / "sessions"


def put(target: str, name: str, content: bytes) -> None:
    folder = CORPUS / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content)


def session(instrument: str, check: str, readings: str) -> bytes:
    head = (
        "title: T\nunits: metric\nmachines: {m: {name: M, bought: 2026-01-20, coverage: [{name: W, lasts: 30 days}]}}\n"
        f"instruments: {{i: {{name: I, {instrument}}}}}\nchecks:\n  c: {{instrument: i, {check}}}\n"
    )
    visit = f"state: baseline\ndate: 2026-03-02\nconditions: {{ambient: 20 °C}}\nreadings:\n  c: {{{readings}}}\n"
    return head.encode() + b"\xff" + visit.encode()


# A small session for each measure, and the demos' own files.
SMALL = {
    "run-out": ("resolution: 1 µm, accuracy: 1 µm, repeat_readings: [0, 1, 0, 1], repeat_unit: µm",
                "measure: run-out, direction: radial, unit: µm, limit: {at_most: 9 µm}, "
                "stations: {a: {from: 0 mm}, b: {from: 40 mm}}",
                "closes: true, stations: {a: {turns: [[0, 2, 4, 2, 0], [0, 2, {struck: 9, because: x}, 2, 1]]}, "
                "b: {angles: [0, 90, 180, 270], turns: [[0, 3, 6, 3, 0]]}}"),
    "temperature": ("resolution: 0.1 K, accuracy: [1 K, 1 %], emissivity_set: 0.95",
                    "measure: temperature, unit: °F, surface_emissivity: 0.5, limit: {at_most: 70 °F, of: rise}",
                    'ambient: 66 °F, schedule: [["0:00", 1000 rpm], ["9:00", 0 rpm]], places: {p: {points: '
                    '[["0:00", 66], ["2:00", 71], ["4:00", 75], ["6:00", 78], ["8:00", 80], ["10:00", 81]]}}'),
    "sound": ("resolution: 0.1 dB, accuracy: 1 dB", "measure: sound, unit: dBA, by: speed",
              "at: {1000 rpm: [71.2, 71.5], 2000 rpm: {readings: [84.1], background: [80.0, 60.0]}}"),
    "vibration": ("resolution: 0.001 g", "measure: vibration, unit: g, band: [10 Hz, 1000 Hz]",
                  "at: {1000 rpm: {mean: 0.12, max: 0.41, frequency: 25.1 Hz}}"),
    "load": ("resolution: 1 rpm", "measure: load, unit: rpm",
             "kerf: 2.4 mm, cuts: {oak: {depth: 50 mm, runs: [{unloaded: 3455, loaded: 3010, length: 600 mm, time: 21 s}, "
             "{unloaded: 3452, stalled: true}]}}"),
    "speed": ("resolution: 1 rpm, accuracy: 0.1 %", "measure: speed, unit: rpm, limit: {at_most: 2 %}",
              "at: {1000 rpm: [1003, 1002], 2000 rpm: [2011]}"),
    "quantity": ("resolution: 0.1 s", 'measure: quantity, unit: s, limit: {between: [5 s, "0:15"]}, matters: 1 s',
                 "readings: [12.1, 12.3, {struck: 9.5, because: knocked}, 12.0]"),
    "straightness": ("resolution: 1 µm", "measure: straightness, unit: µm, gaps: true, reference: {name: R, within: 5 µm}",
                     "along: [0 mm, 150 mm, 300 mm, 450 mm], passes: [[0, 1.5, 2.0, 0.5], [0, ~, 2.0, 0.5]]"),
    "flatness": ("resolution: 1 µm", "measure: flatness, unit: µm",
                 "rows: [[0, 2, 1], [3, 6, ~], [1, 4, 0]], step: [250 mm, 200 mm]"),
    "flatness-points": ("resolution: 1 µm", "measure: flatness, unit: µm",
                        "points: [[0 mm, 0 mm, 0], [100 mm, 0 mm, 2], [0 mm, 90 mm, 1], [100 mm, 90 mm, 5]]"),
    "parallelism": ("resolution: 1 µm", "measure: parallelism, unit: µm, apart: 180 mm, limit: {at_most: 20 µm over 180 mm}",
                    "front: [0.0, 0.5], rear: [3.0, 3.5], same_tooth: true"),
    "squareness": ("resolution: 0.01 mm", "measure: squareness, unit: mm",
                   "five_cuts: [{near: 31.02, far: 31.47, strip: 380 mm}]"),
    "squareness-lines": ("resolution: 1 µm", "measure: squareness, unit: µm",
                         "square_error: 0.02 mm/m, lines: [{along: [0 mm, 50 mm, 100 mm], passes: [[0, 2, 5]]}]"),
}
for name, parts in SMALL.items():
    put("session", name, session(*parts))
for name in ("old-saw", "table-and-fence"):
    folder = SESSIONS / name
    visit = sorted(folder.glob("visits/*/visit.yaml"))[0]
    put("session", name, (folder / "session.yaml").read_bytes() + b"\xff" + visit.read_bytes())

# Recordings: the beginnings of the demos' own, and the dialects of instruments.
for index, path in enumerate(sorted(SESSIONS.glob("*/visits/*/*.csv"))[:6]):
    lines = path.read_bytes().splitlines(keepends=True)[:120]
    put("csv", path.stem + str(index), b"\x00" + b"".join(lines))
tables = {
    0: "t,a\n" + "".join(f"{k / 100:.2f},{math.sin(k):.3f}\n" for k in range(300)),
    1: "".join(f"{k},{k % 7}\n" for k in range(60)),
    2: "# a logger\n" + "".join(f"0.{k % 10},-0.{k % 9}\n" for k in range(90)),
    3: "x;y\n" + "".join(f"0,{k % 10};1,{k % 7}\n" for k in range(50)),
    4: "t,a\n" + "".join(f"{10 * k},{k % 5}\n" for k in range(40)),
    6: "made by\nnobody\nt,a\n0,1\n1,2\n2,\n3,x\n5,4\n",
    7: "t,a\n" + "".join(f"12:00:{k:02},{k % 5}\n" for k in range(40)),
    8: "t,a\n" + "".join(f"{k},{20 + k / 10}\n" for k in range(40)),
    9: "t,a\n" + "".join(f"12:{k:02}:00,{20 + k / 10}\n" for k in range(40)),
}
for way, text in tables.items():
    put("csv", f"way-{way}", bytes([way]) + text.encode())
put("csv", "utf-16", b"\x00" + "t,a\n0,1\n1,2\n2,3\n".encode("utf-16"))


def wav(kind: int, bits: int, samples: list, channels: int = 1, extensible: bool = False) -> bytes:
    pack = {(1, 8): "B", (1, 16): "<h", (1, 32): "<i", (3, 32): "<f"}.get((kind, bits))
    if bits == 24:
        data = b"".join(struct.pack("<i", s)[:3] for s in samples)
    else:
        data = b"".join(struct.pack(pack, s) for s in samples)
    block = channels * bits // 8
    fmt = struct.pack("<HHIIHH", 0xFFFE if extensible else kind, channels, 8000, 8000 * block, block, bits)
    if extensible:
        guid = bytes.fromhex("0000000000001000800000aa00389b71")
        fmt += struct.pack("<HHI", 22, bits, 1) + struct.pack("<H", kind) + guid[2:]
    body = b"WAVE" + b"fmt " + struct.pack("<I", len(fmt)) + fmt + b"LIST\x04\0\0\0INFO" + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


sine = [math.sin(k * math.pi / 4) for k in range(1600)]
put("wav", "16", wav(1, 16, [int(9000 * s) for s in sine]))
put("wav", "8", wav(1, 8, [int(128 + 90 * s) for s in sine]))
put("wav", "24", wav(1, 24, [int(3_000_000 * s) for s in sine]))
put("wav", "float", wav(3, 32, [0.5 * s for s in sine]))
put("wav", "two", wav(1, 16, [int(9000 * s) for s in sine], channels=2))
put("wav", "extensible", wav(1, 16, [int(9000 * s) for s in sine], extensible=True))
put("wav", "clipped", wav(1, 16, [32767 if s > 0 else -32768 for s in sine]))

# Notes, and what only looks like them.
for path in sorted(SESSIONS.glob("*/*.md")):
    put("notes", f"{path.parent.name}-{path.stem}", path.read_bytes())
put("notes", "all", b"# H\n\n> q\n\n1. a\n2. b\n\n- [ ] x\n\n|a|b|\n|-|:-:|\n|`c`|~~d~~|\n\n![p](here.png)\n\n[^1]\n\n[^1]: f\n\n"
    b"```rust\ncode\n```\n\n<b>html</b> *e* **s** [l](https://x.example \"t\") {{ c.v.mean }} #panic() $x$ @ref\n")

# Quantities: every one that a demo has.
found = set()
for path in SESSIONS.glob("*/**/*.yaml"):
    found.update(re.findall(r"-?\d[\d.]* (?:[a-zµ°%][\w°·/³²%]*)", path.read_text()))
found.update(["14:30", "1:02:30", "0.02 mm over 300 mm", "30 days", "3 years", "1e3 mm", "−4 °C", "½ in", "2 thou/in", "1,5 mm"])
for index, text in enumerate(sorted(found)):
    put("quantity", f"{index:03}", text.encode())

# Bags: files in the order of the target's names, parted by a byte that no text has; '-' is a file that is not there.
HELLO = "5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03"
info = b"Bagging-Date: 2026-03-02\nPayload-Oxum: 6.1\nContact-Name: A\n  B\n"
declared = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
put("bag", "whole", b"\xff".join([info, declared, b"hello\n", b"-", b"-", b"-", f"{HELLO}  data/a\n".encode(), b"-", b""]))
put("bag", "old", b"\xff".join([info, declared.replace(b"1.0", b"0.93").replace(b"UTF-8", b"ISO-8859-1"), b"hello\n", b"x", b"-",
    b"b1946ac92492d2347c6235b4d2611184 *data/a\n9dd4e461268c8034f5c8564e155c67a6  data/b c\n", b"-", b"-", b"tag/x.txt"]))
put("bag", "fetch", b"\xff".join([b"-", declared, b"hello\n", b"-", b"https://x.example/f 6 data/b%20c\n", b"-",
    f"{HELLO}  data/a\r\n{HELLO}  data/b%0Ac\r\n".encode(), f"{HELLO}  bagit.txt\n".encode(), b"../evil"]))


def zipped(files: dict, method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, (2026, 3, 2, 0, 0, 0)), content, method)
    return out.getvalue()


bag = {"b/bagit.txt": declared, "b/data/a": b"hello\n", "b/manifest-sha256.txt": f"{HELLO}  data/a\n"}
put("zip", "stored", zipped(bag, zipfile.ZIP_STORED))
put("zip", "deflated", zipped(bag, zipfile.ZIP_DEFLATED))
put("zip", "folders", zipped({"b/": b"", "b/data/": b"", "../x": b"y", **bag}, zipfile.ZIP_STORED))
put("zip", "commented", zipped(bag, zipfile.ZIP_STORED)[:-2] + b"\x05\x00PK\x05\x06x")


def pdf(packed: bool, table: bool = True) -> bytes:
    """A page with words and an attached file."""
    page = b"BT /F1 12 Tf 20 50 Td (Words on a page) Tj ET"
    attached = b'{"schema": 1, "session": "x"}'
    streams = {5: page, 8: attached}
    objects = {
        1: b"<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles << /Names [(findings.json) 7 0 R] >> >> >>",
        2: b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        3: b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 200 100] /Contents 5 0 R /Resources << /Font << /F1 4 0 R >> >> >>",
        4: b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
        6: b"<< /Creator (asfound 0.1.0) >>",
        7: b"<< /Type /Filespec /F (findings.json) /UF (findings.json) /EF << /F 8 0 R >> >>",
    }
    for number, content in streams.items():
        coded = zlib.compress(content, 9) if packed else content
        how = b" /Filter /FlateDecode" if packed else b""
        objects[number] = b"<< /Length %d%s >>\nstream\n%s\nendstream" % (len(coded), how, coded)
    out, places = b"%PDF-1.7\n", {}
    for number in sorted(objects):
        places[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, objects[number])
    start = len(out)
    if table:
        out += b"xref\n0 9\n0000000000 65535 f \n" + b"".join(b"%010d 00000 n \n" % places[n] for n in range(1, 9))
    return out + b"trailer\n<< /Size 9 /Root 1 0 R /Info 6 0 R >>\nstartxref\n%d\n%%%%EOF\n" % start


put("pdf", "plain", pdf(False))
put("pdf", "packed", pdf(True))
put("pdf", "no-table", pdf(False, False))

# Seals: text, signature, time stamp, key.
HASH = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
text = ("# asfound seal 1\n# visit: as-found\n# sealed: 2026-03-02T14:30:00-05:00\n"
        f"# before: {HASH}  visits/earlier/seal-2.txt\n{HASH}  ../../data/x.csv\n{HASH}  visit.yaml\n")
put("seal", "text", b"\x00" + text.encode())
for path in sorted(SESSIONS.glob("*/visits/*/seal.txt")):
    put("seal", f"text-{path.parent.name}", b"\x00" + path.read_bytes())
put("seal", "signature", b"\x01" + (ROOT / "tests/seal/ssh-keygen.sig").read_bytes())
put("seal", "stamp", b"\x02" + (ROOT / "tests/seal/openssl.tsr").read_bytes())

# What a session types, place by place.
put("templates", "plain", b"\xff".join(b"Text %d" % k for k in range(20)))
put("templates", "hostile", b"\xff".join([b'"#panic()"', b"{{ x }}", b"{% include 'x' %}", b"#import \"@preview/x:0.1.0\": y",
    b"$x^2$", b"*/ /* //", b"] ] ) }", b"\\u{41}", b"<script>alert(1)</script>", b"@ref = heading", "µ°–“”".encode(), b"`code`",
    b"*x* _y_", b"[l](javascript:x)", b"a\nb", b"'", b"--- ...", b"~", b"stand2", b"#show: x => none"]))

size = sum(path.stat().st_size for path in CORPUS.rglob("*") if path.is_file())
print(f"corpora: {size / 1024:.0f} KB")
