"""A simulated bench that is served while something drives it."""

import pathlib
import socket
import subprocess
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
BENCH = ROOT / "config/benches/every-link.yaml"
ATTEMPTS = 5
# What the program ends with when it cannot serve a bench.
BUSY = 4
ANALYSER = "TCPIP::127.0.0.1::hislip0,15055::INSTR"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Served:
    """The bench with every kind of link, its analyser at an address of the given form."""

    def __init__(self, program, form):
        for attempt in range(ATTEMPTS):
            self.folder = tempfile.TemporaryDirectory()
            command = [program, "sim", self.written(form)]
            self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
            self.addresses = self.told()
            if self.addresses is not None:
                return
            status = self.process.wait(10)
            self.folder.cleanup()
            # A port that was free a moment ago may belong to somebody else by now.
            if status != BUSY or attempt + 1 == ATTEMPTS:
                raise RuntimeError(f"the bench is not served, exit status {status}")

    def told(self):
        """The addresses that it is served at, or none if it ends instead."""
        addresses = {}
        for line in self.process.stdout:
            if line == "ready\n":
                return addresses
            role, address = line.split()
            addresses[role] = address
        return None

    def written(self, form):
        """The bench file, every instrument at a port of its own, so that nothing else on this machine is in the way."""
        text = BENCH.read_text().replace("../paths/", f"{ROOT}/config/paths/")
        assert ANALYSER in text, "the shipped bench is not what it was"
        here = {"port": free_port, "folder": lambda: self.folder.name}
        text = text.replace(ANALYSER, form.format(**{key: give() for key, give in here.items()}))
        for port in ("15056", "15057", "15059", "15060"):
            text = text.replace(port, str(free_port()))
        text = text.replace("/tmp/spurline-relay", f"{self.folder.name}/relay")
        file = pathlib.Path(self.folder.name, "bench.yaml")
        file.write_text(text)
        return file

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        status = self.process.wait(10)
        self.folder.cleanup()
        assert status == 0, f"stopped by a signal, it ends with 0 and not with {status}"
