"""What any client may expect of the simulated instruments, whatever the link; each function is one check.

A check is given a `Link`, opens what it needs, and fails by an exception. One that holds on some links only names them.
"""

import fcntl
import os
import signal
import struct
import subprocess
import sys
import time

import pyvisa
from pyvisa.constants import StatusCode

CHECKS = []
STREAMS = ("SOCKET", "ASRL")
MESSAGES = ("HiSLIP", "VXI-11")


def check(*links):
    """Registers a check for the named links, or for all."""

    def register(function):
        CHECKS.append((function, links or STREAMS + MESSAGES))
        return function

    return register


def prefixed(answer, number):
    assert answer.startswith(f"{number},"), answer


def drained(analyser):
    """Every entry of the error queue, oldest first."""
    entries = []
    while not (entry := analyser.query("SYST:ERR?")).startswith("0,"):
        entries.append(int(entry.split(",")[0]))
        assert len(entries) < 1000, "the queue has no end"
    return entries


def swept(analyser, points=401, seconds=None):
    timing = "" if seconds is None else f":SWE:TIME {seconds};"
    analyser.write(f"*RST;*CLS;:INIT:CONT OFF;:FREQ:CENT 144.2E6;SPAN 1MHZ;:BAND 10 KHZ;:SWE:POIN {points};{timing}"
                   ":INP:ATT 20")


@check()
def every_instrument_says_who_it_is(link):
    for name in link.addresses:
        with link.open(name) as instrument:
            identity = instrument.query("*IDN?")
            assert len(identity.split(",")) == 4, f"{name}: {identity}"


@check()
def settings_are_read_back(link):
    with link.open() as analyser:
        swept(analyser)
        for header, value in (("FREQ:CENT", 144.2e6), ("FREQ:SPAN", 1e6), ("BAND", 10e3), ("SWE:POIN", 401),
                              ("INP:ATT", 20)):
            assert float(analyser.query(f"{header}?")) == value, header
        assert float(analyser.query("SENSe:FREQuency:CENTer?")) == 144.2e6
        assert float(analyser.query("FREQ:CENT 433.92 MHZ;CENT?")) == 433.92e6
        assert drained(analyser) == []


@check()
def an_audio_generator_gives_what_it_is_told(link):
    with link.open("audio-generator") as generator:
        generator.write("*RST;*CLS")
        assert generator.query("OUTP?") == "0", "nothing comes out after a reset"
        generator.write("FREQ 2.5 KHZ;:VOLT 12.34 MV;:OUTP ON")
        found = [float(value) for value in generator.query("FREQ?;:VOLT?;:OUTP?").split(";")]
        assert all(abs(a - b) <= 1e-9 * b for a, b in zip(found, (2500, 0.01234, 1))), found
        assert float(generator.query("SOURce:VOLTage:LEVel:IMMediate:AMPLitude?")) == found[1]
        assert generator.query("FUNC?") == "SIN"
        generator.write("VOLT 1 KV")
        prefixed(generator.query("SYST:ERR?"), -222)
        assert float(generator.query("VOLT?")) == found[1], "a level out of bounds is not taken"
        generator.write("*SAV 1;*RCL 1")
        assert generator.query("OUTP?") == "0", "nothing comes out by the recall of a setting"
        assert drained(generator) == []


@check()
def traces_agree_in_every_format_and_byte_order(link):
    with link.open() as analyser:
        swept(analyser, points=1001)
        assert analyser.query("INIT;*OPC?") == "1"
        text = analyser.query_ascii_values("FORM ASC;:TRAC? TRACE1")
        assert len(text) == 1001
        # -150 dBm in 1 Hz, 10 kHz Gaussian, 20 dB: -89.7 dBm of mean noise, and nothing is keyed.
        assert -95 < sum(text) / len(text) < -80, sum(text) / len(text)
        for format, datatype in (("REAL,32", "f"), ("REAL,64", "d")):
            for order, big in (("NORM", True), ("SWAP", False)):
                analyser.write(f"FORM {format};:FORM:BORD {order}")
                prefixed(analyser.query("SYST:ERR?"), 0)
                trace = analyser.query_binary_values("TRAC? TRACE1", datatype=datatype, is_big_endian=big)
                assert len(trace) == 1001 and all(abs(a - b) < 0.005 for a, b in zip(text, trace)), (format, order)


@check()
def a_long_trace_arrives_whole(link):
    with link.open() as analyser:
        swept(analyser, points=10001)
        assert analyser.query("INIT;*OPC?") == "1"
        analyser.write("FORM REAL,32;:FORM:BORD NORM")
        for _ in range(5):
            assert len(analyser.query_binary_values("TRAC? TRACE1", datatype="f", is_big_endian=True)) == 10001
        assert analyser.query("*OPC?") == "1", "nothing is left behind"


@check()
def completion_waits_for_the_sweep(link):
    with link.open() as analyser:
        swept(analyser, seconds=0.5)
        begin = time.monotonic()
        assert analyser.query("INIT;*OPC?") == "1"
        assert 0.5 <= time.monotonic() - begin < 2, "a sweep of 0.5 s"


@check()
def an_unknown_header_is_an_error_and_no_answer(link):
    with link.open() as analyser:
        swept(analyser)
        prefixed(analyser.query("BOGUS:HEADER;:SYST:ERR?"), -113)
        assert int(analyser.query("*ESR?")) & 32, "a command error"
        analyser.write("NO:SUCH?")
        prefixed(analyser.query("SYST:ERR?"), -113)
        assert drained(analyser) == []


@check()
def a_full_queue_keeps_the_oldest_and_says_so(link):
    with link.open() as analyser:
        swept(analyser)
        analyser.write("FREQ:CENT 1E15")
        for _ in range(120):
            analyser.write("BOGUS")
        entries = drained(analyser)
        assert entries[0] == -222 and entries[-1] == -350 and set(entries[1:-1]) == {-113}, entries


@check()
def a_late_reader_finds_the_next_answer(link):
    with link.open() as analyser:
        swept(analyser)
        analyser.timeout = 200
        try:
            answer = analyser.read()
            raise AssertionError(f"nobody asked, and yet: {answer}")
        except pyvisa.VisaIOError as error:
            assert error.error_code == StatusCode.error_timeout, error
        analyser.timeout = 5000
        assert analyser.query("*OPC?") == "1"
        # Only VXI-11 tells the instrument that somebody reads; who has asked nothing is told so.
        assert drained(analyser) == ([-420] if link.name == "VXI-11" else [])


@check()
def two_clients_share_an_instrument(link):
    if link.name == "ASRL":
        return "a line has one end"
    with link.open() as one, link.open() as other:
        swept(one)
        one.write("FREQ:CENT 150E6")
        assert one.query("*OPC?") == "1"
        assert float(other.query("FREQ:CENT?")) == 150e6


def settles(analyser, mask, value):
    """The status byte is what it is to be within a second: it travels beside the messages."""
    limit = time.monotonic() + 1
    while (status := analyser.read_stb()) & mask != value:
        assert time.monotonic() < limit, f"status byte {status}"


@check(*MESSAGES)
def the_status_byte_is_read_beside_the_messages(link):
    with link.open() as analyser:
        swept(analyser)
        assert analyser.query("*OPC?") == "1"
        settles(analyser, 255, 0)
        analyser.write("*IDN?")
        settles(analyser, 16, 16)
        analyser.read()
        settles(analyser, 16, 0)
        # What is enabled by `*SRE` is told of on HiSLIP's second connection without being asked, which this client
        # takes for the answer to something else.
        service = 32 if link.name == "VXI-11" else 0
        analyser.write(f"*ESE 32;*SRE {service};:BOGUS")
        settles(analyser, 4 + 32 + 64, 4 + 32 + 2 * service)
        analyser.write("*CLS;*SRE 0;*ESE 0")
        settles(analyser, 255, 0)


@check(*STREAMS)
def the_status_byte_is_asked_for(link):
    with link.open() as analyser:
        swept(analyser)
        assert int(analyser.query("*ESE 32;*SRE 32;*STB?")) == 0
        assert int(analyser.query("BOGUS;*STB?")) & 100 == 100
        assert int(analyser.query("*CLS;*SRE 0;*ESE 0;*STB?")) == 0


@check(*MESSAGES)
def a_device_clear_drops_a_pending_answer(link):
    with link.open() as analyser:
        swept(analyser, seconds=20)
        begin = time.monotonic()
        analyser.write("INIT;*OPC?")
        # A clear overtakes what has not been begun, and drops that as well.
        time.sleep(0.2)
        analyser.clear()
        assert float(analyser.query("SWE:TIME?")) == 20
        assert int(analyser.query("STAT:OPER:COND?")) & 8, "it still sweeps"
        assert drained(analyser) == []
        assert time.monotonic() - begin < 5


@check("VXI-11", "SOCKET")
def a_clear_drops_an_answer_that_is_there(link):
    with link.open() as analyser:
        swept(analyser)
        analyser.write("*IDN?")
        time.sleep(0.2)
        analyser.clear()
        assert analyser.query("*OPC?") == "1"


@check(*MESSAGES)
def a_question_before_the_answer_interrupts(link):
    with link.open() as analyser:
        swept(analyser)
        assert analyser.query("*OPC?") == "1"
        analyser.write("*IDN?")
        time.sleep(0.1)
        prefixed(analyser.query("SYST:ERR?"), -410)


@check("VXI-11")
def a_trigger_that_nobody_waits_for_is_ignored(link):
    with link.open() as analyser:
        swept(analyser)
        analyser.assert_trigger()
        prefixed(analyser.query("SYST:ERR?"), -211)


KILLED = """
import fcntl, os, sys, termios, time
line = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
fcntl.ioctl(line, termios.TIOCEXCL)
print("claimed", flush=True)
time.sleep(60)
"""
# `TIOCGEXCL`, which Python does not name: whether the line is claimed.
CLAIMED = 0x80045440


@check("ASRL")
def the_claim_of_a_killed_client_does_not_last(link):
    path = link.addresses["analyser"].removeprefix("ASRL").removesuffix("::INSTR")
    client = subprocess.Popen([sys.executable, "-c", KILLED, path], stdout=subprocess.PIPE, text=True)
    assert client.stdout.readline() == "claimed\n"
    client.send_signal(signal.SIGKILL)
    client.wait(10)
    line = None
    limit = time.monotonic() + 5
    while line is None:
        try:
            line = os.open(path, os.O_RDWR | os.O_NOCTTY)
        except OSError:
            assert time.monotonic() < limit, "the line cannot be opened"
            time.sleep(0.1)
    try:
        while struct.unpack("i", fcntl.ioctl(line, CLAIMED, bytes(4)))[0]:
            assert time.monotonic() < limit, "the line is still claimed"
            time.sleep(0.1)
    finally:
        os.close(line)
    with link.open() as analyser:
        assert analyser.query("*OPC?") == "1"
