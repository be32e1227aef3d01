"""Turns data files of the NIST Statistical Reference Datasets (nonlinear regression) into check files.

Not run in CI. Usage: python nist_nonlinear.py FOLDER_OF_DAT_FILES FOLDER_FOR_JSON [NAME ...]

Data, form of the curve, both starts and the certified values (11 digits) are read from the .dat files as NIST
publishes them; nothing is computed here. Tolerances are those of the check files of the same computation, but
for Lanczos1: its residuals of 1e-13 are of the size by which its 13 printed digits differ from the nearest
doubles, so that errors and sum of squares hold to about 3 digits in any program that works with doubles.
"""

import json
import pathlib
import re
import sys


def read(path):
    lines = path.read_text(encoding="latin-1").splitlines()
    text = "\n".join(lines[:60])
    span = re.findall(r"Data\s+\(lines (\d+) to (\d+)\)", text)[-1]
    # The form begins after the line that counts the parameters and ends before the table of starts.
    form = text[re.search(r"Parameters \(b1", text).end():text.rindex("Starting")]
    form = " ".join(form.split("\n", 1)[1].split())
    if form.startswith("pi ="):
        form = form[form.index("y ="):]
    form = re.sub(r"\+\s*e$", "", form.strip()).strip().replace("**", "^").replace("[", "(").replace("]", ")")
    numbers = r"[-+0-9.eE]+"
    rows = re.findall(rf"b\d+\s*=\s*({numbers})\s+({numbers})\s+({numbers})\s+({numbers})", text)
    starts = list(zip(*[[float(cell) for cell in row] for row in rows]))
    residual = {
        "sse": r"Residual Sum of Squares:\s+(\S+)",
        "residual_sd": r"Residual Standard Deviation:\s+(\S+)",
    }
    residual = {key: float(re.search(pattern, text).group(1)) for key, pattern in residual.items()}
    # The file of Rat43 prints 9 degrees of freedom for 15 points and 4 parameters: counted, not read.
    data = [[float(cell) for cell in line.split()] for line in lines[int(span[0]) - 1:int(span[1])] if line.strip()]
    residual["df_residual"] = len(data) - len(rows)
    inputs = {"model": form, "y": [row[0] for row in data]}
    if len(data[0]) == 2:
        inputs["x"] = [row[1] for row in data]
    else:
        for place in range(1, len(data[0])):
            inputs[f"x{place}"] = [row[place] for row in data]
    inputs |= {"start1": starts[0], "start2": starts[1]}
    tolerance = {"beta_rel": 1e-6, "se_rel": 1e-5, "sse_rel": 1e-8}
    if path.stem == "Lanczos1":
        tolerance |= {"se_rel": 2e-3, "sse_rel": 5e-3}
    return {
        "name": f"Nonlinear least squares: NIST StRD {path.stem}",
        "computation": 1,
        "source": f"NIST Statistical Reference Datasets (StRD), nonlinear regression, {path.name}; certified values as printed",
        "provenance": "package",
        "inputs": inputs,
        "expected": {"beta": starts[2], "se": starts[3], **residual},
        "tolerance": tolerance,
    }


def main():
    source, target, *names = sys.argv[1:]
    for path in sorted(pathlib.Path(source).glob("*.dat")):
        if not names or path.stem in names:
            out = pathlib.Path(target) / f"01_nonlinear_{path.stem.lower()}.json"
            out.write_text(json.dumps(read(path), indent=1) + "\n")


main()
