"""The fillet between a journal and its cheek, and the chamfer that keeps a rod's edge off it.

Rods have a chamfer on one side only: on a rod turned round the square edge meets the fillet.
"""

import numpy as np

from enginecalc.units import above_zero, quantities


@quantities(
    returns="m",
    refuse=above_zero("fillet_radius"),
    fillet_radius="m",
    chamfer="m",
    side_gap="m",
    journal_gap="m",
)
def chamfer_to_fillet(fillet_radius, chamfer, side_gap=0.0, journal_gap=0.0):
    """Return the gap from a rod's edge to the fillet between its journal and the cheek.

    Parameters
    ----------
    fillet_radius : float or array
        Of the round between journal and cheek. [m]
    chamfer : float or array
        Each leg of a 45 degree chamfer on the rod; 0 for the square edge of a rod turned round. [m]
    side_gap, journal_gap : float or array
        From rod to cheek, and from bearing to journal; both may vanish, and are 0 when not
        given: the worst place. [m]

    Returns
    -------
    float or array
        Gap, - where the edge bites. [m]

    Notes
    -----
    The least of the two gaps and of R - sqrt((R - a)^2 + (R - b)^2) over the chamfer's corners
    (a, b) from cheek and journal; R - a and R - b count as 0 past the arc, which is a quarter of a
    circle about the point R from both.

    Sources
    -------
    [geometry] a point in a rounded corner.
    """
    corners = (side_gap, journal_gap + chamfer), (side_gap + chamfer, journal_gap)
    gap = np.minimum(side_gap, journal_gap)
    for a, b in corners:
        left = np.maximum(fillet_radius - a, 0.0), np.maximum(fillet_radius - b, 0.0)
        gap = np.minimum(gap, fillet_radius - np.hypot(*left))
    return gap


@quantities(
    returns="m",
    refuse=above_zero("fillet_radius"),
    fillet_radius="m",
    side_gap="m",
    journal_gap="m",
)
def least_chamfer(fillet_radius, side_gap=0.0, journal_gap=0.0):
    """Return the leg of the least 45 degree chamfer that clears the fillet.

    Parameters
    ----------
    fillet_radius : float or array
        Of the round between journal and cheek. [m]
    side_gap, journal_gap : float or array
        As in `chamfer_to_fillet`; with both 0 the leg is the fillet's radius. [m]

    Returns
    -------
    float or array
        Leg. [m]

    Notes
    -----
    The greater of R - g - sqrt(R^2 - (R - p)^2) and R - p - sqrt(R^2 - (R - g)^2), or 0; g beside
    the cheek, p over the journal.
    """
    legs = []
    for one, other in ((side_gap, journal_gap), (journal_gap, side_gap)):
        left = np.maximum(fillet_radius - other, 0.0)
        legs.append(fillet_radius - one - np.sqrt(fillet_radius**2 - left**2))
    return np.maximum(np.maximum(*legs), 0.0)
