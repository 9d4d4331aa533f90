"""What a rod's big end sweeps through in a turn, and how near it comes to what stands around it.

All lies in the cylinder's own frame: crank's center at zero, x to the side the crank pin moves
just after its top, y up the bore; `to_own_frame` turns a front view into it. The crank angle
counts from the crank pin's top. A big end is a union of discs about its crank pin, x and y along
and across the rod as the frame's with the piston at its top; `stroke`, `rod_length`, `pin_offset`
as in `enginecalc.crank`. All parts are rigid; gaps are + when there is one, - where parts meet.
"""

import numpy as np

from enginecalc.crank import linkage, must_turn
from enginecalc.units import quantities

CRANK = {"stroke": "m", "rod_length": "m", "pin_offset": "m"}
DISC = {"crank_angle": "rad", "x": "m", "y": "m", "radius": "m"}
_ZOOM = np.linspace(-1.0, 1.0, 33)  # each closer look reaches a sixteenth as far


@quantities(returns="m", front_x="m", front_y="m", bank_angle="rad")
def to_own_frame(front_x, front_y, bank_angle, rotation):
    """Return where a point of the front view lies in a cylinder's own frame.

    Parameters
    ----------
    front_x, front_y : float or array
        To the right and up, seen from the front. [m]
    bank_angle : float or array
        Clockwise from vertical in the front view. [rad]
    rotation : int or array
        +1 clockwise from the front, -1 the other way.

    Returns
    -------
    array
        x and y along the first axis. [m]

    Notes
    -----
    x = rotation (X cos b - Y sin b), y = X sin b + Y cos b.
    """
    sin, cos = np.sin(bank_angle), np.cos(bank_angle)
    across = rotation * (front_x * cos - front_y * sin)
    return np.stack(np.broadcast_arrays(across, front_x * sin + front_y * cos))


@quantities(returns="m", x="m", y="m", bank_angle="rad")
def to_front_view(x, y, bank_angle, rotation):
    """Return where a point of a cylinder's own frame lies in the front view.

    Parameters
    ----------
    x, y : float or array
        In the cylinder's own frame. [m]
    bank_angle : float or array
        Clockwise from vertical in the front view. [rad]
    rotation : int or array
        +1 clockwise from the front, -1 the other way.

    Returns
    -------
    array
        To the right and up along the first axis. [m]

    Notes
    -----
    X = rotation x cos b + y sin b, Y = -rotation x sin b + y cos b.
    """
    sin, cos = np.sin(bank_angle), np.cos(bank_angle)
    right = rotation * x * cos + y * sin
    return np.stack(np.broadcast_arrays(right, y * cos - rotation * x * sin))


@quantities(returns="m", refuse=must_turn, crank_angle="rad", x="m", y="m", **CRANK)
def rod_points(crank_angle, x, y, stroke, rod_length, pin_offset=0.0):
    """Return where points fixed to the big end stand at a crank angle.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    x, y : float or array
        From the crank pin, square to the rod and along it towards the piston pin. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    array
        x and y in the cylinder's own frame along the first axis. [m]

    Notes
    -----
    crank pin + x w + y v, v from crank pin to piston pin over the rod's length, w square to it.

    Sources
    -------
    [geometry] a body that turns with its rod.
    """
    throw, sin, cos, swing, rise = linkage(crank_angle, stroke, rod_length, pin_offset)
    lean, stand = swing / rod_length, rise / rod_length
    across = throw * sin + x * stand - y * lean
    return np.stack(np.broadcast_arrays(across, throw * cos + x * lean + y * stand))


def to_segment(px, py, ax, ay, bx, by):
    """Return the distance of points from segments, and where past its line from the crank's center.

    A segment may be a single point.
    """
    along_x, along_y = bx - ax, by - ay
    long = along_x * along_x + along_y * along_y
    long = np.where(long > 0, long, 1.0)
    part = ((px - ax) * along_x + (py - ay) * along_y) / long
    beyond = along_x * (py - ay) - along_y * (px - ax)
    beyond = beyond * (along_y * ax - along_x * ay) < 0
    past = beyond & (part > 0) & (part < 1)
    part = np.clip(part, 0.0, 1.0)
    return np.hypot(px - ax - part * along_x, py - ay - part * along_y), past


@quantities(
    returns="m", refuse=must_turn, **DISC, start_x="m", start_y="m", end_x="m", end_y="m", **CRANK
)
def rod_to_edge(
    crank_angle, x, y, radius, start_x, start_y, end_x, end_y, stroke, rod_length, pin_offset=0.0
):
    """Return the gap from a disc of the big end to a straight edge, such as the pan rail's face.

    What lies past the edge, seen from the crank's center, is solid: a disc whose center has gone
    through it stands deeper by that much.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    x, y, radius : float or array
        The disc on the big end. [m]
    start_x, start_y, end_x, end_y : float or array
        The edge's ends in the cylinder's own frame; a point is given twice. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Gap. [m]

    Notes
    -----
    Distance of the disc's center from the nearest point of the edge, - past it, less its radius.
    """
    px, py = rod_points.kernel(crank_angle, x, y, stroke, rod_length, pin_offset)
    away, past = to_segment(px, py, start_x, start_y, end_x, end_y)
    return np.where(past, -away, away) - radius


@quantities(
    returns="m",
    refuse=must_turn,
    crank_angle="rad",
    beam_width="m",
    point_x="m",
    point_y="m",
    **CRANK,
)
def beam_to_point(crank_angle, beam_width, point_x, point_y, stroke, rod_length, pin_offset=0.0):
    """Return the gap from the rod's beam to a point, such as a bore's lower edge.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    beam_width : float or array
        Of a beam of even width from crank pin to piston pin. [m]
    point_x, point_y : float or array
        The point in the cylinder's own frame. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry. [m]

    Returns
    -------
    float or array
        Gap. [m]

    Notes
    -----
    Distance from the line between both pins, less half the beam's width.
    """
    throw, sin, cos, _, rise = linkage(crank_angle, stroke, rod_length, pin_offset)
    foot = throw * sin, throw * cos
    away, _ = to_segment(point_x, point_y, *foot, pin_offset, foot[1] + rise)
    return away - beam_width / 2


def least_over_turn(gap, turn=2 * np.pi, step=np.pi / 180, zooms=4):
    """Return the least value of each row of a gap over a turn, and the angle at which it stands.

    A sweep finds the two deepest valleys of every row; both are then looked at ever more closely,
    to 2e-5 of `step`: angles are good to far less than 0.01 degree, gaps of smooth curves to
    rounding, those in a kink to a hundredth of a micrometer.

    Parameters
    ----------
    gap : callable
        Takes angles in rad along the last axis, of shape (n,) or (..., n), and returns gaps of
        shape (..., n).
    turn : float
        How far round: two turns of the crank where the camshaft matters. In rad.
    step : float
        Of the sweep, a whole part of `turn`. In rad.
    zooms : int
        How often to look closer; three are enough for a smooth curve.

    Returns
    -------
    tuple of array
        Least gaps and angles, of shape (...).
    """
    angle = step * np.arange(round(turn / step))
    sweep = gap(angle)
    valley = (sweep <= np.roll(sweep, 1, -1)) & (sweep <= np.roll(sweep, -1, -1))
    deepest = np.argpartition(np.where(valley, sweep, np.inf), 1, axis=-1)[..., :2]
    middle, half = angle[deepest], step
    for _ in range(zooms):
        spots = middle[..., None] + half * _ZOOM
        found = gap(spots.reshape(*spots.shape[:-2], -1)).reshape(spots.shape)
        at = np.argmin(found, axis=-1)[..., None]
        middle = np.take_along_axis(spots, at, -1)[..., 0]
        half /= 16
    least = np.take_along_axis(found, at, -1)[..., 0]
    best = np.argmin(least, axis=-1)[..., None]
    return (
        np.take_along_axis(least, best, -1)[..., 0],
        np.mod(np.take_along_axis(middle, best, -1)[..., 0], turn),
    )
