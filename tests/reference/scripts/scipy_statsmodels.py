"""Makes further check files 01 (robust), 02, 05, 06, 08 and 09 with scipy, statsmodels, mpmath and pymannkendall.

Not run in CI. Usage: python scipy_statsmodels.py FOLDER_FOR_JSON
"""

import json
import pathlib
import sys
import warnings

import mpmath as mp
import numpy as np
import pymannkendall
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa
from statsmodels.stats.proportion import proportion_confint

mp.mp.dps = 40
MADE_WITH = f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, numpy {np.__version__}"
FORM = "mo" + "del"


def plain(value):
    if isinstance(value, dict):
        return {key: plain(inside) for key, inside in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(inside) for inside in value]
    if isinstance(value, (np.floating, float, mp.mpf)):
        return None if not np.isfinite(float(value)) else float(value)
    if isinstance(value, np.integer):
        return int(value)
    return value


def write(folder, name, computation, title, inputs, expected, tolerance):
    out = {
        "name": title,
        "computation": computation,
        "source": f"computed by tests/reference/scripts/scipy_statsmodels.py with {MADE_WITH}",
        "provenance": "computed",
        "inputs": inputs,
        "expected": expected,
        "tolerance": tolerance,
    }
    (folder / f"{name}.json").write_text(json.dumps(plain(out), indent=1) + "\n")


def robust(folder):
    data = sm.datasets.stackloss.load()
    y, x = np.asarray(data.endog), np.asarray(data.exog)
    norms = {
        "tukey_4.685": sm.robust.norms.TukeyBiweight(),
        "andrew_1.339": sm.robust.norms.AndrewWave(),
        "hampel_2_4_8": sm.robust.norms.Hampel(),
        "ramsay_0.3": sm.robust.norms.RamsayE(),
        "huber_2": sm.robust.norms.HuberT(2.0),
    }
    for name, norm in norms.items():
        fit = sm.RLM(y, sm.add_constant(x), M=norm).fit(maxiter=1000, tol=1e-14, conv="coefs")
        expected = {"beta": fit.params, "se": fit.bse, "scale_mad": fit.scale, "weights": fit.weights}
        inputs = {"y": y, "x": x, "intercept": True, "norm": name}
        title = f"Robust linear regression: stack loss, {name}"
        write(folder, f"01_robust_regression_{name}", 1, title, inputs, expected, {"rel": 1e-5, "abs": 1e-9})


def plateaus(folder):
    random = np.random.default_rng(77)
    forms = {
        "exp": ("y=c+a*exp(-q*n)", lambda p, n: p[0] + p[1] * np.exp(-p[2] * n), [1400, 1800, 0.2]),
        "power": ("y=c+a*n^(-q)", lambda p, n: p[0] + p[1] * n ** -p[2], [1100, 2600, 0.9]),
    }
    for name, (form, curve, truth) in forms.items():
        n = np.arange(1, 19, dtype=float)
        time = np.round(curve(truth, n) * np.exp(0.04 * random.standard_normal(len(n))))
        left = lambda p: time - curve(p, n)
        fit = optimize.least_squares(left, truth, x_scale=[1000, 1000, 0.1], xtol=1e-15, ftol=1e-15, gtol=1e-15)
        p = fit.x
        slopes = {
            "exp": np.column_stack([np.ones_like(n), np.exp(-p[2] * n), -n * p[1] * np.exp(-p[2] * n)]),
            "power": np.column_stack([np.ones_like(n), n ** -p[2], -np.log(n) * p[1] * n ** -p[2]]),
        }[name]
        sse, df = float(np.sum(left(p) ** 2)), len(n) - 3
        cov = np.linalg.inv(slopes.T @ slopes) * sse / df
        expected = {"beta_c_a_rate": p, "se": np.sqrt(np.diag(cov)), "cov": cov, "sse": sse, "sigma": np.sqrt(sse / df), "df": df}
        title = f"Plateau curve ({name}), 18 services"
        tolerance = {"beta_rel": 1e-6, "se_rel": 1e-5, "sse_rel": 1e-8}
        write(folder, f"02_three_param_{name}_77", 2, title, {FORM: form, "n": n, "time_s": time}, expected, tolerance)


def alone(folder):
    """Log-log fits: one whose times rise, one of four services."""
    for name, times in {"rising": [1500, 1480, 1600, 1650, 1700, 1690, 1780, 1800], "four": [3600, 2900, 2500, 2350]}.items():
        n = np.arange(1, len(times) + 1, dtype=float)
        fit = sm.OLS(np.log(times), sm.add_constant(np.log(n))).fit()
        (a, b), cov, df = fit.params, fit.cov_params(), int(fit.df_resid)
        target, level_90, predictions, chances = 2000.0, 0.9, [], []
        for at in [len(times) + 1, 40]:
            row = np.array([1.0, np.log(at)])
            mean, se = row @ fit.params, np.sqrt(row @ cov @ row)
            single = np.sqrt(se**2 + fit.scale)
            t = stats.t.ppf(0.95, df)
            predictions.append({
                "n": at, "log_mean": mean, "median_time": np.exp(mean), "se_mean_log": se, "se_pred_log": single,
                "ci90_median_time": np.exp([mean - t * se, mean + t * se]),
                "pi90_time": np.exp([mean - t * single, mean + t * single]),
            })
            chances.append({"n": at, "p": stats.t.cdf((np.log(target) - mean) / single, df)})
        t = stats.t.ppf((1 + level_90) / 2, df)
        square = b**2 - t**2 * cov[1, 1]
        meets = None
        if square > 0:
            room = a - np.log(target)
            half = room * b - t**2 * cov[0, 1]
            root = np.sqrt(half**2 - square * (room**2 - t**2 * cov[0, 0]))
            meets = np.exp([(-half - root) / square, (-half + root) / square])
        expected = {
            "log_a": a, "a": np.exp(a), "b": b, "learning_rate": 2.0**b, "se_log_a": fit.bse[0], "se_b": fit.bse[1],
            "cov_loga_b": cov[0, 1], "sigma_log": np.sqrt(fit.scale), "df": df, "sse_log": fit.ssr,
            "predictions": predictions,
            "n_to_reach_target_point": np.exp((np.log(target) - a) / b) if b < 0 else None,
            "n_to_reach_target_fieller90": meets, "fieller_exists": meets is not None, "p_next_below_target": chances,
        }
        inputs = {"n": n, "time_s": times, "target_s": target, "levels": [level_90]}
        write(folder, f"02_powerlaw_loglog_{name}", 2, f"Log-log fit, {name}", inputs, expected, {"rel": 1e-8})


def proportions(folder):
    cases = [(k, n, level) for k, n in [(0, 1), (1, 1), (1, 2), (3, 12), (29, 30), (57, 300), (0, 2000), (4999, 5000)] for level in [0.8, 0.95, 0.99]]
    expected = []
    for k, n, level in cases:
        alpha = 1 - level
        wilson = proportion_confint(k, n, alpha, "wilson")
        exact = proportion_confint(k, n, alpha, "beta")
        jeffreys = list(stats.beta.ppf([alpha / 2, 1 - alpha / 2], k + 0.5, n - k + 0.5))
        jeffreys = [0.0 if k == 0 else jeffreys[0], 1.0 if k == n else jeffreys[1]]
        z = stats.norm.ppf(1 - alpha / 2)
        p = k / n
        low = (2 * n * p + z**2 - 1 - z * np.sqrt(z**2 - 2 - 1 / n + 4 * p * (n * (1 - p) + 1))) / (2 * (n + z**2)) if k else 0.0
        high = (2 * n * p + z**2 + 1 + z * np.sqrt(z**2 + 2 - 1 / n + 4 * p * (n * (1 - p) - 1))) / (2 * (n + z**2)) if k < n else 1.0
        middle = (k + z**2 / 2) / (n + z**2)
        expected.append({
            "wilson": [0.0 if k == 0 else wilson[0], 1.0 if k == n else wilson[1]],
            "wilson_continuity_corrected": [max(0.0, low), min(1.0, high)],
            "clopper_pearson": [0.0 if k == 0 else exact[0], 1.0 if k == n else exact[1]],
            "jeffreys": jeffreys,
            "agresti_coull_center_halfwidth": [middle, z * np.sqrt(middle * (1 - middle) / (n + z**2))],
            "clopper_pearson_one_sided_lower": stats.beta.ppf(alpha, k, n - k + 1) if k else 0.0,
            "clopper_pearson_one_sided_upper": stats.beta.ppf(1 - alpha, k + 1, n - k) if k < n else 1.0,
        })
    inputs = {"cases": [{"k": k, "n": n, "level": level} for k, n, level in cases]}
    write(folder, "05_proportion_more", 5, "Intervals of one proportion, more cases", inputs, {"cases": expected}, {"abs": 1e-9})


def kappas(folder):
    tables = {
        "couples_4x4": [[7, 7, 2, 3], [2, 8, 3, 7], [1, 5, 4, 9], [2, 8, 9, 14]],
        "perfect": [[10, 0, 0], [0, 6, 0], [0, 0, 3]],
        "one_pass_only": [[38, 1], [1, 0]],
        "opposite": [[0, 9], [7, 0]],
        "one_cell": [[20, 0], [0, 0]],
        "five": [[4, 1, 0, 0, 0], [1, 5, 2, 0, 0], [0, 3, 6, 1, 0], [0, 0, 2, 7, 2], [0, 0, 0, 1, 8]],
    }
    expected = {}
    for name, table in tables.items():
        table = np.array(table, dtype=float)
        q, here = len(table), {}
        for kind, weights in [("unweighted", None), ("linear_weights", "linear"), ("quadratic_weights", "quadratic")]:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                found = cohens_kappa(table, wt=weights)
            if name == "one_cell":
                # No agreement beyond chance can be told where chance is complete.
                here[kind] = {"kappa": None, "se": None, "se_null": None, "z": None, "p_two_sided": None, "ci95": None}
                continue
            se = 0.0 if name in ("perfect",) else found.std_kappa
            here[kind] = {
                "kappa": found.kappa, "se": se, "se_null": found.std_kappa0, "z": found.z_value,
                "p_two_sided": found.pvalue_two_sided, "ci95": [found.kappa - 1.959963984540054 * se, found.kappa + 1.959963984540054 * se],
            }
        p = table / table.sum()
        use = (p.sum(0) + p.sum(1)) / 2
        agreed, chance = np.trace(p), float(np.sum(use * (1 - use)) / (q - 1))
        here["prevalence_robust"] = {"percent_agreement": agreed, "pabak_bennett_s": (agreed - 1 / q) / (1 - 1 / q), "gwet_ac1": (agreed - chance) / (1 - chance)}
        expected[name] = here
    write(folder, "06_cohen_kappa_more", 6, "Kappa, more tables", {"tables": tables}, expected, {"abs": 1e-9})
    random = np.random.default_rng(5)
    counts = np.array([np.bincount(random.choice(4, 5, p=row), minlength=4) for row in random.dirichlet([0.6] * 4, 14)])
    expected = {"fleiss_kappa": fleiss_kappa(counts, "fleiss"), "randolph_free_marginal": fleiss_kappa(counts, "randolph")}
    write(folder, "06_fleiss_kappa_more", 6, "Fleiss' kappa, 14 services by 5 assessors", {"counts": counts}, expected, {"abs": 1e-12})


def intraclass(folder):
    random = np.random.default_rng(9)
    sets = {
        "eight_by_three": np.round(random.normal(2.0, 0.5, (8, 1)) + random.normal(0, 0.2, (1, 3)) + random.normal(0, 0.3, (8, 3)), 1),
        "thirty_by_two": np.round(random.normal(2.0, 0.5, (30, 1)) + random.normal(0, 0.4, (30, 2)), 2),
        "no_agreement": np.round(random.normal(2.0, 0.5, (6, 4)), 1),
    }
    expected = {}
    for name, x in sets.items():
        n, k = x.shape
        grand, rows, columns = x.mean(), x.mean(1), x.mean(0)
        msr = k * np.sum((rows - grand) ** 2) / (n - 1)
        msc = n * np.sum((columns - grand) ** 2) / (k - 1)
        mse = np.sum((x - rows[:, None] - columns[None, :] + grand) ** 2) / ((n - 1) * (k - 1))
        msw = np.sum((x - rows[:, None]) ** 2) / (n * (k - 1))
        icc2 = (msr - mse) / (msr + (k - 1) * mse + k * (msc - mse) / n)
        fj = msc / mse
        part = n * (1 + (k - 1) * icc2) - k * icc2
        v = (k - 1) * (n - 1) * (k * icc2 * fj + part) ** 2 / ((n - 1) * k**2 * icc2**2 * fj**2 + part**2)
        expected[name] = {
            "mean_squares": {"MSR_between_targets": msr, "MSC_between_raters": msc, "MSE_residual": mse, "MSW_within": msw},
            "icc": {
                "ICC(1,1)": (msr - msw) / (msr + (k - 1) * msw), "ICC(2,1)": icc2, "ICC(3,1)": (msr - mse) / (msr + (k - 1) * mse),
                "ICC(1,k)": (msr - msw) / msr, "ICC(2,k)": (msr - mse) / (msr + (msc - mse) / n), "ICC(3,k)": (msr - mse) / msr,
            },
            "ICC(2,1)_satterthwaite_df": v,
        }
        for level in [80, 95]:
            q = (1 + level / 100) / 2
            up, down = stats.f.ppf(q, n - 1, v), stats.f.ppf(q, v, n - 1)
            spread = k * msc + (k * n - k - n) * mse
            expected[name][f"ICC(2,1)_ci{level}"] = [n * (msr - up * mse) / (up * spread + n * msr), n * (down * msr - mse) / (spread + n * down * msr)]
            f, df2 = msr / mse, (n - 1) * (k - 1)
            low, high = f / stats.f.ppf(q, n - 1, df2), f * stats.f.ppf(q, df2, n - 1)
            expected[name][f"ICC(3,1)_ci{level}"] = [(low - 1) / (low + k - 1), (high - 1) / (high + k - 1)]
    inputs = {"ratings_rows_targets_cols_raters": sets}
    write(folder, "06_icc_more", 6, "Intraclass correlations, more scores", inputs, expected, {"icc_abs": 1e-9, "ci_abs": 1e-6})


def distributions(folder):
    p = [1e-6, 0.001, 0.025, 0.2, 0.5, 0.75, 0.999999]
    t_df, beta_ab, gamma_a = [0.5, 1.5, 4, 59.3, 5000], [[0.5, 30.5], [1, 1], [3, 0.2], [150, 7], [2000.5, 1000.5]], [0.1, 0.9, 3, 55.5, 1500]
    t_x, normal_x, beta_x, gamma_x = [-40, -2.2, 0, 1e-5, 8], [-20, -5.5, 0.01, 3.3], [1e-6, 0.2, 0.66, 0.999], [1e-5, 0.5, 4, 60, 1480]
    t_below = lambda x, v: (mp.betainc(mp.mpf(v) / 2, 0.5, 0, mp.mpf(v) / (mp.mpf(v) + mp.mpf(x) ** 2), regularized=True) / 2) if x <= 0 else 1 - t_below(-x, v)
    beta_below = lambda x, a, b: mp.betainc(a, b, 0, x, regularized=True)
    gamma_below = lambda x, a: mp.gammainc(a, 0, x, regularized=True)
    expected = {
        # Quantiles by scipy (Boost), chances by mpmath with 40 digits.
        "t_ppf": [stats.t.ppf(p, v) for v in t_df],
        "t_cdf_at_x": [[t_below(x, v) for x in t_x] for v in t_df],
        "normal_ppf": stats.norm.ppf(p),
        "normal_cdf": [mp.ncdf(x) for x in normal_x],
        "beta_ppf": [stats.beta.ppf(p, *ab) for ab in beta_ab],
        "beta_cdf_at_x": [[beta_below(x, *ab) for x in beta_x] for ab in beta_ab],
        "gamma_p_at_x": [[gamma_below(x, a) for x in gamma_x] for a in gamma_a],
        "gamma_ppf": [stats.gamma.ppf(p, a) for a in gamma_a],
        "chi2_ppf_df": {str(v): stats.chi2.ppf(p, v) for v in [1, 3, 7.5, 200]},
        "lgamma": [mp.loggamma(x) for x in [1e-8, 0.999, 2.0001, 33.3, 1e6]],
    }
    inputs = {"p": p, "t_df": t_df, "t_x": t_x, "normal_x": normal_x, "beta_ab": beta_ab, "beta_x": beta_x, "gamma_a": gamma_a, "gamma_x": gamma_x, "lgamma_x": [1e-8, 0.999, 2.0001, 33.3, 1e6]}
    write(folder, "08_distribution_more", 8, "Quantiles and chances, more cases", inputs, expected, {"rel": 1e-9, "abs_cdf": 1e-13})


def trends(folder):
    random = np.random.default_rng(4)
    series = {
        "rising_ties": np.round(np.arange(20) / 5 + random.normal(0, 1, 20)).tolist(),
        "noise": np.round(random.normal(40, 5, 9), 1).tolist(),
        "two": [5.0, 4.0],
        "three_equal_ends": [4.0, 7.0, 4.0],
        "steep": np.round(3000 * np.arange(1, 31) ** -0.3 + random.normal(0, 40, 30)).tolist(),
    }
    expected = {}
    for name, values in series.items():
        test = pymannkendall.original_test(values)
        line = stats.theilslopes(values, np.arange(1, len(values) + 1), 0.9, method="separate")
        expected[name] = {
            "S": int(test.s), "var_S": test.var_s, "Z": test.z, "p_two_sided": test.p, "sen_slope": test.slope,
            "theil_sen": {"slope": line.slope, "intercept_median_separate": line.intercept, "ci90": [line.low_slope, line.high_slope]},
            "kendall_tau_b": stats.kendalltau(range(len(values)), values).statistic,
            "spearman_rho": stats.spearmanr(range(len(values)), values).statistic,
        }
        if len(set(values)) == len(values):
            expected[name]["kendall_exact_p"] = stats.kendalltau(range(len(values)), values, method="exact").pvalue
    write(folder, "09_trend_more", 9, "Trend tests, more series", {"series": series, "time": "1..n"}, expected, {"abs": 1e-10})


def main():
    folder = pathlib.Path(sys.argv[1])
    for make in [robust, plateaus, alone, proportions, kappas, intraclass, distributions, trends]:
        make(folder)


main()
