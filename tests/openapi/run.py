"""Holds the service's interface against its own OpenAPI document with schemathesis: run.py PROGRAM.

Every operation is called with what the document allows and with what it does not, with the token and without. The
benches are simulated; what is asked for is measured.
"""

import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile

CONFIG = pathlib.Path(__file__).resolve().parents[2] / "config"
PLAN = """plan: short
rule: us-part-97
unit: { model: FH-2, rated_power: 5 W }
supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]
channels: [ { name: VHF, carrier: 144.2 MHz, power: { high: 4..5.5 W } } ]
measure: { harmonics: { up_to: 2 } }
"""


def lay(folder: pathlib.Path) -> pathlib.Path:
    (folder / "plans").mkdir()
    (folder / "plans/short.yaml").write_text(PLAN)
    bench = (CONFIG / "benches/demo.yaml").read_text().replace("../paths", str(CONFIG / "paths"))
    (folder / "bench.yaml").write_text(bench)
    service = folder / "service.yaml"
    service.write_text(
        "service: Interface test\nlisten: 127.0.0.1:0\ndata: data\nplans: plans\n"
        "benches: [ { name: demo, file: bench.yaml } ]\n"
        "announced: [ { of: firmware, bench: demo, plan: short } ]\n"
    )
    return service


def main(program: str) -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        log = folder / "log"
        with log.open("w") as told:
            service = subprocess.Popen([program, "serve", str(lay(folder)), "--log", "json"], stderr=told)
        try:
            address = None
            while address is None:
                if service.poll() is not None:
                    print(log.read_text())
                    return 1
                address = re.search(r"the page is at (http://[^\"]+?)/?\"", log.read_text())
            address = address.group(1)
            token = (folder / "data/token").read_text().strip()
            # A run to be asked for.
            subprocess.run(
                [program, "run", str(folder / "plans/short.yaml"), "--bench", str(folder / "bench.yaml"),
                 "--data", str(folder / "data")],
                check=True, capture_output=True,
            )
            (folder / "schemathesis.toml").write_text(
                "[parameters]\n"
                '"run" = "last"\n'
            )
            schemathesis = pathlib.Path(sys.executable).with_name("schemathesis")
            ran = subprocess.run(
                [schemathesis, "run", f"{address}/api/openapi.json", "--header", f"Authorization: Bearer {token}",
                 "--checks", "all", "--max-examples", os.environ.get("SPURLINE_EXAMPLES", "5"),
                 "--seed", "7", "--rate-limit", "150/s", "--no-color", *sys.argv[2:]],
                cwd=folder, check=False,
            )
            service.send_signal(signal.SIGTERM)
            ended = service.wait(timeout=30)
            panics = [line for line in log.read_text().splitlines() if "panic" in line]
            print(json.dumps({"schemathesis": ran.returncode, "service": ended, "panics": panics}))
            return 1 if ran.returncode or ended or panics else 0
        finally:
            service.kill()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
