"""Drives the simulated bench with PyVISA over every kind of link, as any other client would.

Usage: run.py PROGRAM. Prints each check and `N passed, M failed`; ends with 1 if one failed.
"""

import sys
import traceback

import pyvisa

from bench import Served
from checks import CHECKS

FORMS = {
    "SOCKET": "TCPIP::127.0.0.1::{port}::SOCKET",
    "HiSLIP": "TCPIP::127.0.0.1::hislip0,{port}::INSTR",
    "VXI-11": "TCPIP::127.0.0.1,{port}::inst0::INSTR",
    "ASRL": "ASRL{folder}/analyser::INSTR",
}


class Link:
    """One served bench, and the link to its analyser that is being looked at."""

    def __init__(self, name, addresses):
        self.name, self.addresses = name, addresses
        self.manager = pyvisa.ResourceManager("@py")

    def open(self, instrument="analyser"):
        address = self.addresses[instrument]
        resource = self.manager.open_resource(address, write_termination="\n", timeout=5000)
        # On a stream of bytes a new line ends an answer. HiSLIP and VXI-11 mark the end themselves, and a new line in
        # binary data must not be taken for it.
        if address.endswith("SOCKET") or address.startswith("ASRL"):
            resource.read_termination = "\n"
        else:
            read = resource.read
            resource.read = lambda *arguments, **options: read(*arguments, **options).rstrip("\n")
        return resource


def main(program):
    passed = failed = 0
    for name, form in FORMS.items():
        with Served(program, form) as served:
            link = Link(name, served.addresses)
            for check, links in CHECKS:
                if name not in links:
                    continue
                title = f"{name}: {check.__name__.replace('_', ' ')}"
                try:
                    left_out = check(link)
                except Exception:
                    failed += 1
                    print(f"FAILED  {title}")
                    traceback.print_exc()
                else:
                    passed += left_out is None
                    print(f"ok      {title}" if left_out is None else f"left    {title}: {left_out}")
            link.manager.close()
    print(f"{passed} passed, {failed} failed")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
