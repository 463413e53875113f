"""Times our client against a bare socket and against PyVISA, all with the same server, turn by turn.

`bench_links.py SERVER CLIENT`: the built examples `fixed_answers` and `timed_client` of the crate `spurline-transport`.
A turn is one arm after the other; the figure of a line is the median over the turns of the quotient within a turn, so that
a machine that is slow for a while is slow for both arms. Ends with 1 if a target is missed.
"""

import math
import os
import platform
import socket
import statistics
import subprocess
import sys
import time

import numpy
import pyvisa
import pyvisa_py

TURNS = 31
TRIPS = 2000
SLOW_TRIPS = 50
READINGS = 5
# How often a trace is fetched in one turn by PyVISA, and how many times as often by the arms that need less time.
FETCHED = {1001: 100, 100001: 4}
MORE_OFTEN = 10
SAME_SUM = 1e-3

SETTINGS = [
    "INP:ATT 20", "DISP:WIND:TRAC:Y:RLEV -10", "FREQ:CENT 433000000", "FREQ:SPAN 1000000", "BAND 10000", "BAND:VID 30000",
    "SWE:POIN 1001", "DET RMS", "SWE:TIME 0.1",
]
CONFIRMED = ["FREQ:CENT?", "FREQ:SPAN?", "BAND?", "BAND:VID?", "SWE:POIN?", "SWE:TIME?", "INP:ATT?", "DISP:WIND:TRAC:Y:RLEV?"]


class Client:
    """Our client, told what to do line by line."""

    def __init__(self, program, ports):
        self.process = subprocess.Popen(
            [program, *ports], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
        )

    def does(self, job):
        self.process.stdin.write(job + "\n")
        answer = [float(word) for word in self.process.stdout.readline().split()]
        assert answer, f"`{job}` was not done"
        return answer

    def end(self):
        self.process.stdin.close()
        assert self.process.wait(10) == 0


def opened(manager, port):
    return manager.open_resource(
        f"TCPIP::127.0.0.1::{port}::SOCKET", read_termination="\n", write_termination="\n", timeout=20000
    )


def without_nagle(instrument):
    """PyVISA-py leaves Nagle's algorithm on: a command behind a command waits for an acknowledgement, some 40 ms."""
    session = instrument.visalib.sessions[instrument.session]
    session.interface.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return instrument


def timed(work, times):
    began = time.perf_counter()
    for _ in range(times):
        result = work()
    return time.perf_counter() - began, result


def trace(instrument, name, container):
    question = f"TRAC? {name}"
    if name.startswith("REAL"):
        return instrument.query_binary_values(question, datatype="f", is_big_endian=True, container=container)
    return instrument.query_ascii_values(question, container=container)


def reading(instrument):
    """One harmonic, step by step, as a script would: set, confirm, sweep, wait, fetch, look at the status and at the errors."""
    for setting in SETTINGS:
        instrument.write(setting)
    for question in CONFIRMED:
        float(instrument.query(question))
    instrument.write("INIT")
    instrument.query("*OPC?")
    levels = instrument.query_binary_values("TRAC? TRACE1", datatype="f", is_big_endian=True)
    int(instrument.query("STAT:QUES:COND?"))
    instrument.write("CALC:MARK:MAX")
    float(instrument.query("CALC:MARK:X?"))
    float(instrument.query("CALC:MARK:Y?"))
    int(instrument.query("*ESR?"))
    assert instrument.query("SYST:ERR?").startswith("0")
    return levels


class Table:
    """Lines with median, quartiles, target and verdict."""

    def __init__(self):
        self.missed = 0

    def line(self, what, quotients, target=None):
        low, middle, high = statistics.quantiles(quotients, n=4)
        judged = ""
        if target is not None:
            kept = middle >= target
            self.missed += not kept
            judged = f"   target {target:g}: {'kept' if kept else 'MISSED'}"
        print(f"{what:<66} {middle:8.2f}   {low:.2f} .. {high:.2f}{judged}")


def micro(seconds, times):
    return f"{statistics.median(seconds) / times * 1e6:.1f} us"


def round_trips(client, table):
    arms = {"bare": [], "runtime": [], "ours": []}
    for _ in range(TURNS):
        for arm, seconds in arms.items():
            seconds += client.does(f"roundtrips {arm} {TRIPS}")
    print(
        f"one round trip: bare socket {micro(arms['bare'], TRIPS)}, bare socket of the runtime "
        f"{micro(arms['runtime'], TRIPS)}, our session {micro(arms['ours'], TRIPS)}"
    )
    over = lambda arm: [bare / seconds for bare, seconds in zip(arms["bare"], arms[arm])]
    table.line("  speed of our session over that of a bare socket", over("ours"), 0.85)
    table.line("  of that, what the asynchronous runtime leaves", over("runtime"))


def traces(client, instrument, table, name, points, faster):
    times = FETCHED[points]
    arms = {"list": [], "numpy": [], "bare": [], "ours": []}
    for _ in range(TURNS):
        sums = []
        for arm, container in (("list", list), ("numpy", numpy.array)):
            seconds, levels = timed(lambda: trace(instrument, f"{name}{points}", container), times)
            arms[arm].append(seconds)
            assert len(levels) == points
            sums.append(math.fsum(levels))
        arms["bare"].append(client.does(f"trace bare {name}{points} {times * MORE_OFTEN}")[0] / MORE_OFTEN)
        seconds, found = client.does(f"trace ours {name}{points} {times * MORE_OFTEN}")
        arms["ours"].append(seconds / MORE_OFTEN)
        # A trace that nobody has read would be fetched very fast.
        assert all(abs(found - total) < SAME_SUM * abs(total) for total in sums), (found, sums)
    kind = "REAL,32" if name == "REAL" else "ASCII"
    print(f"\n{kind}, {points} points: " + ", ".join(f"{arm} {micro(arms[arm], times)}" for arm in arms))
    over = lambda arm: [a / o for a, o in zip(arms[arm], arms["ours"])]
    table.line("  our client over PyVISA with a list", over("list"), faster)
    table.line("  our client over PyVISA with a numpy array", over("numpy"))
    table.line("  our client over a bare `read_exact`", over("bare"), 0.7 if name == "REAL" and faster else None)


def readings(client, plain, quick, table):
    bare, ours, scripts = [], [], ([], [])
    for _ in range(TURNS):
        bare += client.does(f"slow bare {SLOW_TRIPS}")
        for instrument, spent in zip((plain, quick), scripts):
            seconds, levels = timed(lambda: reading(instrument), READINGS)
            spent.append(seconds)
        seconds, total = client.does(f"reading ours {READINGS}")
        ours.append(seconds)
        assert abs(total - math.fsum(levels)) < SAME_SUM * abs(total), (total, math.fsum(levels))
    print(
        f"\none harmonic over a link held up for 1 ms each way (round trip {micro(bare, SLOW_TRIPS)}), sweep without duration:\n"
        f"PyVISA step by step {micro(scripts[0], READINGS)}, with TCP_NODELAY set {micro(scripts[1], READINGS)}, "
        f"our client {micro(ours, READINGS)}"
    )
    over = lambda spent: [script / seconds for script, seconds in zip(spent, ours)]
    table.line("  our client over PyVISA step by step", over(scripts[0]), 5)
    table.line("  our client over PyVISA step by step with TCP_NODELAY", over(scripts[1]), 5)


def main():
    # The far end has a processor of its own, and all arms at the near end share another: else the scheduler decides anew,
    # for every turn, whether an answer is copied in the cache of one processor or from the other's.
    far, *near = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {far})
    server = subprocess.Popen([sys.argv[1]], stdout=subprocess.PIPE, text=True)
    os.sched_setaffinity(0, near[:1] or {far})
    try:
        ports = server.stdout.readline().split()
        client = Client(sys.argv[2], ports)
        manager = pyvisa.ResourceManager("@py")
        direct, slow = (opened(manager, port) for port in ports)
        quick = without_nagle(opened(manager, ports[1]))
        print(
            f"Python {platform.python_version()}, PyVISA {pyvisa.__version__}, PyVISA-py {pyvisa_py.__version__}, "
            f"numpy {numpy.__version__}; {TURNS} turns; median and quartiles of the quotients"
        )
        table = Table()
        round_trips(client, table)
        for name, points, faster in (("ASCI", 1001, None), ("ASCI", 100001, 10), ("REAL", 1001, None), ("REAL", 100001, 20)):
            traces(client, direct, table, name, points, faster)
        readings(client, slow, quick, table)
        client.end()
        for instrument in (direct, slow, quick):
            instrument.close()
        manager.close()
        return 1 if table.missed else 0
    finally:
        server.terminate()
        server.wait(10)


sys.exit(main())
