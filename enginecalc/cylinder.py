"""Volumes, deck and compression ratio of one cylinder.

Deck clearance is + with the piston below the deck. `dish_volume` is + for a dish or reliefs
(adds volume) and - for a dome. The gasket's bore is not the cylinder's. In the formulas B is the
bore, S the stroke, s the piston's position below true top dead center.
"""

import numpy as np

from enginecalc.crank import must_turn, piston_position, tdc_angle
from enginecalc.units import Q, above_zero, each_of, quantities  # noqa: F401 (Q: examples)

_RUNNING = {"bore": "m", "stroke": "m", "rod_length": "m", "pin_offset": "m"}
_TURNS = each_of(above_zero("bore", "clearance_volume"), must_turn)


def _disc(diameter):
    """Return the area of a disc."""
    return np.pi / 4 * diameter * diameter


@quantities(returns="m**3", refuse=above_zero("bore", "stroke"), bore="m", stroke="m")
def swept_volume(bore, stroke):
    """Return the volume one piston sweeps.

    Parameters
    ----------
    bore, stroke : float or array
        Bore, and the piston's travel: with an offset pin the true stroke. [m]

    Returns
    -------
    float or array
        Swept volume of one cylinder. [m**3]

    Notes
    -----
    pi / 4 B^2 S.

    Sources
    -------
    [mathur_sharma] Example 1.1, p. 3.

    Examples
    --------
    >>> print(f"{swept_volume(Q(4.11, 'inch'), Q(3.64, 'inch')).to('cm**3'):.3f~P}")
    791.364 cm³
    """
    return _disc(bore) * stroke


@quantities(returns="m**3", refuse=above_zero("bore", "stroke", "cylinders"), bore="m", stroke="m")
def displacement(bore, stroke, cylinders):
    """Return the volume all pistons sweep.

    Parameters
    ----------
    bore, stroke : float or array
        As in `swept_volume`. [m]
    cylinders : int
        How many.

    Returns
    -------
    float or array
        Displacement of the engine. [m**3]

    Sources
    -------
    [mathur_sharma] Example 1.1, p. 3.
    """
    return _disc(bore) * stroke * cylinders


@quantities(
    returns="m**3",
    refuse=above_zero("gasket_bore", "gasket_thickness"),
    gasket_bore="m",
    gasket_thickness="m",
)
def gasket_volume(gasket_bore, gasket_thickness):
    """Return the volume inside the head gasket's opening.

    Parameters
    ----------
    gasket_bore : float or array
        Diameter of the opening, taken as round. [m]
    gasket_thickness : float or array
        As compressed. [m]

    Returns
    -------
    float or array
        Volume. [m**3]
    """
    return _disc(gasket_bore) * gasket_thickness


@quantities(
    returns="m",
    refuse=must_turn,
    block_deck_height="m",
    stroke="m",
    rod_length="m",
    compression_height="m",
    pin_offset="m",
)
def deck_clearance(block_deck_height, stroke, rod_length, compression_height, pin_offset=0.0):
    """Return how far the piston's flat stands below the deck at true top dead center.

    Parameters
    ----------
    block_deck_height : float or array
        Crank center line to deck, along the bore. [m]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    compression_height : float or array
        Pin axis to the piston's flat. [m]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        + below the deck, - above it. [m]

    Notes
    -----
    H - (sqrt((L + r)^2 - e^2) + CH).
    """
    top = np.sqrt((rod_length + stroke / 2) ** 2 - pin_offset**2)
    return block_deck_height - top - compression_height


@quantities(
    returns="m",
    refuse=above_zero("gasket_thickness"),
    deck_clearance="m",
    gasket_thickness="m",
)
def quench_distance(deck_clearance, gasket_thickness):
    """Return the gap between the piston's flat and the head's at top dead center, cold, at rest.

    Parameters
    ----------
    deck_clearance : float or array
        + below the deck. [m]
    gasket_thickness : float or array
        As compressed. [m]

    Returns
    -------
    float or array
        Gap; zero or less means that the piston meets the head. [m]
    """
    return deck_clearance + gasket_thickness


@quantities(
    returns="m**3",
    refuse=above_zero("bore", "gasket_bore", "gasket_thickness"),
    bore="m",
    deck_clearance="m",
    chamber_volume="m**3",
    dish_volume="m**3",
    gasket_bore="m",
    gasket_thickness="m",
    crevice_volume="m**3",
)
def clearance_volume(
    bore,
    deck_clearance,
    chamber_volume,
    dish_volume,
    gasket_bore,
    gasket_thickness,
    crevice_volume=0.0,
):
    """Return all the volume over the piston at true top dead center.

    Parameters
    ----------
    bore, deck_clearance : float or array
        Bore, and deck clearance, + below the deck. [m]
    chamber_volume : float or array
        In the head, valves and plug in. [m**3]
    dish_volume : float or array
        Of the piston's crown: + dish or reliefs, - dome. [m**3]
    gasket_bore, gasket_thickness : float or array
        Opening, and thickness as compressed. [m]
    crevice_volume : float or array
        Above the top ring, outside the crown; 0 when not given. [m**3]

    Returns
    -------
    float or array
        Clearance volume; zero or less cannot be and says that a sign is wrong. [m**3]

    Notes
    -----
    chamber + dish + pi/4 Bg^2 tg + pi/4 B^2 h + crevice.
    """
    gasket = gasket_volume.kernel(gasket_bore, gasket_thickness)
    return chamber_volume + dish_volume + gasket + _disc(bore) * deck_clearance + crevice_volume


@quantities(
    returns="1",
    refuse=above_zero("swept_volume", "clearance_volume"),
    swept_volume="m**3",
    clearance_volume="m**3",
)
def compression_ratio(swept_volume, clearance_volume):
    """Return the geometric compression ratio.

    Parameters
    ----------
    swept_volume, clearance_volume : float or array
        Of one cylinder. [m**3]

    Returns
    -------
    float or array
        Compression ratio. [1]

    Notes
    -----
    1 + swept volume / clearance volume.

    Sources
    -------
    [solberg_heat] Example 3.2, p. 132.

    Examples
    --------
    >>> print(f"{compression_ratio(Q(500, 'cc'), Q(50, 'cc')):.1f~P}")
    11.0
    """
    return 1 + swept_volume / clearance_volume


@quantities(returns="m**3", refuse=_TURNS, crank_angle="rad", clearance_volume="m**3", **_RUNNING)
def cylinder_volume(crank_angle, bore, stroke, rod_length, clearance_volume, pin_offset=0.0):
    """Return the volume over the piston at a crank angle.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    bore, stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    clearance_volume : float or array
        Of one cylinder. [m**3]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Volume. [m**3]

    Notes
    -----
    clearance volume + pi/4 B^2 s.

    Sources
    -------
    [pulkrabek_ice] Example 2-1 (recalled).
    """
    depth = piston_position.kernel(crank_angle, stroke, rod_length, pin_offset)
    return clearance_volume + _disc(bore) * depth


@quantities(returns="1", refuse=_TURNS, clearance_volume="m**3", intake_closing="rad", **_RUNNING)
def effective_compression_ratio(
    bore, stroke, rod_length, clearance_volume, intake_closing, pin_offset=0.0
):
    """Return the ratio from where the intake valve shuts; a comparison, not a measured pressure.

    Parameters
    ----------
    bore, stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    clearance_volume : float or array
        Of one cylinder. [m**3]
    intake_closing : float or array
        Crank angle after bottom dead center, which here is half a turn after true top dead
        center; state the lift it is meant at. [rad]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Volume when the intake valve shuts over clearance volume. [1]
    """
    shut = tdc_angle.kernel(stroke, rod_length, pin_offset) + np.pi + intake_closing
    volume = cylinder_volume.kernel(shut, bore, stroke, rod_length, clearance_volume, pin_offset)
    return volume / clearance_volume


@quantities(
    returns="m**3",
    refuse=above_zero("bore", "depth"),
    bore="m",
    depth="m",
    fluid_volume="m**3",
)
def dish_volume_from_fill(bore, depth, fluid_volume):
    """Return a crown's volume from the fluid it takes to fill the bore above it.

    Parameters
    ----------
    bore, depth : float or array
        Bore, and how far the piston's flat is held below the deck. [m]
    fluid_volume : float or array
        Poured in to fill the bore level with the deck. [m**3]

    Returns
    -------
    float or array
        + dish or reliefs, - dome. [m**3]

    Notes
    -----
    fluid - pi/4 B^2 depth.
    """
    return fluid_volume - _disc(bore) * depth
