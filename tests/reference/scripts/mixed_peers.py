"""Times lme4 and statsmodels on the rows that the bench wrote, in one go.

    cargo bench -p proficiency --bench group_curve -- --write rows.csv
    python mixed_peers.py rows.csv

Needs Python with pandas and statsmodels, and R with lme4. Not run by the tests.
"""

import subprocess
import sys
import tempfile
import time
import warnings

import pandas
import statsmodels
import statsmodels.formula.api as smf

R = """
suppressMessages(library(lme4))
d <- read.csv(commandArgs(TRUE)[1]); d$trainee <- factor(d$trainee)
cat(R.version.string, "lme4", as.character(packageVersion("lme4")), "\\n")
for (reml in c(TRUE, FALSE)) {
  took <- replicate(5, system.time(f <<- lmer(y ~ n + h + w + m + (1 + n | trainee), d, REML = reml))[["elapsed"]])
  cat(if (reml) "REML" else "ML", "fastest", min(took) * 1e3, "ms, middle", median(took) * 1e3, "ms, criterion",
      format(if (reml) REMLcrit(f) else -2 * as.numeric(logLik(f)), digits = 12), "\\n")
}
dev <- lmer(y ~ n + h + w + m + (1 + n | trainee), d, devFunOnly = TRUE)
took <- system.time(for (i in 1:200) dev(c(2, -0.2, 0.6 + i * 1e-4)))[["elapsed"]]
cat("one evaluation", took / 200 * 1e3, "ms\\n")
"""


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    rows = sys.argv[1]
    with tempfile.NamedTemporaryFile("w", suffix=".R") as script:
        script.write(R)
        script.flush()
        subprocess.run(["Rscript", script.name, rows], check=True)
    data = pandas.read_csv(rows)
    print("statsmodels", statsmodels.__version__)
    for reml in (True, False):
        took = []
        for _ in range(3):
            began = time.perf_counter()
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                fit = smf.mixedlm("y ~ n + h + w + m", data, groups="trainee", re_formula="~n").fit(reml=reml)
            took.append((time.perf_counter() - began) * 1e3)
        took.sort()
        print("REML" if reml else "ML", f"fastest {took[0]:.0f} ms, middle {took[1]:.0f} ms, criterion {-2 * fit.llf:.6f}")


if __name__ == "__main__":
    main()
