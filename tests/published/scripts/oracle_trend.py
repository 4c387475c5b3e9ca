#!/usr/bin/env python3
"""Lines by least squares and Mann and Kendall's test, by scipy; days and months by dateutil.

    python3 -m pip install numpy==2.4.6 scipy==1.17.1 python-dateutil==4.0.0
    python3 oracle_trend.py > ../data/scipy_trend.json

`p_counted` is kendalltau(method="exact"). Where there are ties, or many values, `variance` is S over the z that
kendalltau(method="asymptotic") used: its own p has no step taken off for continuity, so `p_continuous` is worked out
from S and that variance.
"""

import datetime
import json
import math
import sys

import dateutil
import numpy as np
import scipy
from dateutil.relativedelta import relativedelta
from scipy import stats

CASES = {
    "five_rising": ([0, 31, 59, 120, 400], [1.02, 1.31, 1.29, 1.77, 3.4]),
    "six_falling": ([0, 90, 180, 270, 365, 730], [12.4, 12.1, 12.15, 11.2, 11.0, 9.3]),
    "seven_scattered": ([0, 10, 20, 30, 40, 50, 60], [3.0, 1.0, 2.5, 0.5, 4.0, 1.5, 2.75]),
    "ten_years": (
        [365 * k for k in range(10)],
        [0.10, 0.12, 0.11, 0.15, 0.14, 0.18, 0.17, 0.21, 0.23, 0.22],
    ),
    "nearly_level": ([0, 100, 200, 300, 400, 500], [1e6 + d for d in (0.01, 0.03, 0.02, 0.05, 0.04, 0.045)]),
    "values_tied": ([0, 30, 60, 90, 120, 150], [2.0, 2.0, 2.5, 2.5, 2.5, 3.0]),
    "days_tied": ([0, 0, 30, 60, 60, 90, 120], [2.0, 2.1, 2.5, 2.2, 2.7, 3.1, 3.0]),
    "both_tied": ([0, 0, 30, 60, 60, 90, 120], [2.0, 2.0, 2.5, 2.5, 2.7, 2.7, 2.7]),
    "fifteen": (
        [30 * k for k in range(15)],
        [5.1, 5.0, 5.3, 5.2, 5.6, 5.5, 5.4, 5.9, 5.8, 6.1, 6.0, 5.7, 6.2, 6.4, 6.3],
    ),
}


def pairs(days, values):
    return sum(
        int(np.sign(days[j] - days[i]) * np.sign(values[j] - values[i]))
        for j in range(len(days))
        for i in range(j)
    )


def case(days, values):
    line = stats.linregress(days, values)
    n = len(days)
    s = pairs(days, values)
    tied = len(set(days)) < n or len(set(values)) < n
    found = {
        "days": days,
        "values": values,
        "slope": line.slope,
        "intercept": line.intercept,
        "half": stats.t.ppf(0.975, n - 2) * line.stderr,
        "s": s,
    }
    if n <= 10 and not tied:
        found["p_counted"] = stats.kendalltau(days, values, method="exact").pvalue
    else:
        p = stats.kendalltau(days, values, method="asymptotic").pvalue
        z = -stats.norm.ppf(p / 2)
        found["variance"] = (s / z) ** 2
        found["p_continuous"] = 2 * stats.norm.sf((abs(s) - 1) / math.sqrt(found["variance"]))
    return found


def calendar():
    """Days on which a coverage that was bought then ends, and how far off that is."""
    rows = []
    for start in ("2024-02-29", "2024-01-31", "2025-12-31", "2026-03-30", "2023-08-31", "1999-11-30"):
        begin = datetime.date.fromisoformat(start)
        for count, unit in ((30, "days"), (6, "weeks"), (1, "months"), (18, "months"), (3, "years"), (4, "years")):
            until = begin + relativedelta(**{unit: count})
            for on in ("2024-02-28", "2026-04-01"):
                day = datetime.date.fromisoformat(on)
                rows.append([start, f"{count} {unit}", str(until), on, (until - day).days])
    return rows


json.dump({
    "made_by": f"scipy {scipy.__version__}, numpy {np.__version__}, dateutil {dateutil.__version__}",
    "cases": {name: case(*data) for name, data in CASES.items()},
    "calendar": calendar(),
}, sys.stdout, indent=1)
print()
