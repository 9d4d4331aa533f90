"""How near a rod's big end comes to the camshaft: its circle, and its lobes where they stand.

Frame, angles and discs are those of `enginecalc.envelope`. The camshaft turns at half the crank's
speed: a lobe comes by every second turn.
"""

import numpy as np

from enginecalc.crank import must_turn
from enginecalc.envelope import CRANK, DISC, least_over_turn, rod_points
from enginecalc.lobes import CYCLE
from enginecalc.units import quantities

_STEP = np.pi / 6  # from one direction tried before the polish to the next


_FAN = _STEP * np.arange(-3, 4)


@quantities(
    returns="m",
    refuse=must_turn,
    **DISC,
    center_x="m",
    center_y="m",
    largest_radius="m",
    **CRANK,
)
def rod_to_nose_circle(
    crank_angle,
    x,
    y,
    radius,
    center_x,
    center_y,
    largest_radius,
    stroke,
    rod_length,
    pin_offset=0.0,
):
    """Return the gap from a disc of the big end to the circle that holds the whole camshaft.

    A gap of at least the limit is safe at every cam phase, if `largest_radius` is that of anything
    on the camshaft beside the rod. A lesser one says nothing yet: `rod_to_lobe` does.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    x, y, radius : float or array
        The disc on the big end. [m]
    center_x, center_y : float or array
        The camshaft's center in the cylinder's own frame. [m]
    largest_radius : float or array
        Largest radius of anything on the camshaft near the rods. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Gap. [m]
    """
    px, py = rod_points.kernel(crank_angle, x, y, stroke, rod_length, pin_offset)
    return np.hypot(px - center_x, py - center_y) - radius - largest_radius


@quantities(
    returns="m",
    refuse=must_turn,
    **DISC,
    base_radius="m",
    lobe_top="rad",
    follower_angle="rad",
    center_x="m",
    center_y="m",
    **CRANK,
)
def rod_to_lobe(
    crank_angle,
    x,
    y,
    radius,
    lobe,
    base_radius,
    lobe_top,
    follower_angle,
    drive,
    center_x,
    center_y,
    stroke,
    rod_length,
    pin_offset=0.0,
):
    """Return the gap from a disc of the big end to a cam lobe that works a flat follower.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top before firing; a turn of the cam is two of the crank. [rad]
    x, y, radius : float or array
        The disc on the big end. [m]
    lobe : lobe
        From `enginecalc.lobes`.
    base_radius : float or array
        Of the lobe. [m]
    lobe_top, follower_angle : float or array
        Crank angle at which the follower stands on the lobe's center; and the follower's direction
        from the camshaft, from y towards x. [rad]
    drive : int or array
        +1 when the camshaft turns with the crank, -1 against it.
    center_x, center_y : float or array
        The camshaft's center in the cylinder's own frame. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Gap; exact for a convex lobe, which a flat follower needs. A measured lobe's own bend is
        rough: from rows 5 degrees apart it can read some micrometers too little. [m]

    Notes
    -----
    Greatest over all directions A of P . n(A) - H(A), less the disc's radius; P from the camshaft's
    center to the disc's, H = base_radius + lift(crank_angle - lobe_top - 2 drive (A -
    follower_angle)): what a flat follower would feel from that direction.

    Sources
    -------
    [geometry] support function of a convex curve.
    """
    px, py = rod_points.kernel(crank_angle, x, y, stroke, rod_length, pin_offset)
    px, py = px - center_x, py - center_y
    far, bearing = np.hypot(px, py), np.arctan2(px, py)
    phase = crank_angle - lobe_top + 2 * drive * (follower_angle - bearing)

    def felt(turned):
        """Return where on the lobe a follower `turned` from the disc's direction would stand."""
        return _on_lobe(phase - 2 * drive * turned)

    fan = _FAN.reshape(-1, *[1] * np.ndim(phase))
    tried = far * np.cos(fan) - lobe.lift(felt(fan))
    turned = _FAN[np.argmax(tried, axis=0)]
    low, high = turned - _STEP, turned + _STEP
    for _ in range(6):  # outside a convex lobe the curve of distances is concave
        on = felt(turned)
        slope = 2 * drive * lobe.slope(on) - far * np.sin(turned)
        bend = -far * np.cos(turned) - 4 * lobe.bend(on)
        low, high = np.where(slope > 0, turned, low), np.where(slope < 0, turned, high)
        newton = turned - slope / np.where(bend < 0, bend, -np.inf)
        good = (bend < 0) & (newton >= low) & (newton <= high)
        turned = np.where(good, newton, (low + high) / 2)
    polished = far * np.cos(turned) - lobe.lift(felt(turned))
    return np.maximum(polished, np.max(tried, axis=0)) - base_radius - radius


@quantities(
    returns="m",
    crank_angle="rad",
    base_radius="m",
    lobe_top="rad",
    follower_angle="rad",
    direction="rad",
)
def lobe_outline(direction, crank_angle, lobe, base_radius, lobe_top, follower_angle, drive):
    """Return the points of a lobe's outline where a flat face square to `direction` touches it.

    Parameters
    ----------
    direction : float or array
        From the camshaft's center, from y towards x of the cylinder's own frame. [rad]
    crank_angle : float or array
        From the crank pin's top before firing. [rad]
    lobe : lobe
        From `enginecalc.lobes`.
    base_radius : float or array
        Of the lobe. [m]
    lobe_top, follower_angle : float or array
        As in `rod_to_lobe`. [rad]
    drive : int or array
        +1 when the camshaft turns with the crank, -1 against it.

    Returns
    -------
    array
        x and y from the camshaft's center along the first axis. [m]

    Notes
    -----
    H n + H' t, H as in `rod_to_lobe`, n the direction, t square to it.
    """
    on = _on_lobe(crank_angle - lobe_top - 2 * drive * (direction - follower_angle))
    reach, rate = base_radius + lobe.lift(on), -2 * drive * lobe.slope(on)
    sin, cos = np.sin(direction), np.cos(direction)
    return np.stack(np.broadcast_arrays(reach * sin + rate * cos, reach * cos - rate * sin))


def _on_lobe(angle):
    """Return a crank angle as one from the lobe's center, within half a turn of the cam."""
    return np.mod(angle + CYCLE / 2, CYCLE) - CYCLE / 2


def least_to_lobe(x, y, radius, lobe, base_radius, lobe_top, follower_angle, drive, center, crank):
    """Return least gap and crank angle of `rod_to_lobe` over two turns, in SI floats.

    `center` and `crank` are the camshaft's and the crank's arguments. Where even the circle about
    the whole lobe stands farther off than the base circle does at its nearest, the lobe cannot be
    nearest: the sweep takes the circle there.
    """
    fixed = lobe, base_radius, lobe_top, follower_angle, drive, *center, *crank

    def gap(angle):
        if np.ndim(angle) > 1:
            return rod_to_lobe.kernel(angle, x, y, radius, *fixed)
        largest = base_radius + lobe.lobe_lift
        found = rod_to_nose_circle.kernel(angle, x, y, radius, *center, largest, *crank)
        near = found <= np.min(found, axis=-1, keepdims=True) + lobe.lobe_lift
        near = np.any(near.reshape(-1, near.shape[-1]), axis=0)
        found[..., near] = rod_to_lobe.kernel(angle[near], x, y, radius, *fixed)
        return found

    return least_over_turn(gap, CYCLE, np.pi / 90, zooms=3)
