"""What must stay together on a page, read from the file: its structure tree says what is a heading, a caption, a
table's head; the page contents say where each stands (pikepdf 10.18, a reader that shares no code with the program).

    python3 tests/pdf/layout.py FILE.pdf...

Checked: after a heading something of its own section stands on the same page; a caption stands on its figure's page; a
table that goes over several pages shows its column heads on each of them.
"""

import re
import sys

import pikepdf

from claims import children, walk

FAULTS = []


def fault(path, what):
    FAULTS.append(f"{path}: {what}")


def to_unicode(font):
    """Code to text, from the font's own table (ISO 32000-1, 9.10.3)."""
    text = bytes(font["/ToUnicode"].read_bytes()).decode("latin-1")
    word = lambda digits: bytes.fromhex(digits).decode("utf-16-be")
    table = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", text, re.S):
        for code, to in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            table[int(code, 16)] = word(to)
    for block in re.findall(r"beginbfrange(.*?)endbfrange", text, re.S):
        for low, high, to in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            for step in range(int(high, 16) - int(low, 16) + 1):
                table[int(low, 16) + step] = chr(int(to, 16) + step)
    return table


def written(page):
    """The text of every marked stretch of a page by its number; what is marked as an artifact, under None."""
    fonts = {name: to_unicode(font) for name, font in page.resources.get("/Font", {}).items() if "/ToUnicode" in font}
    texts, stack, font = {}, [], {}
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name == "BDC":
            inner = operands[1] if isinstance(operands[1], pikepdf.Dictionary) else {}
            stack.append(int(inner["/MCID"]) if "/MCID" in inner else None)
        elif name == "BMC":
            stack.append(None)
        elif name == "EMC" and stack:
            stack.pop()
        elif name == "Tf":
            font = fonts.get(str(operands[0]), {})
        elif name in ("Tj", "TJ"):
            shown = operands[0] if name == "TJ" else [operands[0]]
            codes = b"".join(bytes(part) for part in shown if isinstance(part, pikepdf.String))
            letters = "".join(font.get(int.from_bytes(codes[k : k + 2], "big"), "") for k in range(0, len(codes), 2))
            at = stack[-1] if stack else None
            texts[at] = texts.get(at, "") + letters
    return texts


def leaves(node, page=None):
    """Every marked stretch below an element, as its page and its number, in reading order."""
    page = node.get("/Pg", page)
    kids = node.get("/K")
    if kids is None:
        return
    for kid in list(kids) if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, int):
            yield page, kid
        elif isinstance(kid, pikepdf.Dictionary):
            if "/MCID" in kid:
                yield kid.get("/Pg", page), int(kid["/MCID"])
            elif "/S" in kid:
                yield from leaves(kid, page)


class Sheets:
    """Pages by their object, and what is written on them."""

    def __init__(self, pdf):
        self.number = {page.obj.objgen: index for index, page in enumerate(pdf.pages)}
        self.texts = [written(page) for page in pdf.pages]

    def of(self, node):
        return [(self.number[page.objgen], mark) for page, mark in leaves(node) if page is not None]

    def text(self, places):
        return "".join(self.texts[page].get(mark, "") for page, mark in places).strip()


def is_heading(kind):
    return re.fullmatch(r"/H\d", kind) is not None


def of_headings(path, root, sheets):
    """No heading is the last thing on its page."""
    order = []
    for node, kind, above in walk(root):
        if is_heading(kind):
            order.append((sheets.of(node), True))
        elif not children(node) and not any(is_heading(one) for one in above):
            order.append((sheets.of(node), False))
    order = [(places, heading) for places, heading in order if places]
    count = 0
    for (places, heading), (following, _) in zip(order, order[1:]):
        if heading:
            count += 1
            if following[0][0] != places[-1][0]:
                fault(path, f"the heading '{sheets.text(places)}' ends page {places[-1][0] + 1}")
    return count


def of_captions(path, root, sheets):
    """A caption stands where what it belongs to ends."""
    count = 0
    for node, _, _ in walk(root):
        kids = children(node)
        kinds = [str(kid["/S"]) for kid in kids]
        if "/Caption" not in kinds:
            continue
        caption = sheets.of(kids[kinds.index("/Caption")])
        rest = [place for kid, kind in zip(kids, kinds) if kind != "/Caption" for place in sheets.of(kid)]
        if caption and rest:
            count += 1
            if {page for page, _ in rest} != {page for page, _ in caption}:
                fault(path, f"the caption '{sheets.text(caption)[:60]}' is parted from its figure")
    return count


def of_heads(path, root, sheets):
    """Column heads stand on every page of their table: once as its head, then as an artifact."""
    count = 0
    for node, kind, _ in walk(root):
        if kind != "/Table":
            continue
        rows = [children(one) for one, kind, _ in walk(node) if kind == "/TR"]
        first = [sheets.of(cell) for row in rows for cell in row]
        # The column heads are the first rows; the head of a group of rows is alone in its row.
        top = []
        for row in rows:
            if len(row) < 2 or any(str(cell["/S"]) != "/TH" for cell in row):
                break
            top += [sheets.of(cell) for cell in row]
        pages = sorted({page for places in first for page, _ in places})
        for page in pages[1:]:
            count += 1
            again = re.sub(r"\s", "", sheets.texts[page].get(None, ""))
            for places in top:
                words = re.sub(r"\s", "", sheets.text(places))
                own = {at for at, _ in places}
                if words and page not in own and words not in again:
                    fault(path, f"the head '{sheets.text(places)}' is not repeated on page {page + 1}")
    return count


def main(paths):
    for path in paths:
        with pikepdf.open(path) as pdf:
            root, sheets = pdf.Root["/StructTreeRoot"], Sheets(pdf)
            counts = [check(path, root, sheets) for check in (of_headings, of_captions, of_heads)]
            print(f"{path}: {counts[0]} headings, {counts[1]} captions, {counts[2]} pages that a table goes on over")
    print("\n".join(FAULTS) if FAULTS else "nothing parted")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
