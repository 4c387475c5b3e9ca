"""What a report's and a letter's PDF claim of themselves, held against the file (pikepdf 10.18, a reader that
shares no code with the program).

    python3 tests/pdf/claims.py FILE.pdf...

Checked: the XMP packet's PDF/A part and conformance (ISO 19005-3) and PDF/UA part (ISO 14289-1), title and language;
the structure tree: it is there, headings begin at level 1 and skip none, every figure has an alternative text of more
than a few words, every table has header cells and every data cell stands in a row; every font is embedded with a table
back to Unicode; no JavaScript, no link to a file, nothing encrypted.
"""

import sys

import pikepdf

FAULTS = []


def fault(path, what):
    FAULTS.append(f"{path}: {what}")


def children(node):
    kids = node.get("/K")
    if kids is None:
        return []
    kids = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
    return [kid for kid in kids if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]


def walk(root):
    """Every structure element in reading order, with the types above it."""
    stack = [(kid, ()) for kid in reversed(children(root))]
    while stack:
        node, above = stack.pop()
        kind = str(node["/S"])
        yield node, kind, above
        stack.extend((kid, above + (kind,)) for kid in reversed(children(node)))


def of_metadata(path, pdf):
    with pdf.open_metadata() as xmp:
        wanted = {"pdfaid:part": "3", "pdfaid:conformance": "A", "pdfuaid:part": "1"}
        for key, value in wanted.items():
            if str(xmp.get(key)) != value:
                fault(path, f"XMP {key} is {xmp.get(key)!r}, not {value}")
        if not xmp.get("dc:title"):
            fault(path, "XMP has no title")
    if not str(pdf.Root.get("/Lang", "")):
        fault(path, "no language")
    if not pdf.Root.get("/MarkInfo", {}).get("/Marked"):
        fault(path, "not marked as tagged")
    if not pdf.Root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        fault(path, "the window would show the file's name and not the title")
    if pdf.is_encrypted:
        fault(path, "encrypted")


def of_structure(path, pdf):
    root = pdf.Root.get("/StructTreeRoot")
    if root is None:
        fault(path, "no structure tree")
        return
    level, tables, rows = 0, {}, 0
    for node, kind, above in walk(root):
        name = kind.lstrip("/")
        if name[:1] == "H" and name[1:].isdigit():
            depth = int(name[1:])
            if depth > level + 1:
                fault(path, f"a heading of level {depth} after one of level {level}")
            level = depth
        if name == "Figure" and len(str(node.get("/Alt", "")).split()) < 3:
            fault(path, f"a figure without an alternative text: {node.get('/Alt')!r}")
        if name == "Table":
            kinds = [kind for _, kind, _ in walk(node)]
            tables[len(tables)] = kinds
            if "/TH" not in kinds:
                fault(path, "a table without header cells")
        if name in ("TD", "TH") and (not above or above[-1] != "/TR"):
            fault(path, f"a {name} outside a row")
        rows += name == "TR"
    # A letter of one page has none.
    if level == 0 and len(pdf.pages) > 1:
        fault(path, "no heading")
    print(f"{path}: {len(pdf.pages)} pages, {len(tables)} tables, {rows} rows")


def of_fonts(path, pdf):
    for page in pdf.pages:
        for name, font in page.resources.get("/Font", {}).items():
            inner = font["/DescendantFonts"][0] if "/DescendantFonts" in font else font
            files = {"/FontFile", "/FontFile2", "/FontFile3"} & set(inner.get("/FontDescriptor", {}).keys())
            if not files:
                fault(path, f"font {font.get('/BaseFont', name)} is not embedded")
            if "/ToUnicode" not in font:
                fault(path, f"font {font.get('/BaseFont', name)} has no way back to letters")


def of_actions(path, pdf):
    for number, thing in enumerate(pdf.objects):
        if isinstance(thing, pikepdf.Dictionary) and str(thing.get("/S", "")) in ("/JavaScript", "/Launch", "/GoToR"):
            fault(path, f"object {number} does {thing['/S']}")


def main(paths):
    for path in paths:
        with pikepdf.open(path) as pdf:
            of_metadata(path, pdf)
            of_structure(path, pdf)
            of_fonts(path, pdf)
            of_actions(path, pdf)
    print("\n".join(FAULTS) if FAULTS else "nothing wrong")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
