"""What a rod's big end sweeps through in a turn, and how near it comes to what stands around it.

All lies in the cylinder's own frame: crank's center at zero, x to the side the crank pin moves
just after its top, y up the bore; `to_own_frame` turns a front view into it. The crank angle
counts from the crank pin's top. A big end is a union of discs about its crank pin, x and y along
and across the rod as the frame's with the piston at its top; `stroke`, `rod_length`, `pin_offset`
as in `enginecalc.crank`. All parts are rigid; gaps are + when there is one, - where parts meet.
"""

import numpy as np

from enginecalc.crank import can_turn, linkage, must_turn
from enginecalc.lobes import CYCLE
from enginecalc.units import quantities

_CRANK = {"stroke": "m", "rod_length": "m", "pin_offset": "m"}
_DISC = {"crank_angle": "rad", "x": "m", "y": "m", "radius": "m"}
_ZOOM = np.linspace(-1.0, 1.0, 33)  # each closer look reaches a sixteenth as far
_STEP = np.pi / 6  # from one direction tried before the polish to the next
_FAN = _STEP * np.arange(-3, 4)


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


@quantities(returns="m", refuse=must_turn, crank_angle="rad", x="m", y="m", **_CRANK)
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


def _to_segment(px, py, ax, ay, bx, by):
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
    returns="m", refuse=must_turn, **_DISC, start_x="m", start_y="m", end_x="m", end_y="m", **_CRANK
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
    away, past = _to_segment(px, py, start_x, start_y, end_x, end_y)
    return np.where(past, -away, away) - radius


@quantities(
    returns="m",
    refuse=must_turn,
    crank_angle="rad",
    beam_width="m",
    point_x="m",
    point_y="m",
    **_CRANK,
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
    away, _ = _to_segment(point_x, point_y, *foot, pin_offset, foot[1] + rise)
    return away - beam_width / 2


@quantities(
    returns="m",
    refuse=must_turn,
    **_DISC,
    center_x="m",
    center_y="m",
    largest_radius="m",
    **_CRANK,
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
    **_DISC,
    base_radius="m",
    lobe_top="rad",
    follower_angle="rad",
    center_x="m",
    center_y="m",
    **_CRANK,
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


@quantities(
    returns="m",
    refuse=must_turn,
    crank_angle="rad",
    skirt_x="m",
    skirt_below_pin="m",
    counterweight_radius="m",
    counterweight_angle="rad",
    **_CRANK,
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
        _to_segment(
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


@quantities(returns="m", refuse=must_turn, bore_bottom="m", skirt_below_pin="m", **_CRANK)
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
