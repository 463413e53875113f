"""Makes the traces and figures in `crates/judge/tests/traces` with numpy 2.4.6 and scipy 1.17.1, without a line of ours.

Usage: traces.py FOLDER. A trace is the spectrum of a carrier with one tone by its Bessel functions, or of a line, behind a
Gaussian filter, in dBm over a carrier of 0 dBm. The figures beside it are those of scipy on the same points, and of
the lines themselves. `scripts/test` makes them anew and compares.
"""

import json
import pathlib
import sys

import numpy as np
from scipy import special

# name, tone, deviation, filter, points, span
TONES = [
    ("fm-1000-1500", 1000, 1500, 100, 1001, 20e3),
    ("fm-1000-2500", 1000, 2500, 100, 1001, 20e3),
    ("fm-1000-2500-wide-filter", 1000, 2500, 300, 1001, 20e3),
    ("fm-1000-2500-narrow-filter", 1000, 2500, 30, 2001, 20e3),
    ("fm-1000-3000", 1000, 3000, 100, 1001, 20e3),
    ("fm-1000-5000", 1000, 5000, 100, 2001, 40e3),
    ("fm-2500-2500", 2500, 2500, 100, 1001, 25e3),
    ("fm-2500-5000", 2500, 5000, 300, 1001, 50e3),
    ("fm-1250-3000", 1250, 3000, 100, 1001, 25e3),
    ("fm-1250-2500-beside", 1250, 2500, 100, 801, 40e3),
    ("fm-1000-2500-beside", 1000, 2500, 100, 801, 40e3),
    ("fm-1250-3000-beside", 1250, 3000, 100, 801, 40e3),
    ("fm-2500-2500-beside", 2500, 2500, 100, 801, 40e3),
    ("fm-2500-5000-beside", 2500, 5000, 100, 1401, 70e3),
]
# offset and width of the channel beside it
CHANNELS = {"fm-2500-5000-beside": (25e3, 16e3)}
USUAL = (12.5e3, 8.5e3)
FLOOR = 1e-20


def behind(frequencies, lines, filter):
    """Power in milliwatts at each frequency of lines (offset, power) behind a Gaussian filter of 3.0103 dB width."""
    power = np.full_like(frequencies, FLOOR)
    for offset, share in lines:
        power += share * 0.5 ** ((2 * (frequencies - offset) / filter) ** 2)
    return power


def bessel(tone, deviation):
    orders = np.arange(-40, 41)
    return [(n * tone, special.jv(n, deviation / tone) ** 2) for n in orders]


def occupied(frequencies, power, share):
    step = frequencies[1] - frequencies[0]
    edges = np.concatenate([frequencies - step / 2, [frequencies[-1] + step / 2]])
    summed = np.concatenate([[0], np.cumsum(power)]) / power.sum()
    low, high = np.interp([(1 - share) / 2, (1 + share) / 2], summed, edges)
    return high - low


def x_db(frequencies, levels, down):
    wanted = levels.max() - down
    above = np.flatnonzero(levels >= wanted)
    low, high = above[0], above[-1]
    lower = np.interp(wanted, levels[low - 1 : low + 1], frequencies[low - 1 : low + 1])
    upper = np.interp(wanted, levels[high : high + 2][::-1], frequencies[high : high + 2][::-1])
    return upper - lower


def beside(lines, offset, width):
    """Power of the lines in the channel above over that of all of them, in decibels."""
    inside = sum(share for at, share in lines if abs(at - offset) <= width / 2)
    return 10 * np.log10(inside / sum(share for _, share in lines))


def shown(frequencies, power):
    return {
        "first": float(frequencies[0]),
        "spacing": float(frequencies[1] - frequencies[0]),
        "levels": [round(float(level), 6) for level in 10 * np.log10(power)],
    }


def tone(name, tone_, deviation, filter, points, span):
    frequencies = np.linspace(-span / 2, span / 2, points)
    lines = bessel(tone_, deviation)
    power = behind(frequencies, lines, filter)
    levels = 10 * np.log10(power)
    made = {"filter": filter, **shown(frequencies, power)}
    made["occupied_99"] = occupied(frequencies, power, 0.99)
    made["occupied_90"] = occupied(frequencies, power, 0.90)
    made["down_26"] = x_db(frequencies, levels, 26)
    made["down_6"] = x_db(frequencies, levels, 6)
    if name.endswith("beside"):
        offset, width = CHANNELS.get(name, USUAL)
        made.update(offset=offset, width=width, beside=beside(lines, offset, width))
    return made


def line():
    frequencies = np.linspace(-10e3, 10e3, 2001)
    power = behind(frequencies, [(130.0, 0.01)], 1000)
    levels = 10 * np.log10(power)
    return {
        "filter": 1000,
        **shown(frequencies, power),
        "occupied_99": occupied(frequencies, power, 0.99),
        # Of a Gaussian in power with this deviation 99 % lie within so many hertz.
        "theory": float(2 * 500 / np.sqrt(np.log(2)) * special.erfinv(0.99)),
        "down_26": x_db(frequencies, levels, 26),
        "at": 130.0,
        "level": -20.0,
    }


def block():
    frequencies = np.linspace(-5e3, 5e3, 1001)
    power = np.full_like(frequencies, 1e-6)
    return {"filter": 10, **shown(frequencies, power), "occupied_99": occupied(frequencies, power, 0.99)}


def made():
    traces = {name: tone(name, *rest) for name, *rest in TONES}
    return {**traces, "line": line(), "block": block()}


def main():
    folder = pathlib.Path(sys.argv[1])
    for name, trace in made().items():
        trace = {key: value if isinstance(value, list) else round(float(value), 6) for key, value in trace.items()}
        (folder / f"{name}.json").write_text(json.dumps(trace) + "\n")


main()
