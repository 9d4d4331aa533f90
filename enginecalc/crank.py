"""How crank, rod and piston move: the slider-crank with its pin or bore set off to one side.

The crank angle counts from the crank pin's top of its own bore, rising in the running
direction. Positions count down from the piston's true top dead center, so velocity and
acceleration are + away from the head. `pin_offset` is where the piston pin's path lies, + to
the side the crank pin moves just after the top; towards the major thrust side it is negative,
and 0 when it is not given. `stroke` is twice the crank throw, `rod_length` center to center. In
the formulas r is the throw, L the rod, e the offset, t the crank angle, w the speed in rad/s.
All parts are rigid and all clearances closed; dead centers are where crank and rod are in line.
"""

import numpy as np

from enginecalc.units import Q, above_zero, first_wrong, quantities

_GEOMETRY = {"stroke": "m", "rod_length": "m", "pin_offset": "m"}


def can_turn(stroke, rod_length, pin_offset=0.0):
    """Return True where the crank can go round: the rod is longer than half the stroke plus offset.

    Takes SI floats or arrays. Both dead centers need rod_length > stroke / 2 + abs(pin_offset).
    """
    return (stroke > 0) & (rod_length > stroke / 2 + abs(pin_offset)) & (rod_length < np.inf)


def must_turn(title, stroke, rod_length, pin_offset=0.0, **_):
    """Raise ValueError where the crank cannot go round; SI floats or arrays."""
    good = can_turn(stroke, rod_length, pin_offset)
    if np.all(good):
        return
    stroke, rod, offset = (first_wrong(each, good) for each in (stroke, rod_length, pin_offset))
    for name, size in (("stroke", stroke), ("rod_length", rod), ("pin_offset", offset)):
        if not np.isfinite(size) or (size <= 0 and name != "pin_offset"):
            asked = "greater than zero" if name != "pin_offset" and not size > 0 else "finite"
            raise ValueError(f"{title}: {name} must be {asked}, got {_mm(size)}.")
    raise ValueError(
        f"{title}: rod_length must be longer than half the stroke plus the pin offset, or the crank"
        f" cannot turn, got {_mm(rod)} against {_mm(stroke / 2 + abs(offset))}."
        " Take a longer rod or a shorter stroke."
    )


must_turn.when = "the crank cannot turn: rod_length is not above stroke / 2 + abs(pin_offset)"


def _mm(length):
    """Return a length in m as text in mm."""
    return f"{Q(length, 'm').to('mm'):.6g~P}"


def _where_it_turns(stroke, rod_length, pin_offset):
    """Return the rod length, nan where the crank cannot go round: all that follows is nan there."""
    return np.where(can_turn(stroke, rod_length, pin_offset), rod_length, np.nan)


@quantities(returns="1", refuse=above_zero("stroke", "rod_length"), stroke="m", rod_length="m")
def rod_ratio(stroke, rod_length):
    """Return the rod length over the stroke.

    Parameters
    ----------
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Rod ratio. [1]

    Notes
    -----
    rod_length / stroke. Books also use its relatives stroke / (2 rod_length) and the inverse.

    Examples
    --------
    >>> print(f"{rod_ratio(Q(86, 'mm'), Q(143, 'mm')):.4f~P}")
    1.6628
    """
    return rod_length / stroke


@quantities(returns="m", refuse=above_zero("stroke", "rod_ratio"), stroke="m", rod_ratio="1")
def rod_length_for(stroke, rod_ratio):
    """Return the rod length that gives a rod ratio.

    Parameters
    ----------
    stroke : float or array
        Twice the crank throw. [m]
    rod_ratio : float or array
        Wanted rod length over stroke. [1]

    Returns
    -------
    float or array
        Rod length, center to center. [m]

    Notes
    -----
    stroke * rod_ratio.
    """
    return stroke * rod_ratio


@quantities(returns="m", pin_offset="m", bore_offset="m")
def pin_axis_offset(pin_offset, bore_offset):
    """Return how far the piston pin's path lies off the crank's center, the `pin_offset` here.

    Parameters
    ----------
    pin_offset, bore_offset : float or array
        Of the pin in the piston, and of the bore over the crank; one sign for both. [m]

    Returns
    -------
    float or array
        Their sum. [m]
    """
    return pin_offset + bore_offset


@quantities(returns="rad", refuse=must_turn, **_GEOMETRY)
def tdc_angle(stroke, rod_length, pin_offset=0.0):
    """Return the crank angle of true top dead center, where the piston stands highest.

    Parameters
    ----------
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Angle from the crank pin's top; has the sign of the offset. [rad]

    Notes
    -----
    asin(pin_offset / (rod_length + stroke / 2)): crank and rod in one line, stretched.
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    return np.arcsin(pin_offset / (rod_length + stroke / 2))


@quantities(returns="rad", refuse=must_turn, **_GEOMETRY)
def bdc_angle(stroke, rod_length, pin_offset=0.0):
    """Return the crank angle of true bottom dead center, where the piston stands lowest.

    Parameters
    ----------
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Angle from the crank pin's top, near half a turn. [rad]

    Notes
    -----
    pi + asin(pin_offset / (rod_length - stroke / 2)): crank and rod in one line, folded.
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    return np.pi + np.arcsin(pin_offset / (rod_length - stroke / 2))


@quantities(returns="m", refuse=must_turn, **_GEOMETRY)
def true_stroke(stroke, rod_length, pin_offset=0.0):
    """Return how far the piston travels; with an offset a little more than twice the throw.

    Parameters
    ----------
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Travel between the true dead centers. [m]

    Notes
    -----
    sqrt((L + r)^2 - e^2) - sqrt((L - r)^2 - e^2), r half the stroke, L the rod, e the offset.
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    throw = stroke / 2
    bottom = np.sqrt((rod_length - throw) ** 2 - pin_offset**2)
    return _top(throw, rod_length, pin_offset) - bottom


def _top(throw, rod_length, pin_offset):
    """Return the piston pin's height above the crank's center at true top dead center."""
    return np.sqrt((rod_length + throw) ** 2 - pin_offset**2)


def linkage(crank_angle, stroke, rod_length, pin_offset):
    """Return throw, sine, cosine, the big end's way off the pin's path, and the rod's rise.

    The one sine, cosine and root that position, velocity and acceleration share.
    """
    throw = stroke / 2
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    sin, cos = np.sin(crank_angle), np.cos(crank_angle)
    swing = throw * sin - pin_offset
    return throw, sin, cos, swing, np.sqrt(rod_length * rod_length - swing * swing)


def _position(link, rod_length, pin_offset):
    throw, _, cos, _, rise = link
    return _top(throw, rod_length, pin_offset) - throw * cos - rise


def _velocity(link):
    throw, sin, cos, swing, rise = link
    return throw * (sin + cos * swing / rise)


def _acceleration(link):
    throw, sin, cos, swing, rise = link
    lean = swing / rise
    sway = throw * cos
    return sway + (sway * sway * (1 + lean * lean) - throw * sin * swing) / rise


def motion(crank_angle, stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return position, velocity and acceleration of the piston together, in SI floats.

    For curves and sweeps: one sine, one cosine and one root serve all three. Formulas, signs
    and refused geometry (nan) as in `piston_position`, `piston_velocity`, `piston_acceleration`.
    """
    link = linkage(crank_angle, stroke, rod_length, pin_offset)
    position = _position(link, rod_length, pin_offset)
    return position, engine_speed * _velocity(link), engine_speed**2 * _acceleration(link)


@quantities(returns="m", refuse=must_turn, crank_angle="rad", **_GEOMETRY)
def piston_position(crank_angle, stroke, rod_length, pin_offset=0.0):
    """Return how far the piston stands below true top dead center.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Depth below true top dead center, of the arguments' broadcast shape. [m]

    Notes
    -----
    sqrt((L + r)^2 - e^2) - r cos(t) - sqrt(L^2 - (r sin(t) - e)^2), exact.

    Sources
    -------
    [geometry] right triangle under the rod; [meriam_dynamics] Sample Problem 5/9 for its rate.

    Examples
    --------
    >>> print(f"{piston_position(Q(90, 'deg'), Q(6, 'mm'), Q(5, 'mm')).to('mm'):.3f~P}")
    4.000 mm
    """
    link = linkage(crank_angle, stroke, rod_length, pin_offset)
    return _position(link, rod_length, pin_offset)


@quantities(returns="m/s", refuse=must_turn, crank_angle="rad", engine_speed="rad/s", **_GEOMETRY)
def piston_velocity(crank_angle, stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return the piston's velocity, + away from the head.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in the heading. [m]

    Returns
    -------
    float or array
        Rate of `piston_position`. [m/s]

    Notes
    -----
    w r (sin(t) + cos(t) u / q), u = r sin(t) - e, q = sqrt(L^2 - u^2), exact.

    Sources
    -------
    [meriam_dynamics] Sample Problem 5/9, p. 353.
    """
    return engine_speed * _velocity(linkage(crank_angle, stroke, rod_length, pin_offset))


@quantities(
    returns="m/s**2", refuse=must_turn, crank_angle="rad", engine_speed="rad/s", **_GEOMETRY
)
def piston_acceleration(crank_angle, stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return the piston's acceleration at steady speed, + away from the head.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in the heading. [m]

    Returns
    -------
    float or array
        Rate of `piston_velocity`. [m/s**2]

    Notes
    -----
    w^2 (r cos(t) + (r^2 cos(t)^2 - r sin(t) u) / q + r^2 cos(t)^2 u^2 / q^3),
    u = r sin(t) - e, q = sqrt(L^2 - u^2), exact.

    Sources
    -------
    [meriam_dynamics] Sample Problem 5/15, p. 376.
    """
    return engine_speed**2 * _acceleration(linkage(crank_angle, stroke, rod_length, pin_offset))


@quantities(returns="rad", refuse=must_turn, crank_angle="rad", **_GEOMETRY)
def rod_tilt(crank_angle, stroke, rod_length, pin_offset=0.0):
    """Return how far the rod leans from the bore's axis, + with its big end after the top.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Angle between rod and bore. [rad]

    Notes
    -----
    asin((r sin(t) - e) / L).

    Sources
    -------
    [meriam_dynamics] Sample Problem 5/15, p. 376 (the rod-to-bore angle).
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    return np.arcsin((stroke / 2 * np.sin(crank_angle) - pin_offset) / rod_length)


@quantities(returns="rad", refuse=must_turn, **_GEOMETRY)
def greatest_rod_tilt(stroke, rod_length, pin_offset=0.0):
    """Return the rod's greatest lean from the bore's axis, of either side, as a positive angle.

    Parameters
    ----------
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Greatest angle between rod and bore. [rad]

    Notes
    -----
    asin((r + |e|) / L), at a quarter turn.
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    return np.arcsin((stroke / 2 + abs(pin_offset)) / rod_length)


@quantities(returns="m/s", refuse=above_zero("stroke"), stroke="m", engine_speed="rad/s")
def mean_piston_speed(stroke, engine_speed):
    """Return the piston speed averaged over one revolution.

    Parameters
    ----------
    stroke : float or array
        The piston's travel; with an offset its true stroke. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]

    Returns
    -------
    float or array
        Two strokes for each turn. [m/s]

    Notes
    -----
    stroke * engine_speed / pi, the speed in rad/s.

    Sources
    -------
    [pulkrabek_ice] Example 2-1.

    Examples
    --------
    >>> print(f"{mean_piston_speed(Q(86, 'mm'), Q(6000, 'rpm')):.1f~P}")
    17.2 m/s
    """
    return stroke * engine_speed / np.pi


@quantities(returns="rad", refuse=must_turn, **_GEOMETRY)
def peak_speed_angle(stroke, rod_length, pin_offset=0.0):
    """Return the crank angle at which the piston runs down fastest.

    Parameters
    ----------
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Angle from the crank pin's top, before a quarter turn after it. [rad]

    Notes
    -----
    Where the acceleration is zero. Twelve halvings between the dead center and the place where
    the rod is square to the throw or the throw square to the bore, then four Newton steps.

    Sources
    -------
    [khurmi_tom] Examples 15.3 and 15.4, pp. 527-528 (their two-term formula is off by 0.4 deg).
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    throw = stroke / 2

    def bend(angle):
        """Return the acceleration's sign-giving part and its slope, both times q^3 / r."""
        sin, cos = np.sin(angle), np.cos(angle)
        swing = throw * sin - pin_offset
        square = rod_length**2 - swing**2
        rise = np.sqrt(square)
        value = square * rise * cos + throw * rod_length**2 * cos**2 - swing * square * sin
        slope = (
            -square * rise * sin
            - 3 * rise * swing * throw * cos**2
            - 2 * throw * rod_length**2 * sin * cos
            - (throw * cos * square - 2 * swing**2 * throw * cos) * sin
            - swing * square * cos
        )
        return value, slope

    low = np.arcsin(pin_offset / (rod_length + throw))
    high = low * 0 + np.pi / 2 + abs(np.arcsin(pin_offset / rod_length))
    for _ in range(12):
        middle = (low + high) / 2
        downward = bend(middle)[0] > 0
        low, high = np.where(downward, middle, low), np.where(downward, high, middle)
    angle = (low + high) / 2
    for _ in range(4):
        value, slope = bend(angle)
        angle = angle - value / slope
    return angle


def _reach(depth, stroke, rod_length, pin_offset):
    """Return the direction of the piston pin from the crank's center, and the throw's angle to it.

    Law of cosines in the triangle of throw, rod and the line to the pin; nan outside the travel.
    """
    rod_length = _where_it_turns(stroke, rod_length, pin_offset)
    throw = stroke / 2
    height = _top(throw, rod_length, pin_offset) - depth
    line = np.sqrt(height**2 + pin_offset**2)
    cosine = (throw**2 + line**2 - rod_length**2) / (2 * throw * line)
    slack = 1e-12  # rounding at the dead centers themselves
    cosine = np.where(
        abs(cosine) <= 1 + slack, np.sign(cosine) * np.minimum(abs(cosine), 1), np.nan
    )
    return np.arctan2(pin_offset, height), np.arccos(cosine)


def must_be_reached(title, depth, stroke, rod_length, pin_offset=0.0, **_):
    """Raise ValueError where `depth` lies outside the piston's travel; SI floats or arrays."""
    must_turn(title, stroke, rod_length, pin_offset)
    travel = true_stroke.kernel(stroke, rod_length, pin_offset)
    good = (depth >= 0) & (depth <= travel)
    if not np.all(good):
        raise ValueError(
            f"{title}: depth must lie between zero and the true stroke of"
            f" {_mm(first_wrong(travel, good))}, got {_mm(first_wrong(depth, good))}."
        )


must_be_reached.when = "the crank cannot turn, or the piston never stands at this depth"


@quantities(returns="rad", refuse=must_be_reached, depth="m", **_GEOMETRY)
def crank_angle_at(depth, stroke, rod_length, pin_offset=0.0):
    """Return the crank angle after top dead center at which the piston is this far down.

    Parameters
    ----------
    depth : float or array
        Below true top dead center. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        Angle from the crank pin's top, on the way down. [rad]

    Notes
    -----
    atan2(e, y) + acos((r^2 + d^2 - L^2) / (2 r d)), y the pin's height, d^2 = y^2 + e^2.

    Sources
    -------
    [geometry] law of cosines; [khurmi_tom] Example 15.9, p. 534 (33 deg scaled off a drawing).
    """
    direction, spread = _reach(depth, stroke, rod_length, pin_offset)
    return direction + spread


@quantities(returns="rad", refuse=must_be_reached, depth="m", **_GEOMETRY)
def dwell_angle(depth, stroke, rod_length, pin_offset=0.0):
    """Return the width of crank angle in which the piston is within a depth of its top.

    Parameters
    ----------
    depth : float or array
        Below true top dead center. [m]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in the heading. [m]

    Returns
    -------
    float or array
        From this depth on the way up to this depth on the way down. [rad]

    Notes
    -----
    2 acos((r^2 + d^2 - L^2) / (2 r d)), d the distance of the piston pin from the crank's center.
    """
    return 2 * _reach(depth, stroke, rod_length, pin_offset)[1]


@quantities(returns="1", refuse=must_turn, stroke="m", rod_length="m")
def acceleration_harmonics(stroke, rod_length, orders=(1, 2, 4, 6)):
    """Return the amplitudes of the piston's acceleration by order, over throw times speed squared.

    Parameters
    ----------
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]
    orders : tuple of int
        Multiples of crank speed, above zero; () is not useful.

    Returns
    -------
    float or array
        Signed amplitudes, + away from the head at the top; orders along the last axis. [1]

    Notes
    -----
    a / (r w^2) = cos t + A2 cos 2t + A4 cos 4t + A6 cos 6t + ..., without offset. With x = r / L,
    A2 = x + x^3/4 + 15 x^5/128 + ...; here projected from the exact motion at 720 angles.
    """
    angle = np.arange(720) * (2 * np.pi / 720)
    stroke, rod_length = np.expand_dims(stroke, -1), np.expand_dims(rod_length, -1)
    acceleration = _acceleration(linkage(angle, stroke, rod_length, 0.0)) / (stroke / 2)
    return acceleration @ np.cos(np.multiply.outer(angle, orders)) / 360


@quantities(returns="m/s", refuse=must_turn, engine_speed="rad/s", **_GEOMETRY)
def peak_piston_speed(stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return the piston's greatest speed on the way down.

    Parameters
    ----------
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in the heading. [m]

    Returns
    -------
    float or array
        `piston_velocity` at `peak_speed_angle`. [m/s]

    Sources
    -------
    [khurmi_tom] Example 15.3, p. 527.
    """
    angle = peak_speed_angle.kernel(stroke, rod_length, pin_offset)
    return piston_velocity.kernel(angle, stroke, rod_length, engine_speed, pin_offset)


@quantities(returns="m/s**2", refuse=must_turn, engine_speed="rad/s", **_GEOMETRY)
def peak_piston_acceleration(stroke, rod_length, engine_speed, pin_offset=0.0):
    """Return the piston's greatest acceleration, near top dead center.

    Parameters
    ----------
    stroke, rod_length : float or array
        The crank's geometry, as in the heading. [m]
    engine_speed : float or array
        Steady speed of the crank. [rad/s]
    pin_offset : float or array
        As in the heading. [m]

    Returns
    -------
    float or array
        `piston_acceleration` at its peak. [m/s**2]

    Notes
    -----
    Without offset w^2 r (1 + r / L), at top dead center; with one the peak lies beside it and is
    found by two parabolas.
    """
    angle = tdc_angle.kernel(stroke, rod_length, pin_offset)
    for step in (0.1, 0.001):
        before, here, after = (
            _acceleration(linkage(angle + way * step, stroke, rod_length, pin_offset))
            for way in (-1, 0, 1)
        )
        angle = angle + step * (before - after) / (2 * (before - 2 * here + after))
    return engine_speed**2 * _acceleration(linkage(angle, stroke, rod_length, pin_offset))
