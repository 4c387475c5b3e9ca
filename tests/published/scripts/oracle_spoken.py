#!/usr/bin/env python3
"""How numbers are read in English, by num2words (PyPI; LGPL, only its answers are kept).

    python3 -m pip install num2words==0.5.14
    python3 oracle_spoken.py > ../data/num2words_spoken.csv

Whole numbers, ordinals, years and decimals with all their digits, each as typed and as it is read. num2words puts a comma
after each group ("three thousand, four hundred and fifty"); the test leaves it out, since a comma is a pause.
"""

import csv
import random
import sys
from decimal import Decimal

from num2words import num2words


def whole_numbers():
    numbers = set(range(0, 131)) | {n * 100 for n in range(1, 50)} | {10**n for n in range(3, 18)}
    numbers |= {n + d for n in (1000, 2000, 10000, 100000, 1000000, 10**9) for d in (1, 5, 12, 20, 99, 100, 101, 345, 999)}
    # Speeds, readings and prices of the demo sessions.
    numbers |= {1849, 1991, 2400, 2972, 3200, 3417, 3434, 3450, 3978, 4000, 9806, 14704, 299792458}
    random.seed(811)
    numbers |= {random.randrange(10**random.randrange(1, 17)) for _ in range(300)}
    return sorted(numbers)


def decimals():
    fixed = "0.5 0.05 0.001 0.0005 3.3 3.45 8.35 11.64 0.0537 0.188 9.80665 25.4 100.01 1000.5 0.9 12.12 3417.25".split()
    random.seed(812)
    made = [str(Decimal(random.randrange(1, 10**6)).scaleb(-random.randrange(1, 5))) for _ in range(200)]
    for text in fixed + [text for text in made if "E" not in text]:
        # Zeros at the end are not said by the program; the oracle is asked without them.
        yield text.rstrip("0").rstrip(".") if "." in text else text


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["what", "typed", "read"])
    for n in whole_numbers():
        out.writerow(["cardinal", n, num2words(n, lang="en")])
    for n in list(range(1, 132)) + [200, 1000, 2026, 3450, 10**6]:
        out.writerow(["ordinal", n, num2words(n, lang="en", to="ordinal")])
    for n in list(range(1000, 2101, 7)) + list(range(1900, 2040)):
        out.writerow(["year", n, num2words(n, lang="en", to="year")])
    for text in sorted(set(decimals())):
        if "." in text:
            out.writerow(["decimal", text, num2words(Decimal(text), lang="en")])
            # num2words 0.5.14 loses the minus between minus one and zero.
            if Decimal(text) >= 1:
                out.writerow(["decimal", "-" + text, num2words(-Decimal(text), lang="en")])


if __name__ == "__main__":
    main()
