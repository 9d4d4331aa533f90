"""Below a piston's rings: metal over the pin, skirt out of the bore, room to the counterweight.

Frame and angles are those of `enginecalc.envelope`.
"""

import numpy as np

from enginecalc.crank import can_turn, linkage, must_turn
from enginecalc.envelope import CRANK, to_segment
from enginecalc.units import quantities


@quantities(
    returns="m",
    refuse=must_turn,
    crank_angle="rad",
    skirt_x="m",
    skirt_below_pin="m",
    counterweight_radius="m",
    counterweight_angle="rad",
    **CRANK,
)
def counterweight_to_skirt(
    crank_angle,
    skirt_x,
    skirt_below_pin,
    counterweight_radius,
    counterweight_angle,
    stroke,
    rod_length,
    pin_offset=0.0,
):
    """Return the gap from a point of the piston's lower edge to the counterweight.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    skirt_x : float or array
        The point in the cylinder's own frame. [m]
    skirt_below_pin : float or array
        How far the skirt or boss reaches below the piston pin. [m]
    counterweight_radius : float or array
        Crank's center to the weight's rim. [m]
    counterweight_angle : float or array
        Of the whole sector, its middle opposite the crank pin. [rad]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Gap. [m]

    Notes
    -----
    Within the sector the distance from the crank's center less the radius; beside it the distance
    from the nearer edge. Straight above, at the bottom: rod - throw - skirt below pin - radius.
    """
    throw, _, cos, _, rise = linkage(crank_angle, stroke, rod_length, pin_offset)
    height = throw * cos + rise - skirt_below_pin
    half = counterweight_angle / 2
    away = np.mod(np.arctan2(skirt_x, height) - crank_angle, 2 * np.pi) - np.pi
    edges = [crank_angle + np.pi + side * half for side in (-1, 1)]
    beside = [
        to_segment(
            skirt_x,
            height,
            0.0,
            0.0,
            counterweight_radius * np.sin(edge),
            counterweight_radius * np.cos(edge),
        )[0]
        for edge in edges
    ]
    over = np.hypot(skirt_x, height) - counterweight_radius
    return np.where(np.abs(away) <= half, over, np.minimum(*beside))


@quantities(returns="m", compression_height="m", ring_pack="m", pin_diameter="m")
def pin_to_oil_groove(compression_height, ring_pack, pin_diameter):
    """Return what is left of the piston between its pin bore and its oil ring's groove.

    Parameters
    ----------
    compression_height, ring_pack, pin_diameter : float or array
        Pin axis to crown, crown to the groove's lower edge, and the pin. [m]

    Returns
    -------
    float or array
        Height of metal; - where the pin cuts the groove, which then needs a support rail. [m]

    Notes
    -----
    compression_height - ring_pack - pin_diameter / 2.
    """
    return compression_height - ring_pack - pin_diameter / 2


@quantities(returns="m", refuse=must_turn, bore_bottom="m", skirt_below_pin="m", **CRANK)
def skirt_below_bore(bore_bottom, skirt_below_pin, stroke, rod_length, pin_offset=0.0):
    """Return how far the skirt hangs out of its bore at bottom dead center.

    Parameters
    ----------
    bore_bottom : float or array
        Crank's center to the lower edge of the bore. [m]
    skirt_below_pin : float or array
        How far the skirt reaches below the piston pin. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Overhang, - while the skirt stays inside. [m]

    Notes
    -----
    bore_bottom - (sqrt((L - r)^2 - e^2) - skirt_below_pin).
    """
    folded = np.where(can_turn(stroke, rod_length, pin_offset), rod_length - stroke / 2, np.nan)
    lowest = np.sqrt(folded**2 - pin_offset**2)
    return bore_bottom - lowest + skirt_below_pin
