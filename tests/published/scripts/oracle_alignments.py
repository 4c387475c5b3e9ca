#!/usr/bin/env python3
"""Reference values for straightness, flatness and squareness, by scipy and numpy.

    python3 -m pip install numpy==2.4.6 scipy==1.17.1
    ASFOUND_CHECKDATA=../shared/checkdata python3 oracle_alignments.py > ../data/scipy_alignments.json

The variable names the folder of published data that is not in the repository; Moody's readings are taken from it.

A width is measured along z: the least t for which some line or plane has every
height within t/2 of it. That is a linear programme in the plane's coefficients
and t; `scipy.optimize.linprog` (HiGHS) solves it. Each width is then found a second
way that shares nothing with the first: by duality it is the largest |sum of c*z|
over the smallest sets of points whose places are dependent (three on a line, four
on a plane), the c being the weights that cancel every line or plane, their sizes
adding up to 2. `checked_to` says how far the two were apart at most. Lengths across and
heights may be of different units; a slope is then of mixed unit, and a width is not touched by it.

Random sets are invented (seeded); what is checked is the arithmetic.
"""

import csv
import itertools
import json
import math
import os
import re
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize

SEED = 2027
DRAWS = 200_000
ARCSEC = math.pi / 180 / 3600


def design(*places):
    """The columns of a line in x, or of a plane in x and y."""
    return np.column_stack([np.ones(len(places[0])), *places])


def scaled(columns):
    """The same lines or planes with places brought to about -1 … 1, which changes no width."""
    out = columns.copy()
    for k in range(1, out.shape[1]):
        middle = (out[:, k].max() + out[:, k].min()) / 2
        half = np.ptp(out[:, k]) / 2 or 1.0
        out[:, k] = (out[:, k] - middle) / half
    return out


def zone(columns, z):
    """The minimum zone's width by HiGHS."""
    a, n = scaled(columns), len(z)
    above, below = np.column_stack([a, -np.ones(n)]), np.column_stack([-a, -np.ones(n)])
    cost = [0.0] * a.shape[1] + [1.0]
    bounds = [(None, None)] * a.shape[1] + [(0, None)]
    best = optimize.linprog(cost, A_ub=np.vstack([above, below]), b_ub=np.concatenate([z, -z]), bounds=bounds, method="highs")
    assert best.status == 0, best.message
    return 2 * best.fun


def circuits(columns):
    """The weights of every smallest dependent set of places, one row each, sizes adding up to 2; no row twice."""
    a = scaled(columns)
    n, rank = len(a), np.linalg.matrix_rank(a)
    rows = []
    chosen = np.array(list(itertools.combinations(range(n), rank + 1)))
    for block in np.array_split(chosen, max(1, len(chosen) // 200_000)):
        # Cramer's rule: the weight of a place is, but for its sign, the volume that the others span.
        weights = np.empty(block.shape)
        for k in range(rank + 1):
            others = np.delete(block, k, axis=1)
            weights[:, k] = (-1) ** k * np.linalg.det(a[others][:, :, :rank])
        weights[np.abs(weights) < 1e-9] = 0.0
        size = np.abs(weights).sum(axis=1)
        keep = size > 1e-9
        rows.append((block[keep], 2 * weights[keep] / size[keep, None]))
    # Three places on a line within a plane: the four-point sets about them may all be flat, so they are added.
    if rank == 3:
        triples = []
        for three in itertools.combinations(range(n), 3):
            p = a[list(three)]
            lengths = [np.linalg.norm(p[1] - p[2]), np.linalg.norm(p[0] - p[2]), np.linalg.norm(p[0] - p[1])]
            middle = int(np.argmax(lengths))
            if abs(lengths[middle] - (sum(lengths) - lengths[middle])) < 1e-12 * lengths[middle] and lengths[middle] > 0:
                w = np.array([v / lengths[middle] for v in lengths])
                w[middle] = -1.0
                triples.append((three, w))
        if triples:
            rows.append((np.array([t for t, _ in triples]), np.array([w for _, w in triples])))
    return rows


def zone_by_circuits(columns, z):
    return max((float(np.abs((z[block] * weights).sum(axis=1)).max()) for block, weights in circuits(columns) if len(block)),
               default=0.0)


def dense(columns):
    """The circuits as one matrix over all places, each once."""
    n, seen = len(columns), {}
    for block, weights in circuits(columns):
        full = np.zeros((len(block), n))
        np.put_along_axis(full, block, weights, axis=1)
        sign = np.sign(full[np.arange(len(full)), (full != 0).argmax(axis=1)])
        for row in np.round(full * sign[:, None], 12):
            seen[row.tobytes()] = row
    return np.array(list(seen.values()))


def least_squares(columns, z):
    best, *_ = np.linalg.lstsq(columns, z, rcond=None)
    return best, float(np.ptp(z - columns @ best))


def end_points(x, z):
    return float(np.ptp(z - z[0] - (z[-1] - z[0]) / (x[-1] - x[0]) * (x - x[0])))


def plane_case(name, x, y, z, **more):
    x, y, z = (np.asarray(v, float) for v in (x, y, z))
    columns = design(x, y)
    width, other = zone(columns, z), zone_by_circuits(columns, z)
    return {"name": name, **more, "x": x.tolist(), "y": y.tolist(), "z": z.tolist(), "minimum_zone": width,
            "least_squares": least_squares(columns, z)[1], "checked_to": abs(width - other)}


def line_case(name, x, z, **more):
    x, z = np.asarray(x, float), np.asarray(z, float)
    columns = design(x)
    width, other = zone(columns, z), zone_by_circuits(columns, z)
    return {"name": name, **more, "x": x.tolist(), "z": z.tolist(), "minimum_zone": width,
            "least_squares": least_squares(columns, z)[1], "end_points": end_points(x, z), "checked_to": abs(width - other)}


def heights_over(random, x, y, step, noise):
    """A bowl, a twist and a tilt of random sizes, noise on top, to the nearest `step`."""
    u, v = x / (np.ptp(x) or 1), y / (np.ptp(y) or 1)
    tilt, bowl, twist = random.normal(0, 4, 2), random.normal(0, 3, 2), random.normal(0, 3)
    z = tilt[0] * u + tilt[1] * v + bowl[0] * u * u + bowl[1] * v * v + twist * u * v + random.normal(0, noise, len(x))
    return np.round(np.round(z / step) * step, 6)


def grid(columns, rows, across, down):
    y, x = np.mgrid[0:rows, 0:columns]
    return x.ravel() * across, y.ravel() * down


def flatness_cases():
    random, cases = np.random.default_rng(SEED), []
    for columns, rows in [(3, 3), (4, 3), (3, 5), (5, 5), (7, 4), (9, 6), (12, 9)]:
        x, y = grid(columns, rows, 250.0, 200.0)
        z = heights_over(random, x, y, 0.5, 0.8)
        cases.append(plane_case(f"grid of {columns} by {rows}", x, y, z, columns=columns, rows=rows, step=[250.0, 200.0]))
    for columns, rows, holes in [(4, 4, 2), (6, 5, 6), (9, 7, 20), (12, 9, 12)]:
        x, y = grid(columns, rows, 75.0, 110.0)
        keep = np.sort(random.permutation(len(x))[holes:])
        z = heights_over(random, x, y, 0.1, 0.5)
        case = plane_case(f"grid of {columns} by {rows} with {holes} holes", x[keep], y[keep], z[keep])
        cases.append(case | {"columns": columns, "rows": rows, "step": [75.0, 110.0]})
    for count in [4, 5, 6, 8, 11, 17, 26, 40, 60]:
        x, y = np.round(random.uniform(0, 900, count), 1), np.round(random.uniform(0, 500, count), 1)
        cases.append(plane_case(f"{count} scattered points", x, y, heights_over(random, x, y, 0.01, 0.6)))
    x, y = grid(3, 3, 100.0, 100.0)
    cases.append(plane_case("saddle, four corners alike", x, y, np.round((x - 100) * (y - 100) / 1e4, 6)))
    x, y = grid(5, 5, 100.0, 100.0)
    cases.append(plane_case("saddle of 5 by 5", x, y, np.round((x - 200) * (y - 200) / 1e4, 6)))
    cases.append(plane_case("bowl of 5 by 5", x, y, np.round(((x - 200) ** 2 + (y - 200) ** 2) / 1e4, 6)))
    cases.append(plane_case("a tilted plane, nothing else", x, y, 0.01 * x - 0.02 * y + 3))
    up = 0.01 * x - 0.02 * y + 3
    up[12] += 1
    cases.append(plane_case("a tilted plane with its middle up by 1", x, y, up))
    up = 0.01 * x - 0.02 * y + 3
    up[0] += 1
    cases.append(plane_case("a tilted plane with a corner up by 1", x, y, up))
    cases.append(plane_case("three supports on one line", [0, 100, 200, 0, 200, 100], [0, 0, 0, 100, 100, 50], [0, 2, 0, 1, 1, 1]))
    cases.append(plane_case("far from its origin", x + 1e5, y - 3e5, heights_over(random, x, y, 0.1, 0.5) + 5e3))
    cases.append(plane_case("four corners of a square", [0, 100, 100, 0], [0, 0, 100, 100], [0, 1, 0, 1]))
    return cases


def straightness_cases():
    random, cases = np.random.default_rng(SEED + 1), []
    for count in [3, 4, 5, 8, 12, 20, 33, 40]:
        x = np.arange(count) * 75.0
        cases.append(line_case(f"{count} points at equal steps", x, heights_over(random, x, 0 * x, 0.5, 0.8)))
    for count in [3, 6, 15, 40]:
        x = np.sort(np.round(random.uniform(0, 1500, count), 1))
        cases.append(line_case(f"{count} points at unequal steps", x, heights_over(random, x, 0 * x, 0.01, 0.6)))
    x = np.arange(9) * 100.0
    cases.append(line_case("a slope, nothing else", x, 0.01 * x - 2))
    cases.append(line_case("the first up by 1", x, np.where(x == 0, 1.0, 0.0)))
    cases.append(line_case("the middle up by 1", x, np.where(x == 400, 1.0, 0.0)))
    cases.append(line_case("zigzag", x, np.arange(9) % 2 * 1.0))
    cases.append(line_case("from the far end to the near", x[::-1], [0, 2, 3, 3.5, 3, 2.5, 1, 0, 1]))
    return cases


def three_by_three():
    z = np.array([0, 2, 1, 3, 6, 2, 1, 4, 0], float)
    x, y = grid(3, 3, 1.0, 1.0)
    plane, width = least_squares(design(x, y), z)
    return {"rows": z.reshape(3, 3).tolist(), "least_squares_plane": plane.tolist(), "least_squares": width,
            "minimum_zone": zone(design(x, y), z), "checked_to": abs(zone(design(x, y), z) - zone_by_circuits(design(x, y), z))}


def laser():
    """Two axes read with a laser's straightness optics, micrometres over metres; the second less the first is squareness."""
    axes = {"axis 1": (np.arange(10) * 0.1, [-0.3, 0.9, 1.5, 2.5, 2.9, 3.6, 4.2, 5.1, 5.9, 7.2]),
            "axis 2": (np.arange(10) * 0.05, [-0.5, -1.2, -2.5, -3.8, -4.0, -4.8, -5.9, -6.2, -7.4, -8.8])}
    out = {"source": "HP 5528A Laser Measurement System User's Guide, section 21 (OCT 87), pp 21-3..21-7, as read on "
                     "easymanua.ls/hp/5528a pages 310, 311, 313, 314",
           "printed": {"slope_um_per_m": {"end_points": [8.33, -18.44], "least_squares": [7.65, -17.42]},
                       "angle_arcsec": {"end_points": [1.7, -3.8], "least_squares": [1.6, -3.6]},
                       "squareness_arcsec": {"end_points": -5.5, "least_squares": -5.2},
                       "note": "the angle of axis 2 by its end points prints as -3.6 in that copy; -3.8 is what the sum needs"}}
    angle = {}
    for name, (x, z) in axes.items():
        x, z = np.round(x, 2), np.array(z)
        plane, _ = least_squares(design(x), z)
        ends = (z[-1] - z[0]) / (x[-1] - x[0])
        angle[name] = [math.atan(m * 1e-6) / ARCSEC for m in (ends, plane[1])]
        out[name] = {**line_case(name, x, z), "slope_end_points": ends, "slope_least_squares": plane[1],
                     "intercept_least_squares": plane[0], "residuals_least_squares": (z - design(x) @ plane).tolist(),
                     "angle_arcsec_end_points": angle[name][0], "angle_arcsec_least_squares": angle[name][1]}
    ends, fitted = (angle["axis 2"][k] - angle["axis 1"][k] for k in (0, 1))
    slope = out["axis 2"]["slope_least_squares"] - out["axis 1"]["slope_least_squares"]
    out["squareness"] = {"end_points_arcsec": ends, "least_squares_arcsec": fitted, "least_squares_um_per_m": slope}
    return out


def moody():
    """The union-jack plate of 1955: heights from the autocollimator's readings, worked afresh from the paper's method."""
    folder = Path(os.environ.get("ASFOUND_CHECKDATA", "../shared/checkdata")) / "moody_1955"
    readings = {}
    with open(folder / "readings_arcsec.csv", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            readings.setdefault(row["line"], []).append(float(row["reading_arcsec"]))
    corners = {"NW": (0.0, 40.0), "NE": (64.0, 40.0), "SE": (64.0, 0.0), "SW": (0.0, 0.0)}
    middles = {"N": (32.0, 40.0), "E": (64.0, 20.0), "S": (32.0, 0.0), "W": (0.0, 20.0)}
    at = corners | middles

    def raised(line):
        # A reading is an angle; less the line's first, a step's rise in arc seconds times the foot. None before the first.
        return np.array([0.0, *itertools.accumulate(r - readings[line][0] for r in readings[line])])

    def chord(line, first, last):
        rise, t = raised(line), np.linspace(0, 1, len(readings[line]) + 1)
        return rise - rise[0] + first + (last - first - rise[-1] + rise[0]) * t

    heights, stood = {}, {}
    for line in ("NW_SE", "NE_SW"):  # ends alike and the middle at 0
        flat = chord(line, 0.0, 0.0)
        heights[line] = flat - flat[len(flat) // 2]
        stood.update(zip(line.split("_"), (heights[line][0], heights[line][-1])))
    for line in ("NE_NW", "NE_SE", "SE_SW", "NW_SW"):
        first, last = line.split("_")
        heights[line] = chord(line, stood[first], stood[last])
        middle = {"NE_NW": "N", "NE_SE": "E", "SE_SW": "S", "NW_SW": "W"}[line]
        stood[middle] = heights[line][len(heights[line]) // 2]
    closing = {}
    for line in ("E_W", "N_S"):
        first, last = line.split("_")
        unshifted = chord(line, stood[first], stood[last])
        closing[line] = unshifted[len(unshifted) // 2]
        heights[line] = unshifted - closing[line]  # as the paper does: brought to 0 at the centre, so off at its ends
    lowest = min(h.min() for h in heights.values())
    unit = 4.0 * ARCSEC * 1e5  # arc seconds over a 4 inch foot, in 1e-5 inch
    rows = []
    for line, values in heights.items():
        first, last = (at[place] for place in line.split("_"))
        for k, h in enumerate(values):
            t = k / (len(values) - 1)
            rows.append((line, k + 1, first[0] + t * (last[0] - first[0]), first[1] + t * (last[1] - first[1]), (h - lowest) * unit))
    apart = published_apart(folder, rows)
    return {"source": "J. C. Moody, How to Calibrate Surface Plates in the Plant, The Tool Engineer, October 1955; readings with the "
                      "two corrections of digits noted by B. Allen (2019): the file moody_1955/readings_arcsec.csv",
            "height_unit": "1e-5 in", "place_unit": "in",
            "geometry": "a plate of 48 by 72 in. The lines along its edges have 10 and 16 steps of 4 in, 40 by 64 in, which leaves "
                        "4 in all round (inferred from the counts). A station lies at its share of the way between its line's "
                        "ends. The diagonals have 20 steps, 80 in, where this rectangle's is 75.5 in: the method takes their "
                        "ends for the corners, and so do these places. The heights do not depend on it",
            "closing_arcsec": closing, "raw_peak_to_valley": max(r[4] for r in rows), "raw_peak_to_valley_arcsec": max(r[4] for r in rows) / unit,
            "largest_difference_from_heights_csv": apart, **widths_of_plate(rows)}


def published_apart(folder, rows):
    with open(folder / "heights_1e-5inch.csv", encoding="utf-8") as file:
        known = {(r["line"], int(r["station"])): float(r["height"])
                 for r in csv.DictReader(line for line in file if not line.startswith("#"))}
    assert len(known) == len(rows)
    apart = max(abs(known[line, station] - height) for line, station, _, _, height in rows)
    assert apart < 2e-5, apart
    return apart


def widths_of_plate(rows):
    """Widths over every station, and over the places where each was one reading or the mean of those that fell there."""
    lines, x, y, z = ([r[k] for r in rows] for k in (0, 2, 3, 4))
    places = {}
    for row in rows:
        places.setdefault((round(row[2], 9), round(row[3], 9)), []).append(row[4])
    px, py = zip(*places)
    means = [sum(v) / len(v) for v in places.values()]
    every = {**plane_case("every station", x, y, z), "line": lines}
    once = plane_case("every place once, the mean of the stations that fall there", px, py, means)
    once["readings_at_place"] = [len(v) for v in places.values()]
    once["largest_spread_at_place"] = max(max(v) - min(v) for v in places.values())
    # The other reading of the diagonals: 80 in long about the centre, so that their ends lie outside the lines along the edges.
    longer = 80 / math.hypot(40, 64)
    stretch = np.array([longer if line in ("NW_SE", "NE_SW") else 1.0 for line in lines])
    columns = design(32 + (np.array(x) - 32) * stretch, 20 + (np.array(y) - 20) * stretch)
    other = {"minimum_zone": zone(columns, np.array(z)), "least_squares": least_squares(columns, np.array(z))[1]}
    return {"stations_with_diagonals_of_80_in": other, "stations": every, "places": once | {"raw_peak_to_valley": max(means) - min(means)}}


def propagated(case, columns, seed, step, sd):
    """The scatter of the width under noise, and what a perfect part shows 95 times in 100; 200 draws against HiGHS."""
    z, matrix = np.array(case["z"]), dense(columns)
    random = np.random.default_rng(seed)
    noise = random.uniform(-step / 2, step / 2, (DRAWS, len(z))) + random.normal(0, sd, (DRAWS, len(z)))

    def widths(base):
        return np.concatenate([np.abs((base + part) @ matrix.T).max(axis=1) for part in np.array_split(noise, max(1, DRAWS // 2000))])

    read, perfect = widths(z), widths(0 * z)
    apart = max(abs(zone(columns, z + noise[k]) - read[k]) for k in range(200))
    assert apart < 1e-9, apart
    noisy = z + noise
    hat = np.eye(len(z)) - columns @ np.linalg.pinv(columns)
    return {"name": case["name"], "seed": seed, "draws": DRAWS, "step": step, "normal_sd": sd, "z": case["z"], "x": case["x"],
            **({"y": case["y"]} if "y" in case else {}),
            "minimum_zone": {"observed": case["minimum_zone"], "mean": read.mean(), "sd": read.std(ddof=1),
                             "floor_95": float(np.quantile(perfect, 0.95)), "checked_to": apart},
            "least_squares": {"observed": case["least_squares"], "sd": np.ptp(noisy @ hat.T, axis=1).std(ddof=1),
                              "floor_95": float(np.quantile(np.ptp(noise @ hat.T, axis=1), 0.95))}}


def monte_carlo(planes, lines):
    find = {case["name"]: case for case in planes + lines}
    out = []
    for name, seed, step, sd in [("grid of 3 by 3", 11, 0.5, 0.2), ("12 points at equal steps", 12, 0.5, 0.2), ("grid of 5 by 5", 13, 0.5, 0.2)]:
        case = find[name]
        columns = design(np.array(case["x"]), *([np.array(case["y"])] if "y" in case else []))
        out.append(propagated(case, columns, seed, step, sd))
    return out


def five_cuts():
    a, b, strip, pivot = 27.89, 29.25, 400.0, 550.0
    slope = (a - b) / 4 / strip
    return {"source": "instructables.com, Table Saw Sledge Accuracy Test (near and far ends A and B in mm, fence 550 mm from its pivot); "
                      "the page gives the error over the fence, -0.4675 mm",
            "a_mm": a, "b_mm": b, "strip_mm": strip, "pivot_mm": pivot, "slope": slope, "angle_deg": math.degrees(math.atan(slope)),
            "small_angle_deg": math.degrees(slope), "over_pivot_mm": slope * pivot,
            "u_slope_of_a_step_of_0.01_mm": 0.01 / math.sqrt(6) / 4 / strip}


def everything():
    planes, lines = flatness_cases(), straightness_cases()
    return {"made_by": {"script": "oracle_alignments.py", "python": sys.version.split()[0], "numpy": np.__version__,
                        "scipy": scipy.__version__, "seed": SEED},
            "largest_checked_to": max(case["checked_to"] for case in planes + lines),
            "flatness": planes, "straightness": lines, "grid_3x3": three_by_three(), "laser": laser(), "moody_1955": moody(),
            "monte_carlo": monte_carlo(planes, lines), "five_cuts": five_cuts()}


def plain(value):
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(type(value))


if __name__ == "__main__":
    text = json.dumps(everything(), indent=1, default=plain, allow_nan=False, ensure_ascii=False)
    # A list of plain values on one line.
    print(re.sub(r"\[\s+([^\[\]{}]*?)\s+\]", lambda m: "[" + re.sub(r",\s+", ", ", m.group(1)) + "]", text))
