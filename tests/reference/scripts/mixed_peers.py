"""Times the crate, natively and in WebAssembly, lme4 and statsmodels on the same rows, and prints one table.

    python tests/reference/scripts/mixed_peers.py

Run from the root of the repository. Needs cargo with the target wasm32-wasip1, Node, R with lme4, and Python with
pandas and statsmodels. The rows are those of the bench `group_curve`: 300 trainees of 30 services. Each criterion is
printed, so that it is seen that all found the same fit. Not run by the tests.
"""

import datetime
import json
import os
import pathlib
import re
import subprocess
import tempfile
import time
import warnings

import pandas
import statsmodels
import statsmodels.formula.api as smf

R = """
suppressMessages(library(lme4))
d <- read.csv(commandArgs(TRUE)[1]); d$trainee <- factor(d$trainee)
cat(R.version$major, ".", R.version$minor, ", lme4 ", as.character(packageVersion("lme4")), "\\n", sep = "")
for (reml in c(TRUE, FALSE)) {
  took <- replicate(7, system.time(f <<- lmer(y ~ n + h + w + m + (1 + n | trainee), d, REML = reml))[["elapsed"]])
  cat(min(took) * 1e3, median(took) * 1e3, format(if (reml) REMLcrit(f) else -2 * as.numeric(logLik(f)), digits = 12), "\\n")
}
"""
FIT = re.compile(r"one (REML|ML) fit\s+fastest\s+([\d.]+) ms, middle\s+([\d.]+) ms")


def own(output):
    found = {kind: (float(fastest), float(middle)) for kind, fastest, middle in FIT.findall(output)}
    return found, float(re.search(r"criterion (-?[\d.]+)", output).group(1))


def bench(*arguments, level=None):
    environment, config = dict(os.environ), []
    if level:
        environment["CARGO_PROFILE_BENCH_OPT_LEVEL"] = level
        # What the release profile says of the package alone counts more than that.
        config = ["--config", f"profile.bench.package.proficiency.opt-level={level}"]
    command = ["cargo", "bench", *config, "-p", "proficiency", "--bench", "group_curve", *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True, env=environment)


def in_wasm():
    built = bench("--target", "wasm32-wasip1", "--no-run", "--message-format", "json")
    files = [json.loads(line).get("executable") for line in built.stdout.splitlines() if line.startswith("{")]
    wasm = next(file for file in files if file)
    run = ["node", "--no-warnings", "app/proficiency/benches/in_wasm.mjs", wasm, "--fit"]
    return own(subprocess.run(run, check=True, capture_output=True, text=True).stdout)


def main():
    table = []
    with tempfile.TemporaryDirectory() as folder:
        rows = pathlib.Path(folder) / "rows.csv"
        native = own(bench("--", "--fit", "--write", str(rows), level="3").stdout)
        table.append(("native, opt-level 3", native))
        table.append(("WebAssembly, built as the site is", in_wasm()))
        script = pathlib.Path(folder) / "fit.R"
        script.write_text(R)
        lines = subprocess.run(["Rscript", str(script), str(rows)], check=True, capture_output=True, text=True).stdout.splitlines()
        (fast, middle, criterion), (ml_fast, ml_middle, _) = [[float(cell) for cell in line.split()] for line in lines[1:3]]
        table.append((f"R {lines[0]}", ({"REML": (fast, middle), "ML": (ml_fast, ml_middle)}, criterion)))
        data, found = pandas.read_csv(rows), {}
        for kind in ("REML", "ML"):
            took = []
            for _ in range(3):
                began = time.perf_counter()
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    fit = smf.mixedlm("y ~ n + h + w + m", data, groups="trainee", re_formula="~n").fit(reml=kind == "REML")
                took.append((time.perf_counter() - began) * 1e3)
            found[kind] = (min(took), sorted(took)[1])
            criterion = -2 * fit.llf if kind == "REML" else criterion
        table.append((f"statsmodels {statsmodels.__version__}", (found, criterion)))
    print(f"{datetime.date.today()}, {os.cpu_count()} cores; fastest and middle of the runs\n")
    print("| mixed fit, 300 trainees x 30 services | REML | ML | criterion | fastest against native |\n|---|---|---|---|---|")
    base = table[0][1][0]["REML"][0]
    for name, (found, criterion) in table:
        cells = [f"{found[kind][0]:.1f} / {found[kind][1]:.1f} ms" for kind in ("REML", "ML")]
        print(f"| {name} | {cells[0]} | {cells[1]} | {criterion:.4f} | {found['REML'][0] / base:.1f} |")


if __name__ == "__main__":
    main()
