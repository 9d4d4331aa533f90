"""Forces of the moving parts, and what heat and speed leave of the quench.

Temperatures come as rises over the cold engine, so 0 degC never enters a formula.
"""

import numpy as np

from enginecalc.crank import (
    must_turn,
    peak_piston_acceleration,
    piston_acceleration,
    rod_tilt,
    tdc_angle,
)
from enginecalc.units import above_zero, each_of, first_wrong, quantities


@quantities(
    returns="N",
    refuse=each_of(above_zero("reciprocating_mass"), must_turn),
    crank_angle="rad",
    reciprocating_mass="kg",
    stroke="m",
    rod_length="m",
    engine_speed="rad/s",
    pin_offset="m",
)
def reciprocating_force(
    crank_angle, reciprocating_mass, stroke, rod_length, engine_speed, pin_offset=0.0
):
    """Return the inertia of the reciprocating parts as a force on the pin, + towards the crank.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    reciprocating_mass : float or array
        Piston, pin, rings, locks and the rod's small end. [kg]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Along the bore. Less than zero near the top, where the parts pull on the rod. [N]

    Notes
    -----
    -m a, a the piston's acceleration, + away from the head. Weight is left out.

    Sources
    -------
    [meriam_dynamics] Sample Problem 5/15, p. 376 (the acceleration).
    """
    acceleration = piston_acceleration.kernel(
        crank_angle, stroke, rod_length, engine_speed, pin_offset
    )
    return -reciprocating_mass * acceleration


@quantities(
    returns="N",
    refuse=each_of(above_zero("reciprocating_mass"), must_turn),
    reciprocating_mass="kg",
    stroke="m",
    rod_length="m",
    engine_speed="rad/s",
    pin_offset="m",
)
def greatest_inertia_force(reciprocating_mass, stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return the pull of the reciprocating parts on the rod at its greatest, near the top.

    Parameters
    ----------
    reciprocating_mass : float or array
        Piston, pin, rings, locks and the rod's small end. [kg]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Tension in the rod. [N]

    Notes
    -----
    Mass times the greatest acceleration; without offset m w^2 r (1 + r / L).
    """
    return reciprocating_mass * peak_piston_acceleration.kernel(
        stroke, rod_length, engine_speed, pin_offset
    )


@quantities(
    returns="m",
    refuse=above_zero("length", "area", "elastic_modulus"),
    force="N",
    length="m",
    area="m**2",
    elastic_modulus="Pa",
)
def elastic_stretch(force, length, area, elastic_modulus):
    """Return how much longer a bar of one section gets under a pull.

    Parameters
    ----------
    force : float or array
        Tension. [N]
    length : float or array
        Of the bar. [m]
    area : float or array
        Of its section. [m**2]
    elastic_modulus : float or array
        Of its material. [Pa]

    Returns
    -------
    float or array
        Stretch. [m]

    Notes
    -----
    F L / (A E), below the elastic limit.

    Sources
    -------
    [wentzell_design] Example 6.2, p. 121.
    """
    return force * length / (area * elastic_modulus)


@quantities(returns="m", length="m", expansion="1/K", temperature_rise="delta_degC")
def thermal_growth(length, expansion, temperature_rise):
    """Return how much longer a part gets when it warms freely.

    Parameters
    ----------
    length : float or array
        Cold. [m]
    expansion : float or array
        Coefficient of linear expansion. [1/K]
    temperature_rise : float or array
        Over the cold state. [delta_degC]

    Returns
    -------
    float or array
        Growth. [m]

    Sources
    -------
    [bansal_strength] Problem 1.28, p. 43.
    """
    return length * expansion * temperature_rise


@quantities(
    returns="kg",
    refuse=above_zero("piston", "pin", "small_end"),
    piston="kg",
    pin="kg",
    rings="kg",
    locks="kg",
    small_end="kg",
)
def reciprocating_mass(piston, pin, rings, locks, small_end):
    """Return the mass that goes up and down with one piston.

    Parameters
    ----------
    piston, pin, rings, locks, small_end : float or array
        Of one cylinder; the rod's small end as weighed on two points. [kg]

    Returns
    -------
    float or array
        Reciprocating mass. [kg]
    """
    return piston + pin + rings + locks + small_end


def _is_a_share(title, cap_share, **_):
    """Raise ValueError where `cap_share` is no share of a whole."""
    good = (cap_share >= 0) & (cap_share <= 1)
    if not np.all(good):
        wrong = first_wrong(cap_share, good)
        raise ValueError(f"{title}: cap_share must lie between 0 and 1, got {wrong:.6g}.")


_is_a_share.when = "cap_share does not lie between 0 and 1"


@quantities(
    returns="kg",
    refuse=each_of(above_zero("mass_big_end"), _is_a_share),
    mass_big_end="kg",
    cap_share="1",
)
def mass_above_parting_line(mass_big_end, cap_share):
    """Return the part of the rod's big-end mass that the rod bolts hold back at the top.

    Parameters
    ----------
    mass_big_end : float or array
        As weighed on two points, without shells. [kg]
    cap_share : float or array
        Part of it in the cap, which leans on the crank pin. [1]

    Returns
    -------
    float or array
        On the piston's side of the parting line; the shell there may be added. [kg]
    """
    return mass_big_end * (1 - cap_share)


@quantities(
    returns="N",
    refuse=each_of(above_zero("reciprocating_mass", "mass_above_parting_line", "bolts"), must_turn),
    reciprocating_mass="kg",
    mass_above_parting_line="kg",
    stroke="m",
    rod_length="m",
    engine_speed="rad/s",
    pin_offset="m",
)
def rod_bolt_load(
    reciprocating_mass,
    mass_above_parting_line,
    stroke,
    rod_length,
    engine_speed,
    pin_offset=0.0,
    bolts=2,
):
    """Return the pull on each rod bolt at overlap top dead center, which must not part the joint.

    Compare with the least preload. Bending of the joint and gas pressure are left out.

    Parameters
    ----------
    reciprocating_mass : float or array
        Piston, pin, rings, locks and the rod's small end. [kg]
    mass_above_parting_line : float or array
        Part of the big end on the piston's side of the joint; goes round with the throw. [kg]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]
    bolts : int
        Of one rod.

    Returns
    -------
    float or array
        Tension along the rod for each bolt. [N]

    Notes
    -----
    (m a / cos(tilt) + m_above w^2 r) / bolts at true top dead center, rod and throw in one line;
    without offset w^2 r (m (1 + r / L) + m_above) / bolts.
    """
    top = tdc_angle.kernel(stroke, rod_length, pin_offset)
    acceleration = piston_acceleration.kernel(top, stroke, rod_length, engine_speed, pin_offset)
    tilt = rod_tilt.kernel(top, stroke, rod_length, pin_offset)
    going_round = mass_above_parting_line * engine_speed**2 * stroke / 2
    return (reciprocating_mass * acceleration / np.cos(tilt) + going_round) / bolts


_QUENCH = (
    "quench_distance",
    "rod_growth",
    "stroke_growth",
    "piston_growth",
    "block_growth",
    "rod_stretch",
    "rod_clearance",
    "main_clearance",
    "pin_clearance",
    "piston_rock",
    "crank_bend",
)


@quantities(returns="m", **dict.fromkeys(_QUENCH, "m"))
def running_quench(
    quench_distance,
    rod_growth,
    stroke_growth,
    piston_growth,
    block_growth,
    rod_stretch,
    rod_clearance,
    main_clearance,
    pin_clearance,
    clearance_share,
    piston_rock,
    crank_bend,
):
    """Return the gap between piston and head, hot and at speed.

    Parameters
    ----------
    quench_distance : float or array
        Cold, at rest. [m]
    rod_growth, stroke_growth, piston_growth, block_growth : float or array
        By heat, of rod length, stroke, compression height and deck height. [m]
    rod_stretch : float or array
        By inertia at the top. [m]
    rod_clearance, main_clearance, pin_clearance : float or array
        Oil clearances, and the pin's clearance in the piston; diametral. [m]
    clearance_share : float
        One half when the deck was worked out from drawing sizes (shafts centered), one when it
        was measured with crank and rod resting: at speed both go to the other side.
    piston_rock, crank_bend : float or array
        Allowances. [m]

    Returns
    -------
    float or array
        Zero or less: the piston meets the head. [m]

    Notes
    -----
    cold - (rod + stroke / 2 + piston - block growth) - stretch - share * clearances - rock - bend.
    """
    growth = rod_growth + stroke_growth / 2 + piston_growth - block_growth
    slack = clearance_share * (rod_clearance + main_clearance + pin_clearance)
    return quench_distance - growth - rod_stretch - slack - piston_rock - crank_bend
