"""Tests of shifts, against scipy and statsmodels."""

import numpy
from scipy import integrate, stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.power import TTestIndPower

from asking import Worst


def welch(ours):
    """Welch's test of 200 random pairs of samples: scipy.stats.ttest_ind"""
    chosen, worst = numpy.random.default_rng(20), Worst()
    for _ in range(200):
        before = chosen.normal(37, 0.03, int(chosen.integers(2, 12)))
        after = chosen.normal(37 + float(chosen.normal(0, 0.05)), 0.05, int(chosen.integers(2, 12)))
        answer = ours("welch", before=list(before), after=list(after), within=0.95)
        expected = stats.ttest_ind(before, after, equal_var=False)
        low, high = expected.confidence_interval(0.95)
        worst.hold(answer["t"], expected.statistic, 1e-9 * (1 + abs(expected.statistic)))
        worst.hold(answer["freedom"], expected.df, 1e-8 * expected.df)
        worst.hold(answer["p"], expected.pvalue, 1e-9)
        # Ours is the later less the earlier.
        worst.hold(answer["interval"][0], -high, 1e-8)
        worst.hold(answer["interval"][1], -low, 1e-8)
    return worst


def powers(ours):
    """Powers of 100 random tests: scipy.integrate over scipy.stats.chi; smallest shifts: statsmodels TTestIndPower"""
    chosen, worst = numpy.random.default_rng(21), Worst()
    for _ in range(100):
        shift, freedom = float(chosen.uniform(0, 6)), float(10 ** chosen.uniform(0.3, 2))
        risk = float(10 ** chosen.uniform(-3, -1))
        answer = ours("power", shift=shift, freedom=freedom, risk=risk)
        critical = stats.t.ppf(1 - risk / 2, freedom)
        # scipy.stats.nct has no number for some of these.
        root = freedom**0.5

        def called(at):
            outside = stats.norm.sf(critical * at - shift) + stats.norm.cdf(-critical * at - shift)
            return stats.chi.pdf(at * root, freedom) * root * outside

        most = 1 + 14 * (0.5 / freedom) ** 0.5
        near = [0.05, 0.2, 0.5, 1]
        expected = integrate.quad(called, 0, most, epsabs=1e-11, epsrel=1e-11, limit=400, points=near)[0]
        worst.hold(answer["power"], expected, 1e-6, f"{shift}, {freedom}, {risk}")
    for count in range(3, 31):
        answer = ours("power", shift=1, freedom=2 * count - 2, risk=0.05)
        expected = TTestIndPower().solve_power(nobs1=count, alpha=0.05, power=0.9)
        worst.hold(answer["detectable"] * (2 / count) ** 0.5, expected, 1e-4, f"{count} repeats")
    return worst


def steps(ours):
    """Holm's steps over 200 random lists of chances: statsmodels multipletests"""
    chosen, count = numpy.random.default_rng(22), 0
    for _ in range(200):
        chances = chosen.beta(0.3, 3, int(chosen.integers(1, 40)))
        expected = multipletests(chances, 0.05, method="holm")[0]
        assert ours("holm", chances=list(chances), risk=0.05)["called"] == list(expected), list(chances)
        count += len(chances)
    return f"{count} chances, all alike"


CHECKS = [welch, powers, steps]
