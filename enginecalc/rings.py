"""Piston rings: the gap between their ends, cold and hot, and their play in the groove.

A gap is that of the ring square in its bore, where the bore is tightest along the ring's travel.
"""

import numpy as np

from enginecalc.fits import must_go_in
from enginecalc.units import Q, above_zero, quantities  # noqa: F401 (Q: examples)

_WARMED = above_zero("ring_end_gap", "bore", "bore_expansion", "ring_expansion")


@quantities(returns="m", refuse=above_zero("bore", "gap_factor"), bore="m", gap_factor="1")
def wanted_ring_gap(bore, gap_factor):
    """Return the end gap to give a ring.

    Parameters
    ----------
    bore : float or array
        At the tightest place of the ring's travel. [m]
    gap_factor : float or array
        Gap over bore, from the ring's maker. [1]

    Returns
    -------
    float or array
        End gap, cold. [m]

    Notes
    -----
    factor * bore.

    Examples
    --------
    >>> print(f"{wanted_ring_gap(Q(4.110, 'inch'), 0.0045).to('inch'):.4f~P}")
    0.0185 in
    """
    return gap_factor * bore


@quantities(returns="m", bore_change="m")
def ring_gap_change(bore_change):
    """Return how much wider a ring's gap gets in a larger bore.

    Parameters
    ----------
    bore_change : float or array
        New diameter less old. [m]

    Returns
    -------
    float or array
        New gap less old. [m]

    Notes
    -----
    pi * change of bore.

    Sources
    -------
    [geometry] circumference of the bore.
    [iso6621] the closed gap.
    """
    return np.pi * bore_change


@quantities(
    returns="m",
    refuse=must_go_in(
        "wanted_gap",
        "ring_end_gap",
        none=["ring_end_gap"],
        advice="The gap is too wide already: file nothing, take another ring.",
    ),
    wanted_gap="m",
    ring_end_gap="m",
)
def ring_filing(wanted_gap, ring_end_gap):
    """Return what to file off a ring's ends.

    Parameters
    ----------
    wanted_gap, ring_end_gap : float or array
        Gap wanted, and gap measured in the ring's own bore. [m]

    Returns
    -------
    float or array
        Off both ends together. [m]

    Notes
    -----
    wanted - measured.
    """
    return wanted_gap - ring_end_gap


@quantities(
    returns="m",
    refuse=_WARMED,
    ring_end_gap="m",
    bore="m",
    bore_expansion="1/K",
    bore_rise="delta_degC",
    ring_expansion="1/K",
    ring_rise="delta_degC",
)
def hot_ring_gap(ring_end_gap, bore, bore_expansion, bore_rise, ring_expansion, ring_rise):
    """Return what is left of a ring's end gap when ring and bore are warm.

    Parameters
    ----------
    ring_end_gap, bore : float or array
        Cold. [m]
    bore_expansion : float or array
        Coefficient of linear expansion of what makes the bore, block or sleeve. [1/K]
    bore_rise : float or array
        How much warmer the bore is than when the gap was measured. [delta_degC]
    ring_expansion : float or array
        Coefficient of linear expansion of the ring. [1/K]
    ring_rise : float or array
        How much warmer the ring is than then. [delta_degC]

    Returns
    -------
    float or array
        Zero or less: the ends butt. [m]

    Notes
    -----
    gap + pi B (alpha_bore rise_bore - alpha_ring rise_ring). The ring is taken as long as the
    whole circle: to the tight side, by gap * alpha_ring * rise_ring, about a micrometer.

    Sources
    -------
    [ring_forum_thread] growth along a ring.
    """
    return ring_end_gap + np.pi * bore * (bore_expansion * bore_rise - ring_expansion * ring_rise)


@quantities(
    returns="delta_degC",
    refuse=_WARMED,
    ring_end_gap="m",
    bore="m",
    bore_expansion="1/K",
    bore_rise="delta_degC",
    ring_expansion="1/K",
)
def butting_rise(ring_end_gap, bore, bore_expansion, bore_rise, ring_expansion):
    """Return how much warmer a ring can get before its ends butt.

    Parameters
    ----------
    ring_end_gap, bore : float or array
        As in `hot_ring_gap`. [m]
    bore_expansion : float or array
        As in `hot_ring_gap`. [1/K]
    bore_rise : float or array
        As in `hot_ring_gap`. [delta_degC]
    ring_expansion : float or array
        As in `hot_ring_gap`. [1/K]

    Returns
    -------
    float or array
        Rise of the ring's temperature since the gap was measured. [delta_degC]

    Notes
    -----
    (gap / (pi B) + alpha_bore rise_bore) / alpha_ring, where the hot gap is 0.
    """
    return (ring_end_gap / (np.pi * bore) + bore_expansion * bore_rise) / ring_expansion


@quantities(
    returns="m",
    refuse=must_go_in("groove_width", "ring_width", advice="Swapped, or the wrong ring?"),
    groove_width="m",
    ring_width="m",
)
def ring_side_clearance(groove_width, ring_width):
    """Return how far a ring can move up and down in its groove.

    Parameters
    ----------
    groove_width, ring_width : float or array
        Along the bore. [m]

    Returns
    -------
    float or array
        Both sides together. [m]

    Notes
    -----
    groove - ring.

    Sources
    -------
    [iso6621] axial clearance.
    """
    return groove_width - ring_width
