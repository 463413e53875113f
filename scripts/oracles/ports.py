"""Touchstone files, cascades and mismatch against scikit-rf."""

import os
import tempfile

import numpy
import skrf

from asking import Worst

UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}


def passive(chosen, points):
    """Random passive two-ports, the same in both directions, with ripple between the points."""
    parts = chosen.normal(size=(points, 2, 2)) + 1j * chosen.normal(size=(points, 2, 2))
    parts[:, 0, 1] = parts[:, 1, 0]
    largest = numpy.linalg.svd(parts, compute_uv=False)[:, 0]
    return parts / largest[:, None, None] * chosen.uniform(0.2, 0.98, points)[:, None, None]


def network(parameters, frequencies):
    return skrf.Network(f=frequencies, s=parameters, z0=50, f_unit="Hz")


def flat(s):
    """Real and imaginary parts of S11, S21, S12 and S22."""
    return [float(part) for value in (s[0, 0], s[1, 0], s[0, 1], s[1, 1]) for part in (value.real, value.imag)]


def files(ours):
    """60 files in every format and unit: scikit-rf reads the same parameters, and dB runs straight between them"""
    chosen, worst = numpy.random.default_rng(30), Worst()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(60):
            count = int(chosen.integers(2, 40))
            frequencies = numpy.sort(chosen.uniform(1e6, 3e9, count))
            made = network(passive(chosen, count), frequencies)
            form, unit = ["db", "ma", "ri"][number % 3], list(UNITS)[number % 4]
            made.frequency.unit = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}[unit]
            made.write_touchstone("file", dir=folder, form=form)
            name = os.path.join(folder, "file.s2p")
            with open(name) as file:
                text = file.read()
            read = skrf.Network(name)
            middles = (read.f[:-1] + read.f[1:]) / 2
            answer = ours("touchstone", text=text, hertz=[*map(float, middles)])
            loss = -20 * numpy.log10(abs(read.s[:, 1, 0]))
            for found, expected in zip(answer["frequencies"], read.f):
                worst.hold(found, expected, 1e-9 * expected, form)
            for found, s in zip(answer["points"], read.s):
                for one, other in zip(found, flat(s)):
                    worst.hold(one, other, 1e-9, form)
            for key, curve in (("loss", loss), ("input", abs(read.s[:, 0, 0])), ("output", abs(read.s[:, 1, 1]))):
                for found, expected in zip(answer[key], numpy.interp(middles, read.f, curve)):
                    worst.hold(found, expected, 1e-7, key)
    return worst


def cascades(ours):
    """300 rows of up to six random two-ports, neither matched nor the same in both directions: scikit-rf"""
    chosen, worst = numpy.random.default_rng(31), Worst()
    for _ in range(300):
        parts = [passive(chosen, 1) for _ in range(chosen.integers(2, 7))]
        for part in parts:
            part[:, 0, 1] *= chosen.uniform(0.3, 1) * numpy.exp(1j * chosen.uniform(0, 6.28))
        expected = skrf.network.cascade_list([network(part, [1e9]) for part in parts])
        answer = ours("cascade", parts=[flat(part[0]) for part in parts])
        for found, other in zip(answer["parameters"], flat(expected.s[0])):
            worst.hold(found, other, 1e-10)
    return worst


def mismatches(ours):
    """Limits of mismatch, directly and through an attenuator, 40 pairs turned through all phases: scikit-rf"""
    chosen, worst = numpy.random.default_rng(32), Worst()
    phases = numpy.linspace(0, 2 * numpy.pi, 721)
    zero = numpy.zeros_like(phases)
    for number in range(40):
        one, other = (float(size) for size in chosen.uniform(0.02, 0.8, 2))
        loss = float(chosen.uniform(0, 10)) if number % 2 else 0.0
        across = numpy.full_like(phases, 10 ** (-loss / 20)) * numpy.exp(0.5j * phases)
        ports = lambda s11, s22, s21: network(
            numpy.stack([numpy.stack([s11, s21], -1), numpy.stack([s21, s22], -1)], -2), 1e9 + phases
        )
        left = ports(zero, zero + one, zero + 0.5)
        right = ports(zero + other, zero, zero + 0.5)
        whole = left ** ports(zero, zero, across) ** right
        gained = 20 * numpy.log10(abs(whole.s[:, 1, 0])) - 20 * numpy.log10(0.25) + loss
        answer = ours("mismatch", one=one, other=other, loss=loss)
        # The transmission is divided by the sum of one and the echo, so the limits change places.
        worst.hold(-answer["below"], gained.max(), 1e-3)
        worst.hold(-answer["above"], gained.min(), 1e-3)
        # The form of ETSI TR 100 028, linear with a rounded factor: it follows the exact figure for small echoes.
        if one * other < 0.1:
            worst.hold(answer["standard"], gained[:-1].std(), 0.01 * answer["standard"])
    return worst


def tables(ours):
    """Loss tables, 100 random ones: numpy.interp, and nothing beyond them"""
    chosen, worst = numpy.random.default_rng(33), Worst()
    for _ in range(100):
        hertz = numpy.sort(chosen.uniform(1e6, 6e9, chosen.integers(2, 30)))
        loss = chosen.uniform(0, 80, len(hertz))
        at = chosen.uniform(hertz[0], hertz[-1], 20)
        answer = ours("table", hertz=[*map(float, hertz)], loss=[*map(float, loss)], at=[*map(float, at), 0.5e6, 7e9])
        for found, expected in zip(answer["loss"], numpy.interp(at, hertz, loss)):
            worst.hold(found, expected, 1e-9)
        assert answer["loss"][-2:] == [None, None]
    return worst


CHECKS = [files, cascades, mismatches, tables]
