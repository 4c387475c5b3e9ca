"""Makes the WOFF2 fonts of this folder from the fonts one folder up, unchanged but for the compression.

    pip install fonttools==4.68.0 brotli==1.2.1
    python3 compress.py
"""

from pathlib import Path

from fontTools.ttLib import woff2

here = Path(__file__).parent
for name in (
    "SourceSans3-Regular",
    "SourceSans3-SemiBold",
    "SourceSerif4-Regular",
    "SourceSerif4-Italic",
    "SourceSerif4-Bold",
):
    woff2.compress(here.parent / f"{name}.ttf", here / f"{name}.woff2")
