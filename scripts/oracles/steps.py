"""What steps of the attenuator leave open, against a grid of all own products."""

import numpy

from asking import Worst

RATIOS = numpy.concatenate([numpy.linspace(0, 3, 1501), numpy.geomspace(3, 300, 400)])[:, None]
PHASES = numpy.linspace(0, numpy.pi, 1001)[None, :]


def read(order, attenuation):
    """A line of 0 dBm with every product of the grid."""
    product = RATIOS * 10 ** (-(order - 1) * attenuation / 20)
    power = 1 + product**2 + 2 * product * numpy.cos(PHASES)
    return 10 * numpy.log10(numpy.maximum(power, 1e-30))


def ranges(ours):
    """The range of a line by its steps, 40 random lines: it holds every grid point that explains them, and numpy's ends"""
    chosen, worst, open_below = numpy.random.default_rng(20), Worst(), 0
    for _ in range(40):
        order, count = int(chosen.integers(2, 5)), int(chosen.integers(2, 5))
        ratio, phase = chosen.uniform(0, 2), chosen.uniform(0, numpy.pi)
        within = float(chosen.uniform(0.15, 0.5))
        attenuations = [float(5 * step) for step in numpy.cumsum(chosen.integers(1, 3, count))]
        least, most, readings = -numpy.inf, numpy.inf, []
        for attenuation in attenuations:
            # The grid has the least attenuation at 0 dB.
            added = attenuation - attenuations[0]
            product = ratio * 10 ** (-(order - 1) * added / 20)
            level = 10 * numpy.log10(1 + product**2 + 2 * product * numpy.cos(phase)) + chosen.uniform(-within, within)
            readings.append({"attenuation": attenuation, "level": float(level) - 50, "within": within})
            offset = level - read(order, added)
            least, most = numpy.maximum(least, offset - within), numpy.minimum(most, offset + within)
        allowed = least <= most
        low, high = least[allowed].min() - 50, most[allowed].max() - 50
        answer = ours("steps", order=order, readings=readings)
        assert answer["highest"] >= high - 1e-9 and answer["highest"] >= -50, (answer, high)
        worst.hold(answer["highest"], high, 0.05, f"{readings}")
        if answer["lowest"] is None:
            open_below += 1
        else:
            assert answer["lowest"] <= low + 1e-9 and answer["lowest"] <= -50, (answer, low)
            # The grid is coarse where the product is all but the whole of a reading.
            if low > -60:
                worst.hold(answer["lowest"], low, 0.1, f"{readings}")
    return f"{worst}; {open_below} without a lower end"


def errors(ours):
    """The worst error of a reading that kept still, 36 cases of orders, steps and moves: a grid up to a ratio of 3"""
    worst = Worst()
    for order in (2, 3, 5):
        for attenuations in ([0.0, 10.0], [0.0, 10.0, 20.0], [0.0, 5.0, 10.0]):
            for moved in (0.1, 0.3, 0.5, 1.0):
                levels = [read(order, attenuation)[:1501] for attenuation in attenuations]
                still = numpy.all([abs(b - a) <= moved for a, b in zip(levels, levels[1:])], axis=0)
                error = levels[-1][still]
                answer = ours("steps", order=order, attenuations=attenuations, moved=moved)
                allowed = 0.02 + 0.01 * abs(error.min())
                assert answer["low"] <= error.min() + 1e-9 and answer["high"] >= error.max() - 1e-9
                worst.hold(answer["low"], error.min(), allowed, f"{order}, {attenuations}, {moved}")
                worst.hold(answer["high"], error.max(), allowed, f"{order}, {attenuations}, {moved}")
    return worst


CHECKS = [ranges, errors]
