"""Holds published pictures against those of a session with a decoder of its own (Pillow, PyPI).

    python3 tests/pictures/positions.py SESSION OUTPUT stripped|kept

Every JPEG and PNG that OUTPUT/report.pdf carries (taken out by pikepdf) and that OUTPUT/page.html shows has the pixels of
the session's file. Where places were stripped, none holds a GPS directory, nor XMP or IPTC that speaks of a place; the
session's own files do, or nothing would be shown.
"""

import base64
import io
import pathlib
import re
import sys

import pikepdf
from PIL import ExifTags, Image, IptcImagePlugin


def places(data):
    """What a picture says of where it was taken, as far as Pillow reads it."""
    image = Image.open(io.BytesIO(data))
    found = dict(image.getexif().get_ifd(ExifTags.IFD.GPSInfo))
    texts = [value for value in image.info.values() if isinstance(value, (str, bytes)) and len(value) < 1 << 20]
    texts = [text if isinstance(text, bytes) else text.encode() for text in texts]
    words = [text[:40] for text in texts if b"GPSL" in text or b"Iptc4xmp" in text]
    iptc = IptcImagePlugin.getiptcinfo(image) or {}
    named = {key: value for key, value in iptc.items() if key[0] == 2 and key[1] in (26, 27, 90, 92, 95, 100, 101)}
    return found or words or named


def pixels(data):
    return Image.open(io.BytesIO(data)).tobytes()


def main():
    session, output, mode = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
    own = {path.relative_to(session).as_posix(): path.read_bytes()
           for path in session.rglob("*") if path.suffix in (".jpg", ".png")}
    page = (output / "page.html").read_text()
    shown = {base64.b64decode(data) for data in re.findall(r"data:image/[a-z]+;base64,([A-Za-z0-9+/=]+)", page)}
    published = set()
    had = has = 0
    with pikepdf.open(output / "report.pdf") as pdf:
        for path, data in own.items():
            made = pdf.attachments[path.replace("/", "~")].get_file().read_bytes()
            assert pixels(made) == pixels(data), f"{path}: other pixels"
            published.add(made)
            had, has = had + bool(places(data)), has + bool(places(made))
            if mode == "stripped":
                assert not places(made), f"{path}: {places(made)}"
                when = [Image.open(io.BytesIO(d)).getexif().get_ifd(ExifTags.IFD.Exif).get(0x9003) for d in (data, made)]
                assert when[0] == when[1], f"{path}: the date went too"
    assert len(shown) > 3 and shown <= published, "the page shows other bytes"
    assert had > 0 and (mode == "stripped") == (has == 0), (mode, had, has)
    print(f"{output}: {len(own)} pictures, {had} with a place in the session, {has} as published")


main()
