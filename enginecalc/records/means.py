"""From the readings of a dimension at one place to its size, its doubt and where it comes from."""

import functools
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import pint

from enginecalc.measured import reference_size
from enginecalc.units import Q, read, to_si, ureg

_DEGC = ureg.Unit("degC")


@dataclass(frozen=True)
class Mean:
    """What the readings of one dimension at one place come to, at 20 °C.

    `u` is its standard uncertainty: repeats and finest digit, not the spread from spot to spot,
    which is form. `spots` is {(direction, height, angle): mean of the repeats there in SI}.
    """

    value: pint.Quantity
    u: pint.Quantity
    count: int
    date: str
    spots: dict
    lines: tuple  # in the ledger


def mean_of(found, expansion):
    """Return the `Mean` of the ledger's rows of one dimension at one place."""
    spots = defaultdict(list)
    resolutions = []
    for row in found:
        size = to_si(read(f"{row['value']} {row['unit']}"))
        if expansion is not None and row["temperature"]:
            size = reference_size.kernel(
                size, expansion=expansion, temperature=read(row["temperature"]).m_as(_DEGC)
            )
        spots[row["direction"], row["height"], row["angle"]].append(size)
        if row["resolution"]:
            resolutions.append(to_si(read(row["resolution"])))
    middles = {spot: float(np.mean(sizes)) for spot, sizes in spots.items()}
    spread = [np.subtract(sizes, middles[spot]) for spot, sizes in spots.items()]
    free = len(found) - len(spots)
    scatter = np.sum(np.concatenate(spread) ** 2) / free if free else 0.0
    u = np.sqrt(scatter / len(found) + max(resolutions, default=0.0) ** 2 / 12)
    unit, scale = _unit_of(found[0]["unit"])
    return Mean(
        Q(float(np.mean(list(middles.values()))) / scale, unit),
        Q(float(u) / scale, unit),
        len(found),
        max(row["time"] for row in found)[:10],
        middles,
        tuple(row["line"] for row in found),
    )


@functools.cache
def _unit_of(text):
    """Return a unit and its size in SI."""
    one = read(f"1 {text}")
    return one.units, to_si(one)


def text_of(value, u, unit):
    """Return a figure as one would type it, its uncertainty as limits of equal likelihood."""
    scale = to_si(Q(1.0, unit))
    text = f"{value / scale:.6f}".rstrip("0")
    wide = f" ± {u * np.sqrt(3) / scale:.6f}" if u > 0 else ""
    return f"{text}{'0' if text.endswith('.') else ''}{wide} {unit:~P}"


def where_from(found):
    """Return how many readings there are in means, and the date of the newest."""
    count = sum(each.count for each in found)
    readings = "reading" if count == 1 else "readings"
    return f"{count} {readings}, {max(each.date for each in found)}"
