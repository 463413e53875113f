"""A simulated bench that is served while something drives it."""

import pathlib
import socket
import subprocess
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
BENCH = ROOT / "config/benches/every-link.yaml"
ANALYSER = "TCPIP::127.0.0.1::hislip0,15055::INSTR"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Served:
    """The bench with every kind of link, its analyser at an address of the given form."""

    def __init__(self, program, form):
        self.folder = tempfile.TemporaryDirectory()
        text = BENCH.read_text().replace("../paths/", f"{ROOT}/config/paths/")
        assert ANALYSER in text, "the shipped bench is not what it was"
        here = {"port": free_port, "folder": lambda: self.folder.name}
        text = text.replace(ANALYSER, form.format(**{key: give() for key, give in here.items()}))
        # Every other instrument at a port of its own, so that nothing else on this machine is in the way.
        for port in ("15056", "15057", "15059", "15060"):
            text = text.replace(port, str(free_port()))
        text = text.replace("/tmp/spurline-relay", f"{self.folder.name}/relay")
        file = pathlib.Path(self.folder.name, "bench.yaml")
        file.write_text(text)
        self.process = subprocess.Popen([program, "sim", file], stdout=subprocess.PIPE, text=True)
        lines = iter(self.process.stdout.readline, "ready\n")
        self.addresses = dict(line.split() for line in lines if line or self.fail())

    def fail(self):
        raise RuntimeError(f"the bench is not served, exit status {self.process.wait(10)}")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        status = self.process.wait(10)
        self.folder.cleanup()
        assert status == 0, f"stopped by a signal, it ends with 0 and not with {status}"
