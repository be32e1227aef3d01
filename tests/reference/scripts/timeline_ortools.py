#!/usr/bin/env python3
"""Solves two-chain timelines to proven optimality with OR-tools CP-SAT.

  timeline_ortools.py solve FILE           solves the instances of a check file, compares and times
  timeline_ortools.py make COUNT OPS SEED  writes a new check file of random instances to standard output

Needs the PyPI package ortools. Not run by the project's own tests; the versions and the day of the last
run stand in README.md beside the data.
"""
import json
import random
import sys
import time

from ortools import __version__
from ortools.sat.python import cp_model


def length(chain):
    if not chain["ops"]:
        return 0
    return sum(chain["ops"]) + sum(chain["min_lag"]) + chain.get("final_dwell", 0)


def solve(chains, horizon):
    """Returns status name, makespan, starts and seconds of solving."""
    cp = cp_model.CpModel()
    hands, ends, starts = [], [], []
    for c, chain in enumerate(chains):
        own = []
        for j, op in enumerate(chain["ops"]):
            start = cp.new_int_var(0, horizon, f"s{c}_{j}")
            hands.append(cp.new_fixed_size_interval_var(start, op, f"i{c}_{j}"))
            if j:
                before = own[-1] + chain["ops"][j - 1]
                cp.add(start >= before + chain["min_lag"][j - 1])
                if chain["max_lag"][j - 1] is not None:
                    cp.add(start <= before + chain["max_lag"][j - 1])
            own.append(start)
        if own:
            ends.append(own[-1] + chain["ops"][-1] + chain.get("final_dwell", 0))
        starts.append(own)
    cp.add_no_overlap(hands)
    makespan = cp.new_int_var(0, horizon, "makespan")
    for end in ends:
        cp.add(makespan >= end)
    cp.minimize(makespan)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    began = time.perf_counter()
    status = solver.solve(cp)
    took = time.perf_counter() - began
    name = solver.status_name(status)
    if name not in ("OPTIMAL", "FEASIBLE"):
        return name, None, None, took
    return name, int(solver.value(makespan)), [[int(solver.value(s)) for s in own] for own in starts], took


def make(count, ops, seed):
    draw = random.Random(seed)
    instances, results = [], []
    for number in range(count):
        chains = []
        for _ in range(2):
            n = ops if number % 2 == 0 else draw.randint(max(1, ops - 4), ops)
            least, most = [], []
            for _ in range(n - 1):
                low = draw.choice([0, 0, draw.randint(10, 500)])
                wide = draw.choice([0, draw.randint(5, 60), draw.randint(60, 300), None])
                least.append(low)
                most.append(None if wide is None else low + wide)
            chains.append(dict(ops=[draw.randint(10, 300) for _ in range(n)], min_lag=least, max_lag=most))
            if draw.random() < 0.2:
                chains[-1]["final_dwell"] = draw.randint(10, 200)
        horizon = sum(map(length, chains))
        name, makespan, starts, _ = solve(chains, horizon)
        assert name == "OPTIMAL", name
        ident = f"random_{ops}_{seed}_{number:02d}"
        instances.append(dict(id=ident, chains=chains, horizon=horizon))
        results.append(dict(id=ident, optimal_makespan=makespan, one_optimal_start_times=starts,
                            sequential_makespan=horizon))
    return {
        "name": f"Shortest two-chain timeline, {ops} operations a chain at most ({count} instances)",
        "computation": 10,
        "source": f"random instances (seed {seed}) solved to proven optimality with OR-tools CP-SAT {__version__}",
        "provenance": "computed",
        "inputs": {"units": "seconds (integers)", "instances": instances},
        "expected": {"results": results},
        "tolerance": {"optimal_makespan": "exact integer"},
    }


def main():
    if sys.argv[1] == "make":
        json.dump(make(*map(int, sys.argv[2:5])), sys.stdout, indent=1)
        print()
        return
    with open(sys.argv[2]) as file:
        check = json.load(file)
    took, wrong = [], 0
    for instance, expected in zip(check["inputs"]["instances"], check["expected"]["results"]):
        name, makespan, _, seconds = solve(instance["chains"], sum(map(length, instance["chains"])))
        took.append(seconds)
        if makespan != expected["optimal_makespan"]:
            wrong += 1
            print(f"{instance['id']}: {name} {makespan}, expected {expected['optimal_makespan']}")
    took.sort()
    print(f"OR-tools CP-SAT {__version__}, one worker: {len(took)} instances, {wrong} differ, "
          f"median {took[len(took) // 2] * 1e3:.2f} ms, slowest {took[-1] * 1e3:.2f} ms")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
