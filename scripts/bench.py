"""Measures a built program: wall time and memory of the demonstration, and what its record tells of the run."""

import json
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time

REPEATS = 7
# Of the demonstration on the fast clock; the first without what a disk takes to keep its commits.
MOST_SECONDS, MOST_MEGABYTES = 0.3, 60.0
MEMORY = "/dev/shm"
READINGS = 500


def line(what, figure, unit, target=None):
    judged = ""
    if target is not None:
        judged = f"   target {target:g} {unit}: {'kept' if figure <= target else 'MISSED'}"
    print(f"{what:<42} {figure:>8.2f} {unit}{judged}")


def measure(program, plan, folder):
    """One run: seconds of wall time and megabytes at the peak."""
    environment = dict(os.environ, SPURLINE_DATA=folder)
    start = time.monotonic()
    with open(os.path.join(folder, "out.json"), "wb") as out:
        process = subprocess.Popen([program, "run", plan, "--json"], stdout=out, stderr=subprocess.DEVNULL, env=environment)
        _, status, usage = os.wait4(process.pid, 0)
    wall = time.monotonic() - start
    assert os.waitstatus_to_exitcode(status) in (0, 1), f"{plan} ended with {os.waitstatus_to_exitcode(status)}"
    return wall, usage.ru_maxrss / 1024


def round_trips(program, folder, run):
    """Messages to each instrument while the key was up and down, from the transcript of the run.

    On the fast clock what happens before key down bears the same time as key down itself.
    """
    record = sqlite3.connect(os.path.join(folder, "record.sqlite"))
    down = record.execute(
        "SELECT at, kind FROM event WHERE run = ? AND kind IN ('key-down', 'key-up') ORDER BY sequence", (run,)
    ).fetchall()
    spans = [(down[i][0], down[i + 1][0]) for i in range(0, len(down) - 1, 2)]
    counts = {}
    record.close()
    shown = subprocess.run(
        [program, "show", run, "--transcript", "--json", "--data", folder], check=True, capture_output=True
    )
    for entry in json.loads(shown.stdout)["entries"]:
        if entry["direction"] != "to":
            continue
        # The record writes nine digits of a second, JSON as many as are needed.
        seconds, _, fraction = entry["at"].removesuffix("Z").partition(".")
        at = f"{seconds}.{fraction:0<9}Z"
        keyed = any(start < at <= end for start, end in spans)
        counts.setdefault(entry["link"], [0, 0])[keyed] += 1
    return counts


def main():
    program, commits, work = sys.argv[1:]
    for plan in ("demo", "notched"):
        folder = os.path.join(work, plan)
        os.makedirs(folder)
        runs = [measure(program, f"config/plans/{plan}.yaml", folder) for _ in range(REPEATS)]
        print(f"\n{plan}: median of {REPEATS} runs on the fast clock")
        target = plan == "demo"
        line("wall time", statistics.median(wall for wall, _ in runs), "s")
        if os.path.isdir(MEMORY):
            with tempfile.TemporaryDirectory(dir=MEMORY) as kept:
                inside = [measure(program, f"config/plans/{plan}.yaml", kept)[0] for _ in range(REPEATS)]
            most = MOST_SECONDS if target else None
            line("wall time, record kept in memory", statistics.median(inside), "s", most)
        line("peak memory", max(peak for _, peak in runs), "MB", MOST_MEGABYTES if target else None)
        with open(os.path.join(folder, "out.json"), encoding="utf-8") as document:
            run = json.load(document)
        counts = round_trips(program, folder, run["run"])
        readings = len(run["readings"])
        for link, (up, down) in sorted(counts.items()):
            print(f"  messages to the {link:<26} {up + down:>8d}   {down} of them keyed")
        total = sum(up + down for up, down in counts.values())
        line("messages for each reading", total / readings, "")
        held = [down["held_s"] for down in run["key_downs"]]
        line("keyed, all together", sum(held), "s")
        line("keyed, longest", max(held), "s")
    folder = os.path.join(work, "commits")
    each = subprocess.run([commits, str(READINGS), folder], check=True, capture_output=True, text=True)
    print(f"\nrecord: {READINGS} readings with raw sweeps, one commit each, on the disk of {work}")
    line("commits", float(each.stdout), "/s")


main()
