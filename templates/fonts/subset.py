"""Makes the fallback fonts of this folder from the Debian packages named in README.md.

    pip install fonttools==4.68.0
    python3 subset.py FOLDER-WITH-THE-UNPACKED-DEBS

Only fonts without a Reserved Font Name are cut down, and the results carry family names of their own.
"""

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

source = Path(sys.argv[1]) / "usr/share/fonts"
target = Path(__file__).parent


def characters_of(codec, leads, trails):
    """The characters of a two-byte national standard, through Python's codec of it."""
    found = set()
    for lead in leads:
        for trail in trails:
            try:
                text = bytes([lead, trail]).decode(codec)
            except UnicodeDecodeError:
                continue
            found.update(map(ord, text))
    return found


def cut(path, name, family, wanted, features, number=-1):
    options = subset.Options()
    options.layout_features = features
    options.hinting = False
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.font_number = number
    font = subset.load_font(str(path), options)
    worker = subset.Subsetter(options)
    worker.populate(unicodes=wanted)
    worker.subset(font)
    postscript = family.replace(" ", "")
    font["name"].names = [n for n in font["name"].names if n.nameID in (0, 1, 2, 3, 4, 5, 6, 13, 14)]
    for record in list(font["name"].names):
        record.string = {1: family, 2: "Regular", 3: f"{postscript}-Regular", 4: family, 6: f"{postscript}-Regular"}.get(
            record.nameID, record.toUnicode()
        )
    if "CFF " in font:
        cff = font["CFF "].cff
        cff.fontNames = [f"{postscript}-Regular"]
        top = cff.topDictIndex[0]
        for field, text in (("FullName", family), ("FamilyName", family)):
            if hasattr(top, field):
                setattr(top, field, text)
    font["head"].modified = font["head"].created  # the same bytes on every run
    font.recalcTimestamp = False
    font.save(target / name)


latin = set(range(0x20, 0x250)) | set(range(0x370, 0x530))
cjk = set(range(0x3000, 0x3100)) | set(range(0x3130, 0x3190)) | set(range(0xFF00, 0xFFF0))
cjk |= characters_of("gb2312", range(0xB0, 0xF8), range(0xA1, 0xFF))  # GB 2312, both levels
cjk |= characters_of("big5", range(0xA4, 0xC7), range(0x40, 0xFF))  # Big5, level 1
cjk |= characters_of("euc_jp", range(0xB0, 0xF5), range(0xA1, 0xFF))  # JIS X 0208, both levels
cjk |= characters_of("euc_kr", range(0xB0, 0xC9), range(0xA1, 0xFF))  # KS X 1001, hangul
cut(
    source / "opentype/noto/NotoSansCJK-Regular.ttc", "FallbackCJK-Regular.otf", "Fallback CJK", cjk - latin, ["ccmp"], 0
)

# Everything but the mathematical letters, which nobody types into a session.
math = set(TTFont(source / "truetype/noto/NotoSansMath-Regular.ttf").getBestCmap())
math -= set(range(0x1D400, 0x1EF00)) | latin
cut(source / "truetype/noto/NotoSansMath-Regular.ttf", "FallbackMath-Regular.ttf", "Fallback Math", math, ["ccmp"])

for part, family in (("Symbols", "Fallback Symbols"), ("Symbols2", "Fallback Symbols Two")):
    path = source / f"truetype/noto/NotoSans{part}-Regular.ttf"
    wanted = set(TTFont(path).getBestCmap()) - latin - set(range(0x2800, 0x2900))
    if part == "Symbols":
        wanted -= set(range(0x1D000, 0x1D300))
    else:
        wanted -= set(range(0x10000, 0x1D400)) | set(range(0x1FB00, 0x1FC00))
    cut(path, f"{family.replace(' ', '')}-Regular.ttf", family, wanted, ["ccmp"])
