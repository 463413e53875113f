"""Probabilities of decisions, and quantiles, against scipy."""

import math

import numpy
from scipy import integrate, stats

from asking import Worst


def decisions(ours):
    """Verdicts and probabilities of 500 random readings under guard bands: scipy.stats.norm"""
    chosen, worst = numpy.random.default_rng(10), Worst()
    for _ in range(500):
        limit = float(chosen.uniform(-60, 0))
        expanded = float(chosen.uniform(0.05, 5))
        level = limit + float(chosen.normal(0, 1.5)) * expanded
        factor = float(chosen.choice([0.83, 1.0, 1.5, 3.0]))
        answer = ours("decision", level=level, limit=limit, expanded=expanded, factor=factor)
        expected = stats.norm.cdf(limit, level, expanded / 2)
        worst.hold(answer["probability"], expected, 1e-12 + 1e-9 * expected)
        # The rule said in chances: the risk that the other verdict is right is at most that of 2 r standard deviations.
        risk = stats.norm.sf(2 * factor)
        wanted = "complies" if 1 - expected <= risk else "exceeds" if expected < risk else "undecided"
        near_edge = min(abs(1 - expected - risk), abs(expected - risk)) < 1e-9
        assert answer["verdict"] == wanted or near_edge, (answer, expected, risk)
    return worst


def skewed(ours):
    """Probabilities of readings with one echo and a normal rest, 60 random ones: scipy.integrate over all phases"""
    chosen, worst = numpy.random.default_rng(11), Worst()
    for _ in range(60):
        product, rest = float(chosen.uniform(0.05, 0.7)), float(chosen.uniform(0.05, 1))
        margin = float(chosen.uniform(-3, 3))
        lines = [
            {"kind": "mismatch", "product": product, "value": 20 * math.log10(1 + product)},
            {"kind": "standard", "value": rest},
        ]
        answer = ours("decision", level=-30 - margin, limit=-30, factor=1.0, lines=lines)
        of_phase = lambda phase: stats.norm.cdf(
            (margin - 10 * math.log10(1 + product**2 + 2 * product * math.cos(phase))) / rest
        )
        expected = integrate.quad(of_phase, 0, math.pi, limit=200, epsabs=1e-10)[0] / math.pi
        worst.hold(answer["probability"], expected, 1e-3, f"{product}, {rest}, {margin}")
    return worst


def risks(ours):
    """Global risks of 60 random productions: scipy.integrate"""
    chosen, worst = numpy.random.default_rng(12), Worst()
    for number in range(60):
        mean, deviation = float(chosen.uniform(-1, 1)), float(chosen.uniform(0.2, 2))
        u, half, guard = float(chosen.uniform(0.01, 1)), float(chosen.uniform(0.5, 3)), float(chosen.uniform(-0.3, 0.4))
        lowest = -half if number % 3 else -math.inf
        accepted = (lowest + guard, half - guard)
        made = lambda x: stats.norm.pdf(x, mean, deviation)
        taken = lambda x: stats.norm.cdf(accepted[1], x, u) - stats.norm.cdf(accepted[0], x, u)
        least, most = mean - 10 * deviation, mean + 10 * deviation
        quad = lambda of, low, high: integrate.quad(
            of, low, high, limit=400, epsabs=1e-12, points=sorted({min(max(p, low), high) for p in accepted if math.isfinite(p)})
        )[0] if low < high else 0.0
        inside = (max(lowest, least), min(half, most))
        consumer = quad(lambda x: made(x) * taken(x), half, most)
        consumer += quad(lambda x: made(x) * taken(x), least, lowest) if math.isfinite(lowest) else 0.0
        producer = quad(lambda x: made(x) * (1 - taken(x)), *inside)
        question = {"mean": mean, "deviation": deviation, "uncertainty": u, "highest": half, "accepted to": accepted[1]}
        if math.isfinite(lowest):
            question |= {"lowest": lowest, "accepted from": accepted[0]}
        answer = ours("risk", **question)
        worst.hold(answer["consumer"], consumer, 1e-8)
        worst.hold(answer["producer"], producer, 1e-8)
    return worst


def quantiles(ours):
    """Quantiles of Student's t and of the normal distribution, 300 random ones: scipy.stats"""
    chosen, worst = numpy.random.default_rng(13), Worst()
    for number in range(300):
        p = float(10 ** chosen.uniform(-9, -0.31))
        p = p if number % 2 else 1 - p
        freedom = float(10 ** chosen.uniform(0, 3)) if number % 3 else float(chosen.integers(1, 61))
        answer = ours("quantile", p=p, freedom=freedom)
        expected = stats.t.ppf(p, freedom)
        worst.hold(answer["at"], expected, 1e-7 * abs(expected), f"t, {p}, {freedom}")
        expected = stats.norm.ppf(p)
        worst.hold(ours("quantile", p=p)["at"], expected, 1e-9 * abs(expected), f"normal, {p}")
    return worst


CHECKS = [decisions, skewed, risks, quantiles]
