"""From the readings of a dimension at one place to its size, its doubt and where it comes from."""

import functools
import math
from collections import defaultdict
from dataclasses import dataclass
from statistics import fmean

import pint

from enginecalc.measured import reference_size
from enginecalc.records.ledger_rows import short_name
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


def size_of(row, expansion):
    """Return the size in a row of the ledger in SI, at 20 °C where its material is known."""
    size = to_si(read(f"{row['value']} {row['unit']}"))
    if expansion is None or not row["temperature"]:
        return size
    return reference_size.kernel(size, expansion, _celsius(row["temperature"]))


@functools.cache
def _celsius(text):
    return read(text).m_as(_DEGC)


def mean_of(found, expansion):
    """Return the `Mean` of the ledger's rows of one dimension at one place."""
    spots = defaultdict(list)
    for row in found:
        spots[row["direction"], row["height"], row["angle"]].append(size_of(row, expansion))
    middles = {spot: fmean(sizes) for spot, sizes in spots.items()}
    squares = sum((size - middles[spot]) ** 2 for spot, sizes in spots.items() for size in sizes)
    free = len(found) - len(spots)
    scatter = squares / free if free else 0.0
    steps = {row["resolution"] for row in found} - {""}
    coarsest = max((to_si(read(text)) for text in steps), default=0.0)
    u = math.sqrt(scatter / len(found) + coarsest**2 / 12)
    unit = read(f"1 {found[0]['unit']}").units
    scale, _ = _written(unit)
    return Mean(
        Q(fmean(middles.values()) / scale, unit),
        Q(u / scale, unit),
        len(found),
        max(row["time"] for row in found)[:10],
        middles,
        tuple(row["line"] for row in found),
    )


@functools.cache
def _written(unit):
    """Return a unit's size in SI, and its short name."""
    return to_si(Q(1.0, unit)), short_name(unit)


def text_of(value, u, unit):
    """Return a figure as one would type it, its uncertainty as limits of equal likelihood."""
    scale, name = _written(unit)
    text = f"{value / scale:.6f}".rstrip("0")
    wide = f" ± {u * math.sqrt(3) / scale:.6f}" if u > 0 else ""
    return f"{text}{'0' if text.endswith('.') else ''}{wide} {name}"


def where_from(found):
    """Return how many readings there are in means, and the date of the newest."""
    count = sum(each.count for each in found)
    readings = "reading" if count == 1 else "readings"
    return f"{count} {readings}, {max(each.date for each in found)}"
