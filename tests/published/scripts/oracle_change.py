#!/usr/bin/env python3
"""Reference values for intervals, quantiles, floors and harmonic fits, by numpy, scipy and statsmodels.

    python3 -m pip install numpy==2.4.6 scipy==1.17.1 statsmodels==0.15.0
    python3 oracle_change.py > ../data/scipy_change.json

The samples are invented; what is checked is the arithmetic. Every number is
written with the digits that bring back the same double (at most 17).
"""

import json
import math
import sys

import numpy as np
import scipy
import statsmodels
from scipy import optimize, special, stats
from statsmodels.stats.multitest import multipletests

PAIRS = {
    "two and two": ([10.0, 10.2], [9.1, 9.4]),
    "three and three": ([3.0, 3.1, 2.9], [1.0, 1.2, 1.1]),
    "two and many": ([0.5, 1.5], [0.5, 0.0, 0.5, 0.5, 1.0, 0.5, 0.0, 0.5, 0.5, 1.0]),
    "five and five": ([11.80, 11.74, 11.02, 11.63, 11.74], [20.11, 18.89, 18.97, 19.97, 19.40]),
    "six and six": ([7.0, 7.1, 7.3, 6.8, 7.1, 7.2], [6.6, 6.4, 6.5, 6.5, 6.4, 6.5]),
    "very unequal spread": ([100.0, 130.0, 71.0, 118.0], [90.0, 90.1, 89.9, 90.2, 90.0, 89.8]),
    "unequal number and spread": ([4.2, 4.9, 3.1], [2.0, 2.1, 1.9, 2.2, 2.0, 2.1, 1.8, 2.3, 2.0, 1.9, 2.1, 2.0]),
    "no change": ([12.1, 12.3, 12.0, 12.2], [12.2, 12.0, 12.3, 12.1]),
    "offset of a million": ([1000000.1, 1000000.3, 1000000.2], [1000000.5, 1000000.4, 1000000.7, 1000000.6]),
    "tiny numbers": ([1.1e-9, 1.3e-9, 1.2e-9, 1.4e-9], [1.0e-9, 0.9e-9, 1.1e-9]),
    "negative": ([-3.5, -2.0, -4.5, -3.0], [-0.5, 0.5, 0.0, -1.0, 0.5]),
    "one of them constant": ([5.0, 5.0, 5.0], [4.0, 4.5, 5.0, 4.5]),
    "large": ([10 + math.sin(0.7 * i) for i in range(400)], [10.1 + 1.5 * math.cos(1.3 * i) for i in range(900)]),
}

PAIRED = {
    "two settings": ([84.1, 71.2], [80.0, 68.9]),
    "three stations": ([2.0, 2.5, 3.333333333333333], [0.5, 0.5, 0.5]),
    "six speeds": ([71.2, 74.0, 77.9, 80.4, 82.2, 84.3], [69.8, 73.9, 75.1, 78.8, 79.0, 80.9]),
    "ten patients": ([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
                     [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]),
}

UNEQUAL = [0.0, 45.0, 90.0, 130.0, 180.0, 225.0, 270.0, 320.0]
EVERY_45 = [45.0 * i for i in range(8)]
EVERY_30 = [30.0 * i for i in range(12)]

# Turns as read; None is a struck reading. Harmonics: as many as the number of stops allows, three at most.
FITS = {
    "eight unequal stops, three turns": (UNEQUAL, [
        [0.0, 0.5, 0.5, 0.0, -1.0, -2.0, -2.0, -1.5],
        [-0.5, 0.5, 0.5, 0.0, -0.5, -1.0, -1.5, -0.5],
        [0.0, 1.0, 0.5, 0.5, -1.0, -2.0, -2.0, -1.5]]),
    "eight stops, three turns, one struck": (EVERY_45, [
        [0.0, 1.0, 0.5, 0.0, -1.0, -1.5, -2.5, -1.5],
        [-0.5, 0.5, 0.0, -0.5, -1.5, None, -3.0, -2.0],
        [-0.5, 0.5, 1.0, 0.0, -1.0, -2.0, -2.0, -1.5]]),
    "twelve stops, three turns, each on its own zero": (EVERY_30, [
        [0.0, -1.9, -3.1, -4.7, -5.0, -4.0, -1.9, 1.0, 3.0, 4.0, 3.1, 1.6],
        [9.9, 8.7, 7.0, 5.7, 5.4, 6.3, 8.9, 11.7, 13.6, 14.2, 13.5, 12.1],
        [-19.4, -21.0, -22.8, -24.2, -24.5, -23.8, -21.4, -18.7, -16.7, -16.2, -17.0, -18.4]]),
    "twelve stops, one turn, no noise but rounding": (EVERY_30, [
        [15.44, 14.17, 10.13, 7.82, 5.82, 2.66, 0.47, -0.32, -2.18, -3.73, 0.32, 9.4]]),
    "five stops, two turns": ([0.0, 70.0, 145.0, 220.0, 290.0], [
        [0.0, 1.5, 1.0, -1.0, -1.5], [0.5, 1.5, 0.5, -1.0, -2.0]]),
    "four stops, two turns": ([0.0, 90.0, 180.0, 270.0], [[0.0, 1.0, 0.5, -0.5], [0.0, 1.5, 0.5, -1.0]]),
    "ten crowded stops, two turns": ([0.0, 10.0, 20.0, 35.0, 60.0, 100.0, 150.0, 210.0, 260.0, 305.0], [
        [2.1, 2.4, 2.6, 2.9, 3.0, 2.2, 0.4, -1.7, -1.5, 0.2],
        [2.0, 2.5, 2.6, 2.8, 3.1, 2.1, 0.3, -1.6, -1.6, 0.3]]),
}

CIRCLES = {  # CHECKVALUES 4.2 and 4.3: Gander, Golub, Strebel, BIT 34 (1994) 558-578; SciPy Cookbook, least squares circle
    "gander_golub_strebel": ([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7]),
    "scipy_cookbook": ([9, 35, -13, 10, 23, 0], [34, 10, 6, -14, 27, -10]),
}

CONFORMITY = [  # y, u, lower limit or None, upper limit or None
    (0.045, 0.004, None, 0.05), (0.052, 0.004, None, 0.05), (0.05, 0.004, None, 0.05),
    (9.98, 0.02, 9.95, 10.05), (0.0045, 0.0015, 0.0, 0.005),
]

HOLM = [[0.01, 0.04, 0.03, 0.005], [0.001, 0.001, 0.2], [0.05], [0.9, 0.04, 0.02, 0.02, 0.3, 0.6], [1.0, 1.0]]


def welch(before, after):
    """After less before: the change, its 95 % interval, and the numbers that lead to it."""
    result = stats.ttest_ind(after, before, equal_var=False)
    low, high = result.confidence_interval(0.95)
    return {"before": before, "after": after, "change": np.mean(after) - np.mean(before), "t": result.statistic,
            "dof": result.df, "p": result.pvalue, "low": low, "high": high,
            "variance_of_mean_before": np.var(before, ddof=1) / len(before),
            "variance_of_mean_after": np.var(after, ddof=1) / len(after)}


def paired(before, after):
    result = stats.ttest_rel(after, before)
    low, high = result.confidence_interval(0.95)
    differences = np.subtract(after, before)
    return {"before": before, "after": after, "change": differences.mean(), "s": differences.std(ddof=1),
            "t": result.statistic, "dof": result.df, "p": result.pvalue, "low": low, "high": high}


def range_of_rectangular(count):
    """The r that the range of `count` numbers between 0 and 1 stays under 95 times in 100: N r^(N-1) - (N-1) r^N = 0.95."""
    r = optimize.brentq(lambda r: count * r ** (count - 1) - (count - 1) * r**count - 0.95, 0.0, 1.0, xtol=1e-16)
    # The same range is beta distributed with N-1 and 2; the two ways must agree.
    assert abs(r - stats.beta.ppf(0.95, count - 1, 2)) < 1e-9
    return r


def harmonic_fit(angles, turns):
    """Least squares on cos and sin of 1, 2, 3 times the angle with a constant for each turn.

    u(once_per_turn) is the first-order (JCGM 100, 5.1.2 and 5.2.2) standard uncertainty of 2 sqrt(a1^2 + b1^2)
    from the covariance s^2 (X'X)^-1, s^2 = sum of squares left over degrees of freedom; nothing of the instrument.
    """
    order = min(3, (len(angles) - 1) // 2)
    rows, shown = [], []
    for turn, readings in enumerate(turns):
        for angle, reading in zip(np.radians(angles), readings):
            if reading is not None:
                constants = [1.0 if turn == other else 0.0 for other in range(len(turns))]
                waves = [wave(k * angle) for k in range(1, order + 1) for wave in (np.cos, np.sin)]
                rows.append(constants + waves)
                shown.append(reading)
    design, shown = np.array(rows), np.array(shown)
    found, _, rank, _ = np.linalg.lstsq(design, shown, rcond=None)
    left = shown - design @ found
    dof = len(shown) - rank
    assert rank == design.shape[1]
    start = len(turns)
    waves = [{"a": found[start + 2 * k], "b": found[start + 2 * k + 1],
              "size": 2 * math.hypot(found[start + 2 * k], found[start + 2 * k + 1]),
              "high_at_deg": math.degrees(math.atan2(found[start + 2 * k + 1], found[start + 2 * k])) % 360 / (k + 1)}
             for k in range(order)]
    answer = {"angles": angles, "turns": turns, "harmonics": order, "constants": list(found[:start]), "waves": waves,
              "sum_of_squares_left": left @ left, "dof": dof, "residual": None, "u_once_per_turn": None,
              "covariance_a1_b1": None}
    if dof > 0:
        variance = left @ left / dof
        covariance = variance * np.linalg.inv(design.T @ design)[start : start + 2, start : start + 2]
        toward = np.array([waves[0]["a"], waves[0]["b"]]) / (waves[0]["size"] / 2)
        answer["residual"] = math.sqrt(variance)
        answer["u_once_per_turn"] = 2 * math.sqrt(toward @ covariance @ toward)
        answer["covariance_a1_b1"] = covariance.tolist()
    return answer


def exact_profile():
    """A profile with harmonics 1, 2, 3 and no noise: the fit must give them back, whatever the stops."""
    angles = [0.0, 40.0, 85.0, 131.0, 170.0, 222.0, 268.0, 299.0, 333.0]
    waves = [(0.731, 62.0), (0.214, 17.5), (0.053, 101.25)]  # half the swing, where it is high (degrees)
    turns = [[zero + sum(size * math.cos((k + 1) * math.radians(angle - at)) for k, (size, at) in enumerate(waves))
              for angle in angles] for zero in (0.0, -0.4, 12.5)]
    expected = {"once_per_turn": 2 * 0.731, "once_high_at_deg": 62.0, "twice_per_turn": 2 * 0.214,
                "twice_high_at_deg": 17.5, "three_per_turn": 2 * 0.053, "three_high_at_deg": 101.25}
    fit = harmonic_fit(angles, turns)
    for wave, size in zip(fit["waves"], (0.731, 0.214, 0.053)):
        assert abs(wave["size"] - 2 * size) < 1e-12
    return {"angles": angles, "turns": turns, "expected": expected}


def circle(x, y):
    """The circle with the least sum of squared distances from it, by Gauss and Newton from the algebraic one."""
    x, y = np.array(x, float), np.array(y, float)
    design = np.column_stack([x, y, np.ones_like(x)])
    (p, q, r), *_ = np.linalg.lstsq(design, x**2 + y**2, rcond=None)
    algebraic = [p / 2, q / 2, math.sqrt(r + p * p / 4 + q * q / 4)]
    best = optimize.least_squares(lambda c: np.hypot(x - c[0], y - c[1]) - c[2], algebraic, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return {"x": x.tolist(), "y": y.tolist(), "algebraic": algebraic, "geometric": best.x.tolist(), "sum_of_squares": 2 * best.cost}


def profile12():
    """CHECKVALUES 4.1 and 4.4: the least-squares circle of equally spaced readings, and its harmonics by the FFT."""
    angles, r = FITS["twelve stops, one turn, no noise but rounding"][0], np.array(FITS["twelve stops, one turn, no noise but rounding"][1][0])
    spectrum = np.fft.rfft(r) / len(r)
    waves = [{"k": k, "a": 2 * spectrum[k].real, "b": -2 * spectrum[k].imag, "amplitude": 2 * abs(spectrum[k])} for k in range(1, 6)]
    waves.append({"k": 6, "a": spectrum[6].real, "b": 0.0, "amplitude": abs(spectrum[6])})
    theta = np.radians(angles)
    left = r - r.mean() - waves[0]["a"] * np.cos(theta) - waves[0]["b"] * np.sin(theta)
    return {"angles": angles, "r": r.tolist(), "mean": r.mean(), "waves": waves, "tir": np.ptp(r),
            "twice_eccentricity": 2 * waves[0]["amplitude"], "left_peak_to_valley": np.ptp(left),
            "left_rms": math.sqrt(np.mean(left**2))}


def conformity(y, u, low, high):
    upper = 1.0 if high is None else special.ndtr((high - y) / u)
    lower = 0.0 if low is None else special.ndtr((low - y) / u)
    return {"y": y, "u": u, "low": low, "high": high, "p": upper - lower}


def everything():
    degrees = list(range(1, 31)) + [50, 100, 1000000]
    counts = [2, 3, 4, 8, 12, 24]
    return {
        "made_by": {"script": "oracle_change.py", "python": sys.version.split()[0], "numpy": np.__version__,
                    "scipy": scipy.__version__, "statsmodels": statsmodels.__version__},
        "welch": {name: welch(*pair) for name, pair in PAIRS.items()},
        "paired": {name: paired(*pair) for name, pair in PAIRED.items()},
        "t_0975": {str(nu): stats.t.ppf(0.975, nu) for nu in degrees},
        "normal": {str(p): stats.norm.ppf(p) for p in (0.5, 0.9, 0.95, 0.975, 0.99, 0.995, 0.999)},
        "range_of_rectangular_095": {str(n): range_of_rectangular(n) for n in range(2, 73)},
        "range_of_normal_095": {str(n): stats.studentized_range.ppf(0.95, n, np.inf) for n in counts},
        "range_of_normal_095_of_six": {str(n): stats.studentized_range.ppf(0.95, n, 5) for n in counts},
        "harmonic_fits": {name: harmonic_fit(*fit) for name, fit in FITS.items()},
        "exact_profile": exact_profile(),
        "circles": {name: circle(*points) for name, points in CIRCLES.items()},
        "profile12": profile12(),
        "holm": [{"p": p, "adjusted": multipletests(p, method="holm")[1].tolist()} for p in HOLM],
        "conformity": [conformity(*case) for case in CONFORMITY],
    }


def plain(value):
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(type(value))


if __name__ == "__main__":
    print(json.dumps(everything(), indent=1, default=plain, allow_nan=False))
