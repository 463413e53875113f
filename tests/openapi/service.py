"""A service of the program, in a folder of its own, with one simulated bench."""

import contextlib
import pathlib
import re
import signal
import subprocess
import tempfile
import time

CONFIG = pathlib.Path(__file__).resolve().parents[2] / "config"
PLAN = """plan: short
rule: us-part-97
unit: { model: FH-2, rated_power: 5 W }
supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]
channels: [ { name: VHF, carrier: 144.2 MHz, power: { high: 4..5.5 W } } ]
measure: { harmonics: { up_to: 2 } }
"""


class Service:
    def __init__(self, program, folder, more):
        (folder / "plans").mkdir()
        (folder / "plans/short.yaml").write_text(PLAN)
        bench = (CONFIG / "benches/demo.yaml").read_text().replace("../paths", str(CONFIG / "paths"))
        (folder / "bench.yaml").write_text(bench)
        (folder / "service.yaml").write_text(
            "service: Interface test\ndata: data\nplans: plans\n"
            "benches: [ { name: demo, file: bench.yaml } ]\n"
            f"announced: [ {{ of: firmware, bench: demo, plan: short }} ]\n{more}"
        )
        self.folder, self.log = folder, folder / "log"
        with self.log.open("w") as told:
            self.process = subprocess.Popen(
                [program, "serve", str(folder / "service.yaml"), "--log", "json"], stderr=told
            )

    def link(self):
        """Where it says that its page is."""
        while True:
            found = re.search(r"the page is at (https?://[^\"]+?)/?\"", self.log.read_text())
            if found:
                return found.group(1)
            assert self.process.poll() is None, self.log.read_text()
            time.sleep(0.02)

    def end(self):
        """Its exit status, and every panic that it told of."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=30), [line for line in self.log.read_text().splitlines() if "panic" in line]


@contextlib.contextmanager
def served(program, more="listen: 127.0.0.1:0\n", lay=lambda folder: None):
    with tempfile.TemporaryDirectory() as name:
        lay(pathlib.Path(name))
        service = Service(program, pathlib.Path(name), more)
        try:
            yield service
        finally:
            service.process.kill()
