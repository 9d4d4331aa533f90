"""When the valves open and shut, counted from the piston's true dead centers, in crank angle.

Center lines are positive as the trade writes them: intake after, exhaust before the top dead
center at which the valves overlap. `cam_advance` is + with the cam earlier.
"""

import numpy as np

from enginecalc.units import above_zero, quantities


@quantities(returns="m", refuse=above_zero("rocker_ratio"), lash="m", rocker_ratio="1")
def seat_lobe_lift(lash, rocker_ratio):
    """Return the lobe lift at which the valve leaves and meets its seat.

    Parameters
    ----------
    lash : float or array
        Clearance at the valve, shut. [m]
    rocker_ratio : float or array
        Valve lift over lobe lift. [1]

    Returns
    -------
    float or array
        Lobe lift that only takes up the lash. [m]
    """
    return lash / rocker_ratio


@quantities(returns="rad", centerline="rad", closing_from_center="rad", cam_advance="rad")
def intake_closing(centerline, closing_from_center, cam_advance=0.0):
    """Return how long after bottom dead center the intake shuts.

    Parameters
    ----------
    centerline : float or array
        Of the intake lobe, after top dead center. [rad]
    closing_from_center : float or array
        From the lobe's center to the lift that counts as shut. [rad]
    cam_advance : float or array
        + earlier; 0 when not given. [rad]

    Returns
    -------
    float or array
        Crank angle after bottom dead center. [rad]

    Notes
    -----
    centerline - advance + closing - half a turn.
    """
    return centerline - cam_advance + closing_from_center - np.pi
