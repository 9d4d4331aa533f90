"""The decks as measured: where each piston stands at its top, and the plane of each bank."""

from dataclasses import dataclass

import numpy as np

from enginecalc import deck
from enginecalc.records.places import places_of
from enginecalc.units import Q, to_si


@dataclass(frozen=True)
class DeckReading:
    """Where a piston stands at its top: mean on the pin axis, slope along the crank, rock."""

    cylinder: object
    clearance: object
    slope: object  # front less rear
    rock: object
    off: bool  # farther from its bank's line than three times the doubt of the readings


def deck_readings(build):
    """Return the list of `DeckReading` of every cylinder read at true top dead center.

    A straight line along each bank shows a sloped deck; `off` are the cylinders that lie beside
    it by more than three standard uncertainties, and at least two finest digits.
    """
    made = []
    for numbers in build.engine.layout.by_bank().values():
        read = [(at, number, build.mean("piston", "below deck", number))
                for at, number in enumerate(numbers)]  # fmt: skip
        read = [each for each in read if each[2] is not None]
        heights = np.array([_on_axis(mean) for _, _, mean in read])
        places = np.array([at for at, _, _ in read])
        left = heights - np.median(heights) if len(read) else heights
        if len(read) > 2:
            left = heights - _robust_line(places, heights)
        for (_, number, mean), height, beside in zip(read, heights, left, strict=True):
            spots = {end: size for (end, *_), size in mean.spots.items()}
            unit = mean.value.units
            doubt = 3 * np.sqrt(2) * to_si(mean.u)
            made.append(
                DeckReading(
                    number,
                    Q(float(height), "m").to(unit),
                    _pair(spots, "front", "rear", lambda a, b: a - b, unit),
                    _pair(spots, "major thrust", "minor thrust", deck.piston_rock.kernel, unit),
                    bool(len(read) > 2 and abs(beside) > max(doubt, 1e-9)),
                )
            )
    return made


@dataclass(frozen=True)
class BankPlane:
    """The plane through the corners of a bank's deck, from the crank's center line.

    `along` is how much higher the rear end stands than the front, `across` the outer edge than the
    inner; `twist` how far a corner stands off the plane. Quantities in the readings' unit.
    """

    place: str
    along: object
    across: object
    twist: object


def bank_planes(build):
    """Return the list of `BankPlane` of every bank of which three corners or more were read."""
    made = []
    for place in places_of(build.engine.layout, "bank"):
        mean = build.mean("deck", "height", place)
        corners = {} if mean is None else mean.spots
        read = [(float(end == "rear"), float(side == "outer"), size)
                for (side, end, _), size in corners.items()]  # fmt: skip
        if len(read) < 3 or not {0.0, 1.0} == {row[0] for row in read} == {row[1] for row in read}:
            continue
        plane = tuple(np.array(column) for column in zip(*read, strict=True))
        sizes = (
            deck.plane_slope_along.kernel(*plane),
            deck.plane_slope_across.kernel(*plane),
            np.max(np.abs(deck.plane_residuals.kernel(*plane))),
        )
        made.append(BankPlane(place, *(Q(float(each), "m").to(mean.value.units) for each in sizes)))
    return made


def _robust_line(places, heights):
    """Return the line through the medians of all pairs: one bad cylinder does not tilt it."""
    slopes = [
        (heights[j] - heights[i]) / (places[j] - places[i])
        for i in range(len(places))
        for j in range(i + 1, len(places))
    ]
    slope = np.median(slopes)
    return slope * places + np.median(heights - slope * places)


def _on_axis(mean):
    spots = {end: size for (end, *_), size in mean.spots.items()}
    ends = [spots[end] for end in ("front", "rear") if end in spots]
    if len(ends) == 2:
        return deck.mean_deck_clearance.kernel(*ends)
    return ends[0] if ends else to_si(mean.value)


def _pair(spots, one, other, of, unit):
    if one not in spots or other not in spots:
        return None
    return Q(float(of(spots[one], spots[other])), "m").to(unit)
