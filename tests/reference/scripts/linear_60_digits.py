"""Works out linear least squares in 60 digits by normal equations (mpmath), and writes check files.

Not run in CI. Usage: python linear_60_digits.py FOLDER_FOR_JSON [FILIP_DATA PONTIUS_DATA]

Wampler 2, 4 and 5 and NoInt2 are made here from their published definitions (Wampler 1970, JASA 65:549-565;
NIST StRD). Filip and Pontius are read from two-column text files (y, x) where they are at hand.
Numbers are taken as the nearest double, as a program reads them.
"""

import json
import pathlib
import sys

import mpmath as mp

mp.mp.dps = 60


def solve(y, x, degree, intercept):
    powers = list(range(0 if intercept else 1, degree + 1))
    design = mp.matrix([[mp.mpf(value) ** power for power in powers] for value in x])
    response = mp.matrix([mp.mpf(value) for value in y])
    square = design.T * design
    inverse = square ** -1
    beta = inverse * (design.T * response)
    residuals = response - design * beta
    sse = mp.fsum(value ** 2 for value in residuals)
    df = len(y) - len(powers)
    centre = mp.fsum(response) / len(y) if intercept else mp.mpf(0)
    about = mp.fsum((value - centre) ** 2 for value in response)
    if sse < mp.mpf(10) ** -40:
        sse = mp.mpf(0)
    variance = sse / df
    return {
        "beta": [float(value) for value in beta],
        "se": [float(mp.sqrt(variance * inverse[k, k])) for k in range(len(powers))],
        "residual_sd": float(mp.sqrt(variance)),
        "sse": float(sse),
        "r_squared": float(1 - sse / about),
        "df_residual": df,
    }


def main():
    folder = pathlib.Path(sys.argv[1])
    x = [float(value) for value in range(21)]
    # The departures of Wampler 3; Wampler 4 and 5 have them 100 and 10 000 times as large.
    delta = [759, -2048, 2048, -2048, 2523, -2048, 2048, -2048, 1838, -2048, 2048, -2048, 1838, -2048, 2048, -2048,
             2523, -2048, 2048, -2048, 759]
    ones = [sum(value ** power for power in range(6)) for value in x]
    tenths = [float(sum(mp.mpf(value) ** power / mp.mpf(10) ** power for power in range(6))) for value in x]
    sets = {
        "wampler2": (tenths, x, 5, True),
        "wampler4": ([one + 100 * step for one, step in zip(ones, delta)], x, 5, True),
        "wampler5": ([one + 10000 * step for one, step in zip(ones, delta)], x, 5, True),
        "noint2": ([3.0, 4.0, 4.0], [4.0, 5.0, 6.0], 1, False),
    }
    for name, degree, path in zip(["filip", "pontius"], [10, 2], sys.argv[2:]):
        rows = [[float(cell) for cell in line.split()] for line in open(path) if line.strip()]
        sets[name] = ([row[0] for row in rows], [row[1] for row in rows], degree, True)
    for name, (y, x, degree, intercept) in sets.items():
        exact = name == "wampler2"
        out = {
            "name": f"Linear least squares: NIST StRD {name}",
            "computation": 1,
            "source": "NIST Statistical Reference Datasets (StRD), linear regression; expected values worked out in 60 digits",
            "provenance": "package",
            "inputs": {"y": y, "x": x, "polynomial_degree": degree, "intercept": intercept},
            "expected": solve(y, x, degree, intercept),
            "tolerance": {"beta_rel": 1e-9, "se_rel": 1e-6 if exact else 1e-9, "abs": 1e-6 if exact else 0},
        }
        (folder / f"01_linear_{name}.json").write_text(json.dumps(out, indent=1) + "\n")


main()
