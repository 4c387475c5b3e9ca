#!/usr/bin/env python3
"""The smallest number of readings that could show a change, by scipy and by the closed form.

    python3 -m pip install numpy==2.4.6 scipy==1.17.1 statsmodels==0.15.0
    python3 oracle_readings_needed.py > ../data/scipy_readings_needed.json

Two visits of n readings each, spread s: the half-width of the 95 % interval of the difference of
their means is t(0.975, 2(n-1)) s sqrt(2/n); statsmodels' CompareMeans gives the same from made samples,
which is asserted. Where s is known, n = ceil(2 (z s / E)^2) (NIST/SEMATECH e-Handbook of Statistical
Methods, 7.2.2.2, for two samples).
"""

import json
import math
import sys

import numpy as np
import scipy
import statsmodels
from scipy import stats
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

MATTERS = [0.05, 0.1, 0.2, 0.25, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 7.0]  # over the spread


def half(n):
    return stats.t.ppf(0.975, 2 * (n - 1)) * math.sqrt(2 / n)


def checked_by_statsmodels(n):
    sample = np.arange(n, dtype=float)
    sample = (sample - sample.mean()) / sample.std(ddof=1)
    low, high = CompareMeans(DescrStatsW(sample), DescrStatsW(sample)).tconfint_diff(0.05, usevar="pooled")
    assert abs((high - low) / 2 - half(n)) < 1e-9 * half(n)


def smallest(matters):
    n = 2
    while half(n) > matters:
        n += 1
    return n


for n in (2, 3, 5, 12, 60):
    checked_by_statsmodels(n)
z = stats.norm.ppf(0.975)
json.dump({
    "made_by": f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, numpy {np.__version__}",
    "half_width": {str(n): half(n) for n in (2, 3, 4, 5, 8, 12, 30, 100)},
    "seen": [{"matters": m, "n": smallest(m)} for m in MATTERS],
    "known": [{"matters": m, "n": math.ceil(2 * (z / m) ** 2)} for m in MATTERS],
}, sys.stdout, indent=1)
print()
