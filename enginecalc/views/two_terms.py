"""Where the usual two-term formulas of piston motion fail, against the exact ones."""

import numpy as np

from enginecalc import crank
from enginecalc.views.derivation import Prose

_ANGLES = (30, 60, 90, 120, 150, 180)
_RATIOS = (2.5, 3.3, 4.0)  # rod over crank radius
_CLOSE_TO_FOUR = 3.9  # here two terms draw a dip at the bottom that is not there


def two_term_failures():
    """Return tables of exact motion against the two-term formulas, as text for a notebook."""
    said = ""
    for ratio in _RATIOS:
        heads = ["after TDC", "velocity", "two terms", "acceleration", "two terms"]
        rows = [[f"{angle}°", *_pairs(np.radians(angle), ratio)] for angle in _ANGLES]
        said += f"**L/r {ratio:g}, in parts of r ω and r ω²**\n\n" + _table(heads, rows)
    places = {f"{ratio:g}": [*_places(ratio)] for ratio in sorted({*_RATIOS, _CLOSE_TO_FOUR})}
    peaks = [[ratio, *cells[:3]] for ratio, cells in places.items()]
    dents = [[ratio, *cells[3:]] for ratio, cells in places.items()]
    said += "**where the piston is fastest**\n\n"
    said += _table(["L/r", "exact", "two terms", "off by"], peaks)
    said += "**how hard it is turned round at the bottom, and hardest below the middle**\n\n"
    return Prose(said + _table(["L/r", "bottom", "hardest", "two terms"], dents))


def two_terms(angle, ratio):
    """Return velocity and acceleration by the usual formulas, in parts of r w and r w^2."""
    velocity = np.sin(angle) + np.sin(2 * angle) / (2 * ratio)
    return velocity, np.cos(angle) + np.cos(2 * angle) / ratio


def _exact(angle, ratio):
    return crank.motion(angle, 2.0, ratio, 1.0)[1:]


def _pairs(angle, ratio):
    """Return velocity, then acceleration, each exact and with two terms."""
    for exact, usual in zip(_exact(angle, ratio), two_terms(angle, ratio), strict=True):
        yield from (f"{exact:.4f}", f"{usual:.4f}")


def _places(ratio):
    """Return where the speed peaks and how the piston turns at the bottom, both ways."""
    fine = np.radians(np.linspace(0, 180, 180_001))
    peak = np.degrees(crank.peak_speed_angle.kernel(2.0, ratio))
    usual = np.degrees(fine[np.argmax(two_terms(fine, ratio)[0])])
    yield from (f"{peak:.2f}°", f"{usual:.2f}°", f"{usual - peak:+.2f}°")
    both = [each(fine, ratio)[1] for each in (_exact, two_terms)]
    yield f"{both[0][-1]:.4f}"
    for each in both:
        yield f"{each.min():.4f} at {np.degrees(fine[np.argmin(each)]):.1f}°"


def _table(heads, rows):
    """Return a Markdown table."""
    lines = [heads, ["--:"] * len(heads), *rows]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines) + "\n"
