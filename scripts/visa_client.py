"""Drives the simulated bench with PyVISA: identifies every instrument, sets, sweeps and reads a trace."""

import subprocess
import sys

import pyvisa

sim = subprocess.Popen([sys.argv[1], "sim", "config/benches/demo.yaml"], stdout=subprocess.PIPE, text=True)
try:
    places = dict(line.split() for line in iter(sim.stdout.readline, "ready\n"))
    manager = pyvisa.ResourceManager("@py")
    opened = {}
    for name, address in places.items():
        opened[name] = manager.open_resource(address, read_termination="\n", write_termination="\n", timeout=5000)
        identity = opened[name].query("*IDN?")
        assert len(identity.split(",")) == 4, identity
        print(f"{name:12} {identity}")
    analyser = opened["analyser"]
    analyser.write("*RST;:INIT:CONT OFF;:FREQ:CENT 144.2E6;SPAN 1MHZ;:BAND 10 KHZ;:SWE:POIN 401;:INP:ATT 20")
    assert float(analyser.query("SENSe:FREQuency:CENTer?")) == 144.2e6
    assert analyser.query("INIT;*OPC?") == "1"
    ascii_trace = analyser.query_ascii_values("FORM ASC;:TRAC? TRACE1")
    analyser.write("FORM REAL,32;:FORM:BORD NORM")
    trace = analyser.query_binary_values("TRAC? TRACE1", datatype="f", is_big_endian=True)
    assert len(trace) == 401 and all(abs(a - b) < 0.005 for a, b in zip(ascii_trace, trace))
    # -150 dBm in 1 Hz, 10 kHz Gaussian, 20 dB: -89.7 dBm of mean noise, and nothing is keyed.
    assert -95 < sum(trace) / 401 < -80, sum(trace) / 401
    assert analyser.query("BOGUS:HEADER;:SYST:ERR?").startswith("-113"), "an unknown header"
    assert analyser.query("SYST:ERR?").startswith("0")
    print(f"trace: 401 points, mean {sum(trace) / 401:.1f} dBm")
    print("1 passed, 0 failed")
finally:
    sim.terminate()
    assert sim.wait(10) == 0, "stopped by a signal, it ends with 0"
