"""How the load on the piston pin goes on to the bore's wall, the rod and the crank.

The pin load is + towards the crank. The side load is + where the piston presses on the wall on
the -x side, the major thrust side: the one the crank pin moves away from just after the top. The
rod is pushed together where its force is +, and + torque drives the crank in the running
direction. Speed is steady; friction and weight are left out, and the rod has its mass in its two
ends. In the formulas F is the pin load, L the rod, r the throw, e the offset, t the crank angle,
s the piston's position, f the rod's tilt.

Sources: [khurmi_tom] Example 15.9, p. 534, for pin load, rod and side thrust.
"""

from enginecalc.crank import linkage, must_turn, piston_velocity
from enginecalc.units import Q, quantities  # noqa: F401 (Q: examples)

_LOADED = {
    "crank_angle": "rad",
    "stroke": "m",
    "rod_length": "m",
    "pin_load": "N",
    "pin_offset": "m",
}


@quantities(returns="N", gas_force="N", reciprocating_force="N")
def pin_load(gas_force, reciprocating_force):
    """Return the load on the piston pin along the bore, + towards the crank.

    Parameters
    ----------
    gas_force : float or array
        Of the gas on the piston, + towards the crank. [N]
    reciprocating_force : float or array
        Inertia of the reciprocating parts, + towards the crank. [N]

    Returns
    -------
    float or array
        Their sum. [N]

    Notes
    -----
    p A - m a, p the gauge pressure, a the acceleration away from the head. With the small end's
    mass in m this is what the rod passes on; between pin and small end the load is without it.
    """
    return gas_force + reciprocating_force


@quantities(returns="N", refuse=must_turn, **_LOADED)
def side_load(crank_angle, stroke, rod_length, pin_load, pin_offset=0.0):
    """Return how hard the piston presses on the bore's wall, + on the major thrust side.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    pin_load : float or array
        At this crank angle, + towards the crank. [N]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Square to the bore; less than zero on the +x wall, the minor thrust side. [N]

    Notes
    -----
    F tan(f) = F (r sin(t) - e) / sqrt(L^2 - (r sin(t) - e)^2).

    Examples
    --------
    >>> quarter = Q(90, "deg"), Q(6, "mm"), Q(5, "mm")
    >>> print(f"{side_load(*quarter, Q(4, 'kN')).to('kN'):.3f~P}")
    3.000 kN
    """
    *_, swing, rise = linkage(crank_angle, stroke, rod_length, pin_offset)
    return pin_load * swing / rise


@quantities(returns="N", refuse=must_turn, **_LOADED)
def rod_force(crank_angle, stroke, rod_length, pin_load, pin_offset=0.0):
    """Return the force along the rod at its small end, + pushing it together.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    pin_load : float or array
        At this crank angle, + towards the crank. [N]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Less than zero where the rod is pulled. [N]

    Notes
    -----
    F / cos(f) = F L / sqrt(L^2 - (r sin(t) - e)^2).
    """
    *_, rise = linkage(crank_angle, stroke, rod_length, pin_offset)
    return pin_load * rod_length / rise


@quantities(returns="N*m", refuse=must_turn, **_LOADED)
def crank_torque(crank_angle, stroke, rod_length, pin_load, pin_offset=0.0):
    """Return the torque one cylinder puts on the crankshaft, + in the running direction.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    pin_load : float or array
        At this crank angle, + towards the crank. [N]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Less than zero where the crank drives the piston. [N*m]

    Notes
    -----
    F ds/dt, so its integral over the angle is the work done on the piston. The same torque turns
    the block the other way: side load times the pin's height over the crank, plus F e.
    """
    return pin_load * piston_velocity.kernel(crank_angle, stroke, rod_length, 1.0, pin_offset)
