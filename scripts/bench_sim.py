"""Measures how fast the simulated analyser sweeps: `bench_sim.py SERVER`, the built example `fast_analyser`.

It serves a bench with twenty lines on the fast clock, so that only the computing takes time, and lets a hundred sweeps
follow one message, held at their highest, so that the message hardly counts. What counts is the server's time on the
processor, so that others on the machine do not.
"""

import os
import socket
import subprocess
import sys
import tempfile

REPEATS = 30
HELD = 100
# Sweeps of 1,001 points in a second, and seconds for the longest sweep that there is.
LEAST_SWEEPS, MOST_SECONDS = 10_000, 1.0

BENCH = """
simulated:
  seed: 7
  units: [ {{ model: FH-2, serial: FH2-0001, firmware: 1.0.3, range: 130 MHz..500 MHz, powers: {{ high: 4.7 W }} }} ]
  analyser: {{}}
  ambient: [ {ambient} ]
"""

# About 145 MHz, each 500 kHz from the next, from 0 dBm down.
LINES = ", ".join(
    f"{{ frequency: {145 + 0.5 * (n - 9.5):.3f} MHz, level: {-3 * n} dBm }}" for n in range(20)
)

SWEEPS = [
    ("20 lines in view, RMS", "FREQ:SPAN 11E6;:BAND 30E3;:DET RMS"),
    ("20 lines in view, positive peak", "FREQ:SPAN 11E6;:BAND 30E3;:DET POS"),
    ("20 lines in view, positive peak, slow", "FREQ:SPAN 11E6;:BAND 30E3;:DET POS;:SWE:TIME 10"),
    ("2 lines next to each other, RMS", "FREQ:SPAN 1E6;:BAND 100E3;:DET RMS"),
    ("2 lines next to each other, positive peak", "FREQ:SPAN 1E6;:BAND 100E3;:DET POS"),
    ("20 lines within the filter's reach, RMS", "FREQ:SPAN 11E6;:BAND 3E6;:DET RMS"),
    ("20 lines within the filter's reach, positive peak", "FREQ:SPAN 11E6;:BAND 3E6;:DET POS"),
]
LONG = [
    (f"100,001 points, {detector}, VBW {video}", f"BAND 3E6;:BAND:VID {video};:DET {detector};:SWE:TIME 1000")
    for detector in ("RMS", "POS", "NEG", "AVER", "SAMP")
    for video in ("3E6", "1E4")
]


class Analyser:
    def __init__(self, server, port):
        self.server = server
        self.link = socket.create_connection(("127.0.0.1", port))
        self.link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.answers = self.link.makefile("r")

    def ask(self, message):
        self.link.sendall((message + "\n").encode())
        return self.answers.readline().strip()

    def processor_time(self):
        with open(f"/proc/{self.server}/stat", encoding="ascii") as file:
            fields = file.read().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def seconds(self, message, times):
        """Of one out of so many times."""
        start = self.processor_time()
        for _ in range(times):
            assert self.ask(message + ";*WAI;*OPC?") == "1"
        return (self.processor_time() - start) / times


def line(what, figure, unit, kept):
    print(f"{what:<52} {figure:>10.2f} {unit}   {'' if kept is None else 'kept' if kept else 'MISSED'}")


def main():
    server = sys.argv[1]
    with tempfile.TemporaryDirectory() as folder:
        bench = os.path.join(folder, "bench.yaml")
        with open(bench, "w", encoding="utf-8") as file:
            file.write(BENCH.format(ambient=LINES))
        served = subprocess.Popen([server, bench], stdout=subprocess.PIPE, text=True)
        try:
            analyser = Analyser(served.pid, int(served.stdout.readline()))
            for what, settings in SWEEPS:
                analyser.ask(f"*RST;:FREQ:CENT 145E6;:{settings};:AVER:TYPE MAX;COUN {HELD};STAT ON;*OPC?")
                rate = HELD / analyser.seconds("INIT", REPEATS)
                line(what, rate, "sweeps/s", rate >= LEAST_SWEEPS)
            print()
            for what, settings in LONG:
                analyser.ask(f"*RST;:FREQ:CENT 145E6;:FREQ:SPAN 50E6;:SWE:POIN 100001;:{settings};*OPC?")
                seconds = analyser.seconds("INIT", 3)
                line(what, seconds, "s", seconds <= MOST_SECONDS)
        finally:
            served.terminate()
            served.wait()


main()
