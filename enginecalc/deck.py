"""The deck as read on the engine: each piston against it, the plane of a bank, and what to cut.

A piston's readings are deck clearances at true top dead center, + below the deck. Places on a
bank count `along` the crank and `across` the deck, from any one corner. The readings of a plane
are lists along the last axis: heights above the crank's center line, or clearances.
"""

import numpy as np

from enginecalc.fits import must_go_in
from enginecalc.measured import must_list, plane_slopes, spans_plane
from enginecalc.units import above_zero, quantities

_ENDS = {"front_deck": "m", "rear_deck": "m"}


@quantities(returns="m", **_ENDS)
def mean_deck_clearance(front_deck, rear_deck):
    """Return a piston's deck clearance from readings at its front and rear.

    Parameters
    ----------
    front_deck, rear_deck : float or array
        Read over the pin's axis, where the piston's rock does not show, one as far from the
        bore's center as the other. [m]

    Returns
    -------
    float or array
        At the center; slope along the crank is taken out. [m]

    Notes
    -----
    (front + rear) / 2.
    """
    return (front_deck + rear_deck) / 2


@quantities(returns="1", refuse=above_zero("span"), **_ENDS, span="m")
def deck_slope(front_deck, rear_deck, span):
    """Return how a piston's crown and the deck slope against one another along the crank.

    Parameters
    ----------
    front_deck, rear_deck : float or array
        As in `mean_deck_clearance`. [m]
    span : float or array
        From one place of reading to the other. [m]

    Returns
    -------
    float or array
        + with the front deeper. Alike on all cylinders it is the deck's, on one it is a bent
        rod's. [1]

    Notes
    -----
    (front - rear) / span.
    """
    return (front_deck - rear_deck) / span


@quantities(returns="m", major_deck="m", minor_deck="m")
def piston_rock(major_deck, minor_deck):
    """Return how far an edge of the crown rises as the piston rocks on its pin.

    Parameters
    ----------
    major_deck, minor_deck : float or array
        Deck clearances read at the two thrust edges, the piston rocked one way. [m]

    Returns
    -------
    float or array
        Above the crown's height on the pin's axis; a deck that leans across reads the same. [m]

    Notes
    -----
    Half the difference of the readings.
    """
    return abs(major_deck - minor_deck) / 2


_READINGS = must_list("read_along", "read_across", "deck_heights", least=3)


def _must_be_a_plane(title, read_along, read_across, deck_heights, **_):
    """Raise ValueError where the places of the readings do not span a plane; SI floats."""
    _READINGS(title, read_along=read_along, read_across=read_across, deck_heights=deck_heights)
    if not np.all(spans_plane(read_along, read_across)):
        raise ValueError(
            f"{title}: read_along and read_across must not lie in one line."
            " Read both long edges of the deck."
        )


_must_be_a_plane.when = f"{_READINGS.when}, or the places lie in one line"
_BANK = {"read_along": "m", "read_across": "m", "deck_heights": "m"}


@quantities(returns="m", refuse=_must_be_a_plane, along="m", across="m", **_BANK)
def plane_height(along, across, read_along, read_across, deck_heights):
    """Return the height of a bank's deck at a place, from the plane that fits its readings best.

    Parameters
    ----------
    along, across : float or array
        The place, such as a cylinder's center. [m]
    read_along, read_across, deck_heights : array
        Places of three or more readings, and what was read there. [m]

    Returns
    -------
    float or array
        Height. [m]

    Notes
    -----
    Least squares in the height: H = H0 + a x + b y.

    Sources
    -------
    [geometry] normal equations about the middle of the places.
    """
    slope_along, slope_across = plane_slopes(read_along, read_across, deck_heights)
    middle = [np.mean(each, axis=-1) for each in (read_along, read_across, deck_heights)]
    return middle[2] + slope_along * (along - middle[0]) + slope_across * (across - middle[1])


@quantities(returns="1", refuse=_must_be_a_plane, **_BANK)
def plane_slope_along(read_along, read_across, deck_heights):
    """Return the slope along the crank of the plane of `plane_height`.

    Parameters
    ----------
    read_along, read_across, deck_heights : array
        As in `plane_height`. [m]

    Returns
    -------
    float or array
        Height gained by length; times the bank's length it is one end against the other. [1]
    """
    return plane_slopes(read_along, read_across, deck_heights)[0]


@quantities(returns="1", refuse=_must_be_a_plane, **_BANK)
def plane_slope_across(read_along, read_across, deck_heights):
    """Return the slope across the bank of the plane of `plane_height`.

    Parameters
    ----------
    read_along, read_across, deck_heights : array
        As in `plane_height`. [m]

    Returns
    -------
    float or array
        Height gained by length. [1]
    """
    return plane_slopes(read_along, read_across, deck_heights)[1]


@quantities(returns="m", refuse=_must_be_a_plane, **_BANK)
def plane_residuals(read_along, read_across, deck_heights):
    """Return how far each reading lies over the plane of `plane_height`.

    Parameters
    ----------
    read_along, read_across, deck_heights : array
        As in `plane_height`. [m]

    Returns
    -------
    array
        - under the plane. Four corners of a twisted deck lie in turn over and under it. [m]
    """
    readings = [each[..., None, :] for each in (read_along, read_across, deck_heights)]
    return deck_heights - plane_height.kernel(read_along, read_across, *readings)


@quantities(
    returns="m",
    refuse=must_go_in(
        "block_deck_height",
        "wanted_deck_height",
        advice="The deck is too low already; metal only comes off.",
    ),
    block_deck_height="m",
    wanted_deck_height="m",
)
def deck_cut(block_deck_height, wanted_deck_height):
    """Return what to cut off a deck, corner by corner.

    Parameters
    ----------
    block_deck_height, wanted_deck_height : float or array
        Measured at each corner, and wanted. [m]

    Returns
    -------
    float or array
        Cut. [m]

    Notes
    -----
    measured - wanted.
    """
    return block_deck_height - wanted_deck_height
