"""What the program takes to look into a large record: bench_store.py PROGRAM FOLDER. The middle of seven, after one more."""

import json
import statistics
import subprocess
import sys
import time

MOST = 50.0


def main(program, folder):
    listed = subprocess.run([program, "runs", "--json", "--data", folder], check=True, capture_output=True)
    newest, before = (run["run"] for run in json.loads(listed.stdout)["runs"][:2])
    missed = False
    for name, arguments in [("runs", ["runs"]), ("show", ["show", newest]), ("compare", ["compare", before, newest])]:
        took = []
        for _ in range(8):
            began = time.perf_counter()
            subprocess.run([program, *arguments, "--data", folder], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
            took.append(1e3 * (time.perf_counter() - began))
        middle = statistics.median(took[1:])
        missed |= middle > MOST
        print(f"spurline {name:<36} {middle:6.1f} ms   target {MOST:g} ms: {'kept' if middle <= MOST else 'MISSED'}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
