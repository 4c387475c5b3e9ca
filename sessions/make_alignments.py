#!/usr/bin/env python3
"""Makes the readings of `table-and-fence`. They are invented: no such jointer or saw was ever measured.

Each surface is a height in mm over its places in mm, and each angle a slope in mm/m. The readings are what the
instrument would have shown there, noise added, to its step:

* a fence is a bow between its ends, with a little of a second wave; feelers under a straightedge read it from the
  line through its ends, so both ends read 0;
* the jointer's beds are two planes, the outfeed hinged at the cutter head and drooping towards its end, with a twist
  over the whole; the straightedge's carriage leans a little, as no one sets it exactly parallel;
* the saw's table is a dish with a wing bolted to its right that sits low and leans; the mitre slot, where there is
  nothing to read, and the opening for the blade are holes in the grid;
* blade and fence are read at two ends; five cuts turn the mitre gauge's error over four times; a square's gap opens
  with its height.

Python's standard library only, and the same generator as `make_readings.py`.

    python3 make_alignments.py            prints the YAML blocks
    python3 make_alignments.py --check    says whether the visit.yaml files carry them
"""

import sys
from pathlib import Path

from make_readings import Maker, written

SESSION = "table-and-fence"
STEP, DECIMALS = 0.01, 2  # mm, of all the instruments

FENCE = [0, 150, 300, 450, 600, 750, 900]
# Along the beds and across them, clear of lips, bolts and the guard; three places are read again at the end.
BEDS = [(40, 30), (40, 100), (40, 170), (190, 60), (190, 150), (340, 30), (340, 100), (340, 170), (500, 70), (500, 160),
        (700, 40), (700, 130), (860, 30), (860, 100), (860, 170), (1010, 60), (1010, 150), (1160, 30), (1160, 100), (1160, 170)]
AGAIN = [(40, 100), (860, 100), (1160, 30)]
CUTTER_HEAD = 600
COLUMNS, ROWS, ACROSS, BACK = 8, 5, 110, 150
SLOT = {(column, row) for column in (2,) for row in range(ROWS)}
OPENING = {(3, 2)}
WING = 6  # the first column on it


def block(head, *lines):
    return "\n".join([f"  {head}:", *lines])


def shown(value):
    return written(value, STEP, DECIMALS)


def row_of(values):
    return f"[{', '.join(values)}]"


def fence(visit, check, bow, wave, passes=3, noise=0.006):
    maker, made = Maker(f"{SESSION} {visit} {check}"), []
    for _ in range(passes):
        row = []
        for place in FENCE:
            t = place / FENCE[-1]
            gap = 4 * bow * t * (1 - t) + wave * 20.8 * t * (1 - t) * (t - 0.5) + maker.normal(noise)
            row.append(shown(0.0 if place in (0, FENCE[-1]) else max(gap, 0.0)))
        made.append(row)
    places = ", ".join(f"{place} mm" for place in FENCE)
    return block(check, f"    along: [{places}]", "    passes:", *(f"      - {row_of(row)}" for row in made))


def beds(visit, check, droop, twist, lean, noise=0.007):
    """`droop` and `lean` in mm/m; `twist` in mm from corner to corner."""
    maker, points = Maker(f"{SESSION} {visit} {check}"), []
    for x, y in BEDS + AGAIN:
        height = -droop * max(0, x - CUTTER_HEAD) / 1000 + twist * (x - 600) * (y - 100) / (560 * 70) / 2
        height += lean * x / 1000 + maker.normal(noise)
        points.append(f"      - [{x} mm, {y} mm, {shown(height)}]")
    return block(check, "    points:", *points)


def table(visit, check, dish, wing, lean, twist, strike=None, noise=0.007):
    """Two grids, the row nearest the operator first. `wing` in mm below the table, `lean` in mm over the wing's depth."""
    maker, lines = Maker(f"{SESSION} {visit} {check}"), []
    for turn in range(2):
        for row in range(ROWS):
            cells = []
            for column in range(COLUMNS):
                u, v = column / (COLUMNS - 1) - 0.5, row / (ROWS - 1) - 0.5
                height = 4 * dish * (u * u + v * v) / 2 + 4 * twist * u * v
                if column >= WING:
                    height -= wing - lean * v
                cell = shown(height + maker.normal(noise))
                if (column, row) in SLOT | OPENING:
                    cell = "~"
                if strike and strike[:3] == (turn, row, column):
                    cell = f"{{struck: {strike[3]}, because: {strike[4]}}}"
                cells.append(cell)
            lines.append(f"      {'- -' if row == 0 else '  -'} {row_of(cells)}")
    return block(check, f"    step: [{ACROSS} mm, {BACK} mm]", "    passes:", *lines)


def two_ends(visit, check, apart, slope, count, same_tooth, noise=0.010):
    """`slope` in mm/m, the rear higher where it is above zero."""
    maker = Maker(f"{SESSION} {visit} {check}")
    front = [shown(maker.normal(noise)) for _ in range(count)]
    rear = [shown(slope * apart / 1000 + maker.normal(noise)) for _ in range(count)]
    tooth = ["    same_tooth: true"] if same_tooth else []
    return block(check, f"    front: {row_of(front)}", f"    rear: {row_of(rear)}", *tooth)


def five_cuts(visit, check, slope, count, noise=0.012):
    maker, lines = Maker(f"{SESSION} {visit} {check}"), []
    for _ in range(count):
        strip = 380 + round(8 * maker.normal())
        far = 30 + 2 * maker.random.random()
        near = far + 4 * slope * strip / 1000 + maker.normal(noise)
        lines.append(f"      - {{near: {shown(near)}, far: {shown(far)}, strip: {strip} mm}}")
    return block(check, "    five_cuts:", *lines)


def gap(visit, check, over, slope, count, noise=0.006):
    maker = Maker(f"{SESSION} {visit} {check}")
    gaps = [shown(max(slope * over / 1000 + maker.normal(noise), 0.0)) for _ in range(count)]
    return block(check, f"    over: {over} mm", f"    gap: {row_of(gaps)}")


def blocks():
    v = "jointer-as-found"
    yield v, fence(v, "jointer-fence", bow=0.17, wave=0.02)
    yield v, gap(v, "jointer-fence-square", 90, slope=1.8, count=5)
    yield v, beds(v, "jointer-beds", droop=0.75, twist=0.05, lean=0.12)
    v = "jointer-as-left"
    yield v, fence(v, "jointer-fence", bow=0.085, wave=0.02)
    yield v, gap(v, "jointer-fence-square", 90, slope=0.25, count=5)
    yield v, beds(v, "jointer-beds", droop=0.08, twist=0.03, lean=-0.08)
    v = "saw-as-found"
    slip = (0, 3, 5, 0.41, "a shaving under the foot of the carriage")
    yield v, table(v, "saw-table", dish=0.06, wing=0.25, lean=0.12, twist=0.04, strike=slip)
    yield v, two_ends(v, "saw-blade", 200, slope=1.15, count=5, same_tooth=True)
    yield v, two_ends(v, "saw-fence", 600, slope=0.42, count=4, same_tooth=False)
    yield v, five_cuts(v, "saw-mitre", slope=-0.80, count=3)
    v = "saw-as-left"
    yield v, table(v, "saw-table", dish=0.06, wing=0.02, lean=0.02, twist=0.02)
    yield v, two_ends(v, "saw-blade", 200, slope=0.12, count=5, same_tooth=True)
    yield v, two_ends(v, "saw-fence", 600, slope=-0.13, count=4, same_tooth=False)
    yield v, five_cuts(v, "saw-mitre", slope=-0.05, count=3)


def main(arguments):
    if arguments not in ([], ["--check"]):
        print(__doc__)
        return 2
    missing = 0
    for visit, text in blocks():
        if not arguments:
            print(f"# {SESSION}/visits/{visit}\n{text}")
            continue
        path = Path(__file__).parent / SESSION / "visits" / visit / "visit.yaml"
        if f"\n{text}\n" not in path.read_text(encoding="utf-8"):
            print(f"{SESSION}/visits/{visit}/visit.yaml does not carry:\n{text}")
            missing += 1
    if arguments and not missing:
        print(f"every reading in {SESSION} is the one the model makes")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
