"""One service with many simulated benches: bench_service.py PROGRAM SECONDS CLOCK BENCHES…

For each number of benches a service is begun, every bench kept busy for so many seconds, and what that took is printed:
readings, CPU for each, memory, and every run that did not go to its end. A lease that was missed ends its run, so that
it is among these.
"""

import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request

CONFIG = pathlib.Path(__file__).resolve().parents[1] / "config"
MOST_MEGABYTES, MOST_DIFFERENCE = 2.0, 0.15
PLAN = """plan: soak
rule: us-part-97
unit: { model: FH-2, rated_power: 5 W }
supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]
channels:
  - { name: low, carrier: 144.2 MHz, power: { high: 4..6 W, low: 0.5..1.5 W } }
  - { name: high, carrier: 147.2 MHz, power: { high: 4..6 W } }
measure: { harmonics: { up_to: 5 } }
"""


def lay(folder, benches, clock):
    (folder / "plans").mkdir()
    (folder / "plans/soak.yaml").write_text(PLAN)
    text = (CONFIG / "benches/demo.yaml").read_text().replace("../paths", str(CONFIG / "paths"))
    text = text.replace("clock: fast", f"clock: {clock}")
    names = [f"bench-{number:02}" for number in range(1, benches + 1)]
    for number, name in enumerate(names, 1):
        (folder / f"{name}.yaml").write_text(text.replace("seed: 7", f"seed: {number}"))
    listed = "\n".join(f"  - {{ name: {name}, file: {name}.yaml }}" for name in names)
    (folder / "service.yaml").write_text(
        f"service: Soak\nlisten: 127.0.0.1:0\ndata: data\nplans: plans\nbenches:\n{listed}\n"
    )
    return names


class Service:
    def __init__(self, program, folder):
        self.log = folder / "log"
        self.told = self.log.open("w")
        self.process = subprocess.Popen(
            [program, "serve", str(folder / "service.yaml"), "--log", "json"],
            stderr=self.told, env=dict(os.environ, SPURLINE_LOG="warn,spurline::commands::serve=info"),
        )
        found = None
        while found is None:
            assert self.process.poll() is None, self.log.read_text()
            found = re.search(r"the page is at (http://[^\"]+?)/?\"", self.log.read_text())
            time.sleep(0.02)
        self.address = found.group(1)
        self.token = (folder / "data/token").read_text().strip()

    def ask(self, path, body=None):
        request = urllib.request.Request(
            self.address + path, headers={"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"},
            data=None if body is None else json.dumps(body).encode(),
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.read().decode()

    def cpu(self):
        """Seconds of CPU, threads and children included."""
        fields = pathlib.Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(") ", 1)[1].split()
        return sum(int(field) for field in fields[11:15]) / os.sysconf("SC_CLK_TCK")

    def memory(self):
        status = pathlib.Path(f"/proc/{self.process.pid}/status").read_text()
        return {key: int(re.search(rf"^{key}:\s+(\d+)", status, re.M).group(1)) / 1e3 for key in ("VmRSS", "VmHWM", "RssAnon")}

    def metrics(self):
        counts = {}
        for line in self.ask("/metrics").splitlines():
            if not line.startswith("#"):
                name, value = line.split("{", 1)[0], float(line.rsplit(" ", 1)[1])
                counts[name] = counts.get(name, 0.0) + value
        return counts


def soak(program, seconds, clock, benches):
    with tempfile.TemporaryDirectory(dir=os.environ.get("SPURLINE_SOAK_IN")) as name:
        folder = pathlib.Path(name)
        names = lay(folder, benches, clock)
        service = Service(program, folder)
        idle = service.memory()
        ends = time.monotonic() + seconds
        def feed():
            while time.monotonic() < ends:
                waits = [entry["bench"] for entry in json.loads(service.ask("/api/queue?ended=0"))["entries"]]
                for bench in names:
                    for _ in range(2 - waits.count(bench)):
                        service.ask("/api/queue", {"bench": bench, "plan": "soak"})
                        time.sleep(0.01)
                    if time.monotonic() > ends:
                        return
                time.sleep(0.5)
        feeder = threading.Thread(target=feed)
        began = time.monotonic()
        feeder.start()
        anon = []
        while time.monotonic() < ends:
            time.sleep(1)
            anon.append(service.memory()["RssAnon"])
        feeder.join()
        took, cpu, memory, counts = time.monotonic() - began, service.cpu(), service.memory(), service.metrics()
        entries = json.loads(service.ask("/api/queue?ended=1000"))["entries"]
        failed = [entry for entry in entries if entry["standing"] == "failed"]
        service.process.send_signal(signal.SIGTERM)
        ended = service.process.wait(timeout=60)
        readings = counts["spurline_readings_total"]
        anon.sort()
        result = {
            "clock": clock, "benches": benches, "seconds": round(took, 1), "readings": int(readings),
            "runs": int(counts.get("spurline_runs_total", 0)), "key_downs": int(counts["spurline_key_downs_total"]),
            "keyed_s": round(counts["spurline_keyed_seconds_total"], 1), "faults": int(counts["spurline_faults_total"]),
            "failed": len(failed), "cpu_per_reading_ms": round(1e3 * cpu / readings, 2) if readings else None,
            "cpu_share": round(cpu / took, 2), "idle_mb": idle["VmRSS"], "anonymous_mb": anon[len(anon) // 2],
            "peak_mb": memory["VmHWM"], "ended_with": ended,
        }
        print(json.dumps(result), flush=True)
        for entry in failed[:5]:
            print(f"  {entry['bench']}: {entry['told']}")
        return result


def main():
    program, seconds, clock, *numbers = sys.argv[1:]
    results = [soak(program, float(seconds), clock, int(number)) for number in numbers]
    first, last = results[0], results[-1]
    if len(results) > 1:
        each = (last["anonymous_mb"] - first["anonymous_mb"]) / (last["benches"] - first["benches"])
        print(f"memory for each bench more: {each:.2f} MB, target {MOST_MEGABYTES}: {'kept' if each <= MOST_MEGABYTES else 'MISSED'}")
        if clock == "fast":
            ratio = last["cpu_per_reading_ms"] / first["cpu_per_reading_ms"] - 1
            print(f"CPU for a reading: {100 * ratio:+.1f} %, target {100 * MOST_DIFFERENCE:.0f} %: {'kept' if ratio <= MOST_DIFFERENCE else 'MISSED'}")
    bad = [result for result in results if result["failed"] or result["faults"] or result["ended_with"]]
    print("no lease was missed, and every run that was begun went on" if not bad else f"NOT so with {[r['benches'] for r in bad]} benches")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
