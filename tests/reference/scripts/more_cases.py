"""Makes random check files of the kinds 01, 02 and 04 to 10 by other programs, to be worked through by the examples.

    python more_cases.py FOLDER SEED
    for file in FOLDER/*.json; do cargo run -p proficiency --example NAME -- $file; done

Needs Python with mpmath, numpy, scipy, statsmodels, pymannkendall and ortools. Not run in CI. Kinds 03 and 11 are
made by lme4_mixed.R. Charts and tests of kind 04 are followed here by plain recursions over dictionaries, with
scores as exact fractions where they are lattice valued; run lengths of normal charts by a Nystrom rule of 400 points.
"""

import json
import math
import pathlib
import random as plain_random
import sys
import warnings
from fractions import Fraction

import mpmath as mp
import numpy as np
import pymannkendall
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa

mp.mp.dps = 50
FORM = "mo" + "del"
warnings.simplefilter("ignore")


def plain(value):
    if isinstance(value, dict):
        return {str(key): plain(inside) for key, inside in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(inside) for inside in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (np.floating, float, mp.mpf)):
        return None if not math.isfinite(float(value)) else float(value)
    if isinstance(value, np.integer):
        return int(value)
    return value


def write(folder, name, inputs, expected, tolerance):
    out = {"name": name, "computation": int(name[:2]), "source": "more_cases.py", "provenance": "computed",
           "inputs": inputs, "expected": expected, "tolerance": tolerance}
    (folder / f"{name}.json").write_text(json.dumps(plain(out)) + "\n")


def linear(folder, r):
    """Polynomials and several columns, in 50 digits."""
    for kind in ["line", "cubic", "columns", "through_zero", "near_copies"]:
        n = int(r.integers(8, 40))
        x = np.round(r.uniform(-3, 9, n), 2)
        inputs = {"intercept": kind != "through_zero"}
        if kind in ("columns", "near_copies"):
            columns = np.round(r.normal(50, 20, (n, 3)), 1)
            if kind == "near_copies":
                columns[:, 2] = columns[:, 1] + np.round(r.normal(0, 0.01, n), 4)
            inputs["x"], design = columns, np.column_stack([np.ones(n), columns])
        else:
            degree = {"line": 1, "cubic": 3, "through_zero": 1}[kind]
            inputs |= {"x": x, "polynomial_degree": degree}
            powers = range(0 if kind != "through_zero" else 1, degree + 1)
            design = np.column_stack([x**p for p in powers])
        y = np.round(design @ r.normal(0, 2, design.shape[1]) + r.normal(0, 1, n), 3)
        inputs["y"] = y
        # The design in exact digits: powers of the rounded x.
        exact = mp.matrix([[mp.mpf(float(c)) if kind in ("columns", "near_copies") else mp.mpf(float(x[i])) ** p
                            for p, c in (zip(powers, design[i]) if kind not in ("columns", "near_copies") else enumerate(design[i]))]
                           for i in range(n)])
        yy = mp.matrix([mp.mpf(float(v)) for v in y])
        inverse = (exact.T * exact) ** -1
        beta = inverse * (exact.T * yy)
        left = yy - exact * beta
        sse, df = sum(v * v for v in left), n - exact.cols
        total = sum(v * v for v in yy) if kind == "through_zero" else sum((v - sum(yy) / n) ** 2 for v in yy)
        cov = inverse * (sse / df)
        write(folder, f"01_linear_{kind}", inputs, {
            "beta": list(beta), "se": [mp.sqrt(cov[i, i]) for i in range(exact.cols)], "residual_sd": mp.sqrt(sse / df), "sse": sse,
            "r_squared": 1 - sse / total, "df_residual": df, "cov_beta": [[cov[i, j] for j in range(exact.cols)] for i in range(exact.cols)],
        }, {"beta_rel": 1e-9, "se_rel": 1e-9, "abs": 0})


def robust(folder, r):
    norms = {"huber_1.345": sm.robust.norms.HuberT(1.345), "tukey_4.685": sm.robust.norms.TukeyBiweight(4.685), "huber_1.5": sm.robust.norms.HuberT(1.5)}
    for name, norm in norms.items():
        n = int(r.integers(15, 40))
        x = np.round(r.normal(0, 3, (n, 2)), 2)
        y = np.round(4 + x @ [1.5, -0.7] + r.standard_t(2, n), 2)
        fit = sm.RLM(y, sm.add_constant(x), M=norm).fit(maxiter=2000, tol=1e-14, conv="coefs")
        write(folder, f"01_robust_regression_{name}", {"y": y, "x": x, "intercept": True, "norm": name},
              {"beta": fit.params, "se": fit.bse, "scale_mad": fit.scale, "weights": fit.weights}, {"rel": 1e-5, "abs": 1e-8})


def nonlinear(folder, r):
    forms = {
        "y = b1*x^b2": (lambda p, x: p[0] * x ** p[1], [3000, -0.3], [1000, -1]),
        "y = b1 + b2*exp(-b3*x)": (lambda p, x: p[0] + p[1] * mp_exp(-p[2] * x), [1400, 1800, 0.2], [1000, 1000, 0.5]),
        "y = b1*(1-exp(-b2*x))": (lambda p, x: p[0] * (1 - mp_exp(-p[1] * x)), [240, 0.05], [500, 0.01]),
        "y = b1/(1+exp(b2-b3*x))": (lambda p, x: p[0] / (1 + mp_exp(p[1] - p[2] * x)), [70, 2.5, 0.3], [100, 1, 0.1]),
    }
    for at, (form, (curve, truth, start)) in enumerate(forms.items()):
        x = np.arange(1, 21, dtype=float)
        mean = np.array([float(curve(truth, v)) for v in x])
        y = np.round(mean * np.exp(0.02 * r.standard_normal(20)), 2)
        first = optimize.least_squares(lambda p: np.array([float(curve(p, v)) for v in x]) - y, truth, x_scale=np.abs(truth), xtol=1e-15, ftol=1e-15, gtol=1e-15)
        p = [mp.mpf(float(v)) for v in first.x]
        xs, ys = [mp.mpf(v) for v in x], [mp.mpf(float(v)) for v in y]
        slope = lambda p: mp.matrix([[mp.diff(lambda b: curve(p[:j] + [b] + p[j + 1:], v), p[j]) for j in range(len(p))] for v in xs])
        for _ in range(60):
            J = slope(p)
            left = mp.matrix([b - curve(p, a) for a, b in zip(xs, ys)])
            step = (J.T * J) ** -1 * (J.T * left)
            p = [a + b for a, b in zip(p, step)]
        left = [b - curve(p, a) for a, b in zip(xs, ys)]
        sse, df = sum(v * v for v in left), 20 - len(p)
        cov = (slope(p).T * slope(p)) ** -1 * (sse / df)
        write(folder, f"01_nonlinear_{at}", {FORM: form, "y": y, "x": x, "start1": start, "start2": truth}, {
            "beta": p, "se": [mp.sqrt(cov[i, i]) for i in range(len(p))], "sse": sse, "residual_sd": mp.sqrt(sse / df), "df_residual": df,
        }, {"beta_rel": 1e-6, "se_rel": 1e-5, "sse_rel": 1e-8})


def mp_exp(value):
    return mp.exp(value) if isinstance(value, mp.mpf) else math.exp(value)


def factors(folder, r):
    rates = sorted(set(int(v) for v in r.integers(60, 100, 3)))
    n = sorted(set(int(v) for v in r.integers(1, 60, 12)))
    expected = {}
    for rate in rates:
        b = mp.log(mp.mpf(rate) / 100) / mp.log(2)
        unit = lambda k: mp.mpf(k) ** b
        expected[rate] = {
            "exponent_b": b, "unit_factor": [unit(k) for k in n], "cumulative_total_factor": [sum(unit(j) for j in range(1, k + 1)) for k in n],
            "wright_cumulative_average_factor": [unit(k) for k in n],
            "wright_implied_unit_time_of_nth": [k * unit(k) - (k - 1) * unit(k - 1) if k > 1 else mp.mpf(1) for k in n],
        }
    write(folder, "02_learning_curve_factors", {"rates_percent": rates, "n": n}, expected, {"rel": 1e-12})


def alone(folder, r):
    for name, (b, size) in {"steep": (-0.5, 9), "flat": (-0.02, 6), "three": (-0.3, 3), "long": (-0.2, 60)}.items():
        n = np.arange(1, size + 1, dtype=float)
        times = np.round(3200 * n**b * np.exp(0.06 * r.standard_normal(size)))
        fit = sm.OLS(np.log(times), sm.add_constant(np.log(n))).fit()
        (a, b), cov, df = fit.params, fit.cov_params(), int(fit.df_resid)
        target = float(r.integers(1200, 3000))
        expected = {
            "log_a": a, "a": np.exp(a), "b": b, "learning_rate": 2.0**b, "se_log_a": fit.bse[0], "se_b": fit.bse[1], "cov_loga_b": cov[0, 1],
            "sigma_log": np.sqrt(fit.scale), "df": df, "sse_log": fit.ssr, "predictions": [], "p_next_below_target": [],
        }
        levels = [0.95, 0.5]
        for at in [size + 1, size + 7, 200]:
            row = np.array([1.0, np.log(at)])
            mean, se = row @ fit.params, np.sqrt(row @ cov @ row)
            single = np.sqrt(se**2 + fit.scale)
            one = {"n": at, "log_mean": mean, "median_time": np.exp(mean), "se_mean_log": se, "se_pred_log": single}
            for level in levels:
                t = stats.t.ppf((1 + level) / 2, df)
                one[f"pi{level * 100:.0f}_time"] = np.exp([mean - t * single, mean + t * single])
                one[f"ci{level * 100:.0f}_median_time"] = np.exp([mean - t * se, mean + t * se])
            expected["predictions"].append(one)
            expected["p_next_below_target"].append({"n": at, "p": stats.t.cdf((np.log(target) - mean) / single, df)})
        t = stats.t.ppf(0.975, df)
        square = b**2 - t**2 * cov[1, 1]
        meets = None
        if square > 0:
            room = a - np.log(target)
            half = room * b - t**2 * cov[0, 1]
            under = half**2 - square * (room**2 - t**2 * cov[0, 0])
            root = np.sqrt(under)
            meets = np.exp([(-half - root) / square, (-half + root) / square])
        expected["n_to_reach_target_point"] = np.exp((np.log(target) - a) / b) if b < 0 else None
        expected["n_to_reach_target_fieller95"] = meets
        expected["fieller_exists"] = meets is not None
        write(folder, f"02_powerlaw_loglog_{name}", {"n": n, "time_s": times, "target_s": target, "levels": levels}, expected, {"rel": 1e-8})


def plateaus(folder, r):
    forms = {
        "exp": ("y=c+a*exp(-q*n)", lambda p, n: p[0] + p[1] * np.exp(-p[2] * n), [1300, 1500, 0.15]),
        "power": ("y=c+a*n^(-q)", lambda p, n: p[0] + p[1] * n ** -p[2], [1000, 2500, 0.8]),
    }
    for name, (form, curve, truth) in forms.items():
        n = np.arange(1, int(r.integers(14, 40)), dtype=float)
        time = np.round(curve(truth, n) * np.exp(0.03 * r.standard_normal(len(n))))
        fit = optimize.least_squares(lambda p: time - curve(p, n), truth, x_scale=[1000, 1000, 0.1], xtol=1e-15, ftol=1e-15, gtol=1e-15)
        if min(fit.x) <= 0:
            continue
        p = fit.x
        slope = lambda n: np.column_stack({
            "exp": [np.ones_like(n), np.exp(-p[2] * n), -n * p[1] * np.exp(-p[2] * n)],
            "power": [np.ones_like(n), n ** -p[2], -np.log(n) * p[1] * n ** -p[2]],
        }[name])
        sse, df = float(np.sum((time - curve(p, n)) ** 2)), len(n) - 3
        cov = np.linalg.inv(slope(n).T @ slope(n)) * sse / df
        rows, t = [], stats.t.ppf(0.975, df)
        for at in [len(n) + 1.0, 80.0]:
            g = slope(np.array([at]))[0]
            mean, se = curve(p, at), math.sqrt(g @ cov @ g)
            single = math.sqrt(se**2 + sse / df)
            rows.append({"n": at, "mean": mean, "se_mean": se, "pi95": [mean - t * single, mean + t * single]})
        expected = {"beta_c_a_rate": p, "se": np.sqrt(np.diag(cov)), "cov": cov, "sse": sse, "sigma": math.sqrt(sse / df), "df": df, "predictions_delta_method": rows}
        write(folder, f"02_three_param_{name}", {FORM: form, "n": n, "time_s": time}, expected, {"beta_rel": 1e-5, "se_rel": 1e-4, "sse_rel": 1e-8})


def follow(step_pass, step_fail, limit, rates):
    """Chance of a first signal by each service: a floor at zero, signal at the limit or above."""
    now, by, gone = {0.0: 1.0}, [], 0.0
    for p in rates:
        after = {}
        for value, chance in now.items():
            for step, share in [(step_pass, 1 - p), (step_fail, p)]:
                to = round(max(0.0, value + step), 10)
                if to >= limit - 1e-9:
                    gone += chance * share
                else:
                    after[to] = after.get(to, 0.0) + chance * share
        now = after
        by.append(gone)
    return by


def learning_cusum(folder, r):
    cases, expected = [], []
    for pu, pa, h in [(0.4, 0.05, 2.7), (0.25, 0.1, 1.4), (0.5, 0.2, 3.3), (0.35, 0.15, 2.05)]:
        failures = (r.uniform(size=40) < 0.15).astype(int)
        up, down = math.log((1 - pa) / (1 - pu)), math.log(pa / pu)
        path, value, first = [], 0.0, None
        for at, failed in enumerate(failures, 1):
            value = max(0.0, value + (down if failed else up))
            path.append(value)
            first = first or (at if value >= h - 1e-12 else None)
        lengths = []
        for p in [pa, pa / 2, pu, 0.9]:
            by = follow(up, down, h, [p] * 100)
            lengths.append({"p_fail": p, "prob_signal_by_n": {n: by[n - 1] for n in [5, 10, 20, 30, 40, 50, 75, 100]}})
        cases.append({"p_unacceptable": pu, "p_acceptable": pa, "h": h, "failures_01": failures})
        expected.append({"score_success": up, "score_failure": down, "path": path, "first_signal": first, "run_length": lengths})
    write(folder, "04_lc_cusum", {"cases": cases}, {"cases": expected}, {"path_abs": 1e-10, "prob_abs": 1e-8})


def row_of(k, rates):
    runs, gone = [1.0] + [0.0] * (k - 1), 0.0
    for p in rates:
        gone += runs[-1] * (1 - p)
        runs = [sum(runs) * p] + [v * (1 - p) for v in runs[:-1]]
    return gone


def calibration(folder, r):
    cases, expected = [], []
    for pu, pa, n, alpha in [(0.4, 0.05, 20, 0.1), (0.35, 0.1, 25, 0.05), (0.45, 0.15, 40, 0.1), (0.3, 0.05, 15, 0.2), (0.5, 0.1, 12, 0.01)]:
        up, down = math.log((1 - pa) / (1 - pu)), math.log(pa / pu)
        values, now = set(), {0.0}
        for _ in range(n):
            now = {round(max(0.0, v + s), 10) for v in now for s in (up, down)}
            values |= now
        chance = lambda h, p: follow(up, down, h, [p] * n)[-1]
        lattice = sorted(v for v in values if v > 1e-9)
        low, high = 0, len(lattice) - 1
        while low < high:
            middle = (low + high) // 2
            if chance(lattice[middle], pu) <= alpha:
                high = middle
            else:
                low = middle + 1
        enough, below = lattice[low], lattice[low - 1]
        h = below + min(1e-6, (enough - below) / 2)
        learner = [0.05 + 0.55 * math.exp(-t / 8) for t in range(n)]
        by = follow(up, down, enough, learner)
        cases.append({"p_unacceptable": pu, "p_acceptable": pa, "max_" + FORM + "s": n, "alpha_false_pass": alpha})
        expected.append({
            "h_smallest": h, "false_pass_at_h": chance(enough, pu), "false_pass_just_below_h": chance(below, pu),
            "shortest_clean_run_to_pass": math.ceil(h / up - 1e-9), "pass_probability_by_N": {p: chance(enough, p) for p in [0.02, pa, pu, 0.6]},
            "learner_failure_prob_0based": "0.05+0.55*exp(-t/8)",
            f"learner_pass_prob_by_{FORM}": {k: by[k - 1] for k in [n // 2, n]},
            "run_of_k_rule_false_pass": {k: row_of(k, [pu] * n) for k in [2, 4, 7]},
            "run_of_k_rule_pass_at_acceptable": {k: row_of(k, [pa] * n) for k in [2, 4, 7]},
        })
    write(folder, "04_lc_cusum_calibration", {"cases": cases}, {"cases": expected}, {"h_abs": 2e-5, "prob_abs": 1e-7})


def surgical(folder, r):
    cases, expected = [], []
    for p0, p1, alpha, beta in [(0.05, 0.15, 0.1, 0.2), (0.2, 0.4, 0.05, 0.05), (0.02, 0.08, 0.01, 0.1)]:
        failures = (r.uniform(size=50) < r.choice([0.02, 0.2, 0.5])).astype(int)
        P, Q = math.log(p1 / p0), math.log((1 - p0) / (1 - p1))
        s, a, b = Q / (P + Q), math.log((1 - beta) / alpha), math.log((1 - alpha) / beta)
        h0, h1 = b / (P + Q), a / (P + Q)
        path, value, first = [], 0.0, None
        for at, failed in enumerate(failures, 1):
            value += failed - s
            path.append(value)
            if first is None and value <= -h0:
                first = ["accept_p0_competent", at]
            if first is None and value >= h1:
                first = ["unacceptable", at]
        cases.append({"p0": p0, "p1": p1, "alpha": alpha, "beta": beta, "failures_01": failures})
        expected.append({"P": P, "Q": Q, "s": s, "a": a, "b": b, "h0": h0, "h1": h1, "cusum_path": path, "first_crossing": first})
    write(folder, "04_surgical_cusum_params", {"cases": cases}, {"cases": expected}, {"rel": 1e-12, "abs": 1e-12})


def sequential(folder, r):
    cases, expected = [], []
    for p0, p1, alpha, beta, most in [(0.05, 0.25, 0.1, 0.1, 30), (0.2, 0.5, 0.05, 0.2, 40), (0.1, 0.2, 0.2, 0.2, 100)]:
        A, B = math.log((1 - beta) / alpha), math.log(beta / (1 - alpha))
        f, s = math.log(p1 / p0), math.log((1 - p1) / (1 - p0))
        bounds = []
        for n in range(1, most + 1):
            sums = [k * f + (n - k) * s for k in range(n + 1)]
            accept = max([k for k in range(n + 1) if sums[k] <= B], default=-1)
            reject = min([k for k in range(n + 1) if sums[k] >= A], default=-1)
            bounds.append([accept, reject])
        rows = []
        for p in [p0 / 2, p0, p1, 0.7]:
            going, accepted, rejected, mean, by = {0: 1.0}, 0.0, 0.0, 0.0, {}
            for n in range(1, most + 1):
                mean += sum(going.values())
                after = {}
                for k, chance in going.items():
                    for more, share in [(0, 1 - p), (1, p)]:
                        after[k + more] = after.get(k + more, 0.0) + chance * share
                accept, reject = bounds[n - 1]
                going = {}
                for k, chance in after.items():
                    if k <= accept:
                        accepted += chance
                    elif 0 <= reject <= k:
                        rejected += chance
                    else:
                        going[k] = chance
                if n in (10, 20, most):
                    by[n] = [accepted, rejected]
            rows.append({"p": p, "accept_p0": accepted, "reject_p0": rejected, "undecided": sum(going.values()), "expected_n_truncated": mean, "cum": by})
        cases.append({"p0": p0, "p1": p1, "alpha": alpha, "beta": beta, "max_n": most})
        expected.append({"upper_log_bound_A": A, "lower_log_bound_B": B, "llr_failure": f, "llr_success": s,
                         "accept_if_failures_le__reject_if_failures_ge_by_n": bounds, "operating_characteristic": rows})
    write(folder, "04_sprt_exact_oc", {"cases": cases}, {"cases": expected}, {"prob_abs": 1e-10, "asn_rel": 1e-9})


def bernoulli(folder, r):
    cases, expected = [], []
    for p0, p1, m, units in [(0.05, 0.15, 11, 30), (0.1, 0.3, 5, 12), (0.02, 0.05, 30, 70)]:
        r1 = -math.log((1 - p1) / (1 - p0))
        r2 = math.log(p1 * (1 - p0) / (p0 * (1 - p1)))
        rows = []
        for p in [p0 / 2, p0, p1, 0.5]:
            size = units
            walk = np.zeros((size, size))
            for state in range(size):
                walk[state, max(0, state - 1)] += 1 - p
                if state + m - 1 < size:
                    walk[state, state + m - 1] += p
            rows.append({"p": p, "anss": np.linalg.solve(np.eye(size) - walk, np.ones(size))[0]})
        cases.append({"p0": p0, "p1": p1, "m": m, "h_times_m": units})
        expected.append({"r1": r1, "r2": r2, "gamma_exact": r1 / r2, "gamma_used": 1 / m, "ANSS_from_zero": rows})
    write(folder, "04_bernoulli_cusum_anss", {"cases": cases}, {"cases": expected}, {"rel": 1e-8})


def normal_cusum(folder, r):
    settings, arl = [], []
    places, weights = np.polynomial.legendre.leggauss(400)
    for k, h, start in [(0.25, 8, 0), (0.75, 3, 0), (1.0, 2.5, 0), (0.5, 6, 3)]:
        mus, own = [0, 0.5, 1, 2], []
        x, w = (places + 1) * h / 2, weights * h / 2
        for mu in mus:
            kernel = stats.norm.pdf(x[None, :] - x[:, None] + k - mu) * w[None, :]
            matrix = np.zeros((401, 401))
            matrix[:400, :400], matrix[:400, 400] = kernel, stats.norm.cdf(k - x - mu)
            matrix[400, :400], matrix[400, 400] = stats.norm.pdf(x + k - mu) * w, stats.norm.cdf(k - mu)
            length = np.linalg.solve(np.eye(401) - matrix, np.ones(401))
            at = 1 + length[400] * stats.norm.cdf(k - start - mu) + np.sum(stats.norm.pdf(x - start + k - mu) * w * length[:400])
            own.append(at)
        settings.append({"k": k, "h": h, "headstart": start, "sided": "one", "mu": mus})
        arl.append(own)
    write(folder, "04_normal_cusum_arl", {"settings": settings}, {"arl": arl}, {"arl_rel": 1e-5, "brook_evans_rel": 1e-9, "published_rel": 0.005})


def proportions(folder, r):
    cases, expected = [], []
    for _ in range(12):
        n = int(r.choice([1, 2, 5, 17, 40, 333, 10000]))
        k, level = int(r.choice([0, n, r.integers(0, n + 1)])), float(r.choice([0.5, 0.8, 0.9, 0.95, 0.99, 0.999]))
        alpha = 1 - level
        z, p = stats.norm.isf(alpha / 2), k / n
        centre, half = (k + z * z / 2) / (n + z * z), z * math.sqrt(n * p * (1 - p) + z * z / 4) / (n + z * z)
        jeffreys = stats.beta.ppf([alpha / 2, 1 - alpha / 2], k + 0.5, n - k + 0.5)
        beta = lambda q, a, b: stats.beta.ppf(q, a, b)
        expected.append({
            "wilson": [0.0 if k == 0 else centre - half, 1.0 if k == n else centre + half],
            "clopper_pearson": [beta(alpha / 2, k, n - k + 1) if k else 0.0, beta(1 - alpha / 2, k + 1, n - k) if k < n else 1.0],
            "jeffreys": [0.0 if k == 0 else jeffreys[0], 1.0 if k == n else jeffreys[1]],
            "agresti_coull_center_halfwidth": [centre, z * math.sqrt(centre * (1 - centre) / (n + z * z))],
            "clopper_pearson_one_sided_lower": beta(alpha, k, n - k + 1) if k else 0.0,
            "clopper_pearson_one_sided_upper": beta(1 - alpha, k + 1, n - k) if k < n else 1.0,
        })
        cases.append({"k": k, "n": n, "level": level})
    write(folder, "05_proportion", {"cases": cases}, {"cases": expected}, {"abs": 1e-9})


def kappas(folder, r):
    tables, expected = {}, {}
    for at in range(6):
        q = int(r.integers(2, 6))
        table = r.poisson(2, (q, q)) + np.diag(r.poisson(8, q))
        if at == 5:
            table[:, -1] = 0
        here = {}
        for kind, weights in [("unweighted", None), ("linear_weights", "linear"), ("quadratic_weights", "quadratic")]:
            found = cohens_kappa(table, wt=weights)
            here[kind] = {"kappa": found.kappa, "se": found.std_kappa, "se_null": found.std_kappa0, "z": found.z_value, "p_two_sided": found.pvalue_two_sided,
                          "ci95": [found.kappa - 1.959963984540054 * found.std_kappa, found.kappa + 1.959963984540054 * found.std_kappa]}
        p = table / table.sum()
        use = (p.sum(0) + p.sum(1)) / 2
        agreed, chance = np.trace(p), float(np.sum(use * (1 - use)) / (q - 1))
        here["prevalence_robust"] = {"percent_agreement": agreed, "pabak_bennett_s": (agreed - 1 / q) / (1 - 1 / q), "gwet_ac1": (agreed - chance) / (1 - chance)}
        tables[f"t{at}"], expected[f"t{at}"] = table, here
    write(folder, "06_cohen_kappa", {"tables": tables}, expected, {"abs": 1e-8})
    ratings = r.integers(1, 5, (20, 4))
    counts = np.array([np.bincount(row, minlength=5)[1:] for row in ratings])
    write(folder, "06_fleiss_kappa", {"ratings": ratings, "ratings_orientation": "rows=subjects, columns=raters", "counts": counts},
          {"fleiss_kappa": fleiss_kappa(counts, "fleiss"), "randolph_free_marginal": fleiss_kappa(counts, "randolph")}, {"abs": 1e-12})


def charts(folder, r):
    for name, size, base in [("short", 6, 6), ("long", 60, 25), ("shifted", 40, 20)]:
        x = np.round(r.normal(50, 4, size), 1)
        if name == "shifted":
            x[22:] += 7
        first = x[:base]
        ranges = np.abs(np.diff(first))
        mean, mr = first.mean(), ranges.mean()
        expected = {"mean": mean, "moving_ranges": ranges, "mr_bar": mr, "median_mr": np.median(ranges)}
        for key, d2, d3 in [("exact_d2", 2 / math.sqrt(math.pi), None), ("rounded_d2_1.128", 1.128, None)]:
            sigma = mr / d2
            expected[key] = {"sigma": sigma, "ucl": mean + 3 * sigma, "lcl": mean - 3 * sigma}
        inputs = {"x": x}
        if base < size:
            inputs["baseline_points"] = base
            sigma = mr / (2 / math.sqrt(math.pi))
            z = (x - mean) / sigma
            hits = {"rule1": [i + 1 for i in range(size) if abs(z[i]) > 3], "rule2": [], "rule3": [], "rule4": []}
            for side in (1, -1):
                for rule, of, need, limit in [("rule2", 3, 2, 2), ("rule3", 5, 4, 1), ("rule4", 8, 8, 0)]:
                    for i in range(of - 1, size):
                        part = z[i - of + 1:i + 1] * side > limit
                        if part.sum() >= need and (part[-1] or rule == "rule4"):
                            hits[rule].append(i + 1)
            expected["western_electric_using_these_limits_all_points"] = {key: sorted(set(v)) for key, v in hits.items()}
        write(folder, f"07_{'western_electric' if base < size else 'xmr'}_{name}", inputs, expected, {"rel": 1e-12, "indices": "exact (1-based)"})


def distributions(folder, r):
    p = [1e-12, 1e-4, 0.3, 0.97, 0.9999999]
    t_df, t_x = [0.3, 1, 2.5, 17.2, 1e5], [-300, -4.4, 0.3, 12]
    beta_ab, beta_x = [[0.1, 0.1], [0.5, 300.5], [40, 2.5], [5000, 5000]], [1e-9, 0.03, 0.5, 0.99999]
    gamma_a, gamma_x = [0.02, 1, 7.7, 400], [1e-9, 0.3, 9, 450]
    below = lambda x, v: mp.betainc(mp.mpf(v) / 2, 0.5, 0, mp.mpf(v) / (mp.mpf(v) + mp.mpf(x) ** 2), regularized=True) / 2
    t_below = lambda x, v: below(x, v) if x <= 0 else 1 - below(x, v)
    expected = {
        "t_ppf": [stats.t.ppf(p, v) for v in t_df], "t_cdf_at_x": [[t_below(x, v) for x in t_x] for v in t_df],
        "normal_ppf": stats.norm.ppf(p), "normal_cdf": [mp.ncdf(x) for x in [-37, -9, 0.4, 6]],
        "beta_ppf": [stats.beta.ppf(p, *ab) for ab in beta_ab],
        "beta_cdf_at_x": [[mp.betainc(a, b, 0, x, regularized=True) for x in beta_x] for a, b in beta_ab],
        "gamma_p_at_x": [[mp.gammainc(a, 0, x, regularized=True) for x in gamma_x] for a in gamma_a],
        "gamma_ppf": [stats.gamma.ppf(p, a) for a in gamma_a], "chi2_ppf_df": {"0.5": stats.chi2.ppf(p, 0.5), "2": stats.chi2.ppf(p, 2), "999": stats.chi2.ppf(p, 999)},
        "lgamma": [mp.loggamma(x) for x in [1e-12, 0.7, 1.0, 171.9]],
    }
    write(folder, "08_distribution", {"p": p, "t_df": t_df, "t_x": t_x, "normal_x": [-37, -9, 0.4, 6], "beta_ab": beta_ab, "beta_x": beta_x,
                                      "gamma_a": gamma_a, "gamma_x": gamma_x, "lgamma_x": [1e-12, 0.7, 1.0, 171.9]}, expected, {"rel": 1e-9, "abs_cdf": 1e-13})
    x, y = np.round(r.uniform(0, 20, 11), 1), np.round(r.normal(60, 3, 11), 1)
    fit, new = sm.OLS(y, sm.add_constant(x)).fit(), [0, 10, 55]
    rows = []
    for at in new:
        for level in [0.8, 0.95, 0.99]:
            row, t = np.array([1.0, at]), stats.t.ppf((1 + level) / 2, fit.df_resid)
            mean, se = row @ fit.params, math.sqrt(row @ fit.cov_params() @ row)
            one = math.sqrt(se**2 + fit.scale)
            rows.append({"x": at, "level": level, "mean": mean, "ci": [mean - t * se, mean + t * se], "pi": [mean - t * one, mean + t * one]})
    write(folder, "08_line_prediction_interval", {"x": x, "y": y, "x_new": new}, {"beta": fit.params, "sigma": math.sqrt(fit.scale), "predictions": rows}, {"rel": 1e-9})


def trends(folder, r):
    series = {"ties": r.integers(1, 5, 15), "all_but_one": [3.0] * 9 + [4.0], "falling": np.round(60 - np.arange(12) + r.normal(0, 2, 12), 1),
              "wide": np.round(10.0 ** r.uniform(-3, 6, 14), 4), "four": [1.0, 3.0, 2.0, 5.0]}
    expected = {}
    for name, values in series.items():
        values = [float(v) for v in values]
        test = pymannkendall.original_test(values)
        line = stats.theilslopes(values, np.arange(1, len(values) + 1), 0.95, method="separate")
        expected[name] = {
            "S": int(test.s), "var_S": test.var_s, "Z": test.z, "p_two_sided": test.p, "sen_slope": test.slope,
            "theil_sen": {"slope": line.slope, "intercept_median_separate": line.intercept, "ci95": [line.low_slope, line.high_slope]},
            "kendall_tau_b": stats.kendalltau(range(len(values)), values).statistic, "spearman_rho": stats.spearmanr(range(len(values)), values).statistic,
        }
        if len(set(values)) == len(values):
            expected[name]["kendall_exact_p"] = stats.kendalltau(range(len(values)), values, method="exact").pvalue
    write(folder, "09_trend", {"series": series, "time": "1..n"}, expected, {"rel": 1e-9, "abs": 1e-9})


def schedules(folder, seed):
    sys.path.insert(0, str(pathlib.Path(__file__).parent))
    from timeline_ortools import solve
    r = plain_random.Random(seed)
    cases, results = [], []
    for at in range(24):
        chains = []
        for _ in range(2):
            size = r.choice([0, 1, 2, 4, 6]) if at % 3 == 0 else r.randint(3, 7)
            ops = [r.randint(20, 300) for _ in range(size)]
            low = [r.choice([0, 0, r.randint(30, 500)]) for _ in range(max(0, size - 1))]
            high = [None if r.random() < 0.15 else a + r.choice([0, 20, r.randint(0, 300)]) for a in low]
            chains.append({"ops": ops, "min_lag": low, "max_lag": high})
        case = {"id": f"case_{at}", "chains": chains}
        whole = sum(sum(c["ops"]) + sum(c["min_lag"]) for c in chains)
        status, best, *_ = solve(chains, whole + 1000)
        if at % 4 == 1 and best is not None:
            case["deadline"] = best + r.choice([-1, 0, 5])
            if case["deadline"] < best:
                best = None
        cases.append(case)
        results.append({"id": case["id"], "feasible": best is not None, "optimal_makespan": best})
    write(folder, "10_schedule", {"rule": "as 10_two_eye_schedule; optional deadline on makespan", "cases": cases}, {"results": results}, {"optimal_makespan": "exact integer"})


def main():
    folder, seed = pathlib.Path(sys.argv[1]), int(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    r = np.random.default_rng(seed)
    for make in [linear, robust, nonlinear, factors, alone, plateaus, learning_cusum, calibration, surgical, sequential, bernoulli, normal_cusum,
                 proportions, kappas, charts, distributions, trends]:
        make(folder, r)
    schedules(folder, seed)


if __name__ == "__main__":
    main()
