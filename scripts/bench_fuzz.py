"""Runs every fuzz target for some time, one after the other, and tells what came of it.

`bench_fuzz.py SECONDS`. Seeds are in `fuzz/corpus`; what a run finds goes to `fuzz/found` and is taken up by the next one;
what brings a target down goes to `fuzz/artifacts`. Ends with 1 if anything did.
"""

import os
import re
import subprocess
import sys

FUZZ = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "fuzz")
# A single input that takes longer than this counts as found.
SLOW_SECONDS = 10


def targets():
    return sorted(name.removesuffix(".rs") for name in os.listdir(os.path.join(FUZZ, "fuzz_targets")))


def run(target, seconds):
    found = os.path.join("found", target)
    os.makedirs(os.path.join(FUZZ, found), exist_ok=True)
    command = [
        "cargo", "+nightly", "fuzz", "run", target, found, os.path.join("corpus", target), "--",
        f"-max_total_time={seconds}", f"-timeout={SLOW_SECONDS}", "-print_final_stats=1", "-verbosity=1",
    ]
    return subprocess.run(command, cwd=FUZZ, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, errors="replace")


def last(pattern, text):
    matches = re.findall(pattern, text)
    return matches[-1] if matches else "?"


def main():
    seconds = int(sys.argv[1])
    subprocess.run(["cargo", "+nightly", "fuzz", "build"], cwd=FUZZ, check=True)
    print(f"{'target':<12} {'executions':>12} {'per second':>11} {'edges':>7} {'inputs kept':>12}   {seconds} s each")
    fell = 0
    for target in targets():
        done = run(target, seconds)
        said = done.stderr
        runs, speed = last(r"number_of_executed_units: (\d+)", said), last(r"average_exec_per_sec: +(\d+)", said)
        edges, kept = last(r"cov: (\d+)", said), last(r"corp: (\d+)", said)
        result = "nothing found" if done.returncode == 0 else "FOUND"
        print(f"{target:<12} {runs:>12} {speed:>11} {edges:>7} {kept:>12}   {result}", flush=True)
        if done.returncode != 0:
            fell += 1
            print(said[-3000:], file=sys.stderr)
    return 1 if fell else 0


sys.exit(main())
