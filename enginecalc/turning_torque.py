"""The torque that keeps a crank turning by hand: which piston drags, and what kind of drag it is.

Torques are those of a wrench that turns the crank steadily, typed as positive whichever way it
turns. A trace is one of them at many crank angles. What a piston added, its trace less the one
before it, is taken as a + b |y'| / r: a the drag of bearings, the same all round, b that of rings
and piston, which goes with the piston's speed; y' is the piston's travel for a radian of crank, r
half the stroke. What is left at one angle alone is a contact. Crank angles as in `crank`.
"""

import numpy as np

from enginecalc.crank import must_turn, piston_velocity
from enginecalc.measured import must_list
from enginecalc.units import Q, above_zero, each_of, first_wrong, quantities  # noqa: F401 (Q)

OUTLYING = 3.5  # score of an increment beyond which it is one of its own, [iglewicz_outliers]
TOUCHING = 5.0  # standard deviations of the residual that make a contact
_ROBUST = 1.4826  # a normal distribution's standard deviation over its median absolute deviation
_FULL = 1.5  # standard deviations up to which a reading counts in full
_ROUNDS = 30
_TRACE = {"crank_angle": "rad", "stroke": "m", "rod_length": "m", "added_torque": "N*m",
          "pin_offset": "m"}  # fmt: skip
_MUST_BE_A_TRACE = each_of(must_turn, must_list("crank_angle", "added_torque", least=8))


def _must_not_be_negative(title, **torques):
    """Raise ValueError for a torque below zero, or none at all; SI floats or arrays."""
    faults = []
    for name, torque in torques.items():
        good = (torque >= 0) & (torque < np.inf)
        if not np.all(good):
            wrong = first_wrong(torque, good)
            faults.append(f"{name} must be zero or more, got {wrong:.6g} N*m")
    if faults:
        raise ValueError(f"{title}: {'; '.join(faults)}. Type both directions as positive.")


_must_not_be_negative.when = "a torque is below zero, or not finite"


@quantities(returns="N*m", refuse=_must_not_be_negative, forward_torque="N*m", back_torque="N*m")
def friction_torque(forward_torque, back_torque):
    """Return the friction in a turning torque that was read both ways.

    Parameters
    ----------
    forward_torque, back_torque : float or array
        Read in the running direction and against it, at one crank angle, both positive. [N*m]

    Returns
    -------
    float or array
        Friction alone. [N*m]

    Notes
    -----
    Half the sum: what weight and imbalance add one way they take off the other.

    Examples
    --------
    >>> print(f"{friction_torque(Q(4.5, 'lbf*ft'), Q(4.0, 'lbf*ft')).to('lbf*ft'):.2f~P}")
    4.25 ft·lbf
    """
    return (forward_torque + back_torque) / 2


@quantities(returns="N*m", refuse=must_list("logged_torque", least=2), logged_torque="N*m")
def torque_increments(logged_torque):
    """Return what each step of a log added to the torque.

    Parameters
    ----------
    logged_torque : array
        In the order of fitting along the last axis, the bare crank first. [N*m]

    Returns
    -------
    array
        One fewer than there are readings. [N*m]
    """
    return np.diff(logged_torque)


def _set_apart(values, least):
    """Return values less their median, over their robust standard deviation or `least`."""
    return _from_median(values) / np.maximum(_scatter(values), least)


def _from_median(values):
    return values - np.median(values, axis=-1, keepdims=True)


def _scatter(values):
    """Return 1.4826 times the median absolute deviation, along a last axis that is kept."""
    return _ROBUST * np.median(np.abs(_from_median(values)), axis=-1, keepdims=True)


@quantities(
    returns="1",
    refuse=each_of(must_list("torque_increments", least=1), above_zero("resolution")),
    torque_increments="N*m",
    resolution="N*m",
)
def increment_scores(torque_increments, resolution):
    """Return how far each increment of a log stands apart from the others.

    Parameters
    ----------
    torque_increments : array
        Along the last axis, three or more to mean anything. [N*m]
    resolution : float or array
        Finest step of the wrench; an array has one for each increment. [N*m]

    Returns
    -------
    array
        + of one that is more than usual; beyond 3.5 either way it is one of its own. [1]

    Notes
    -----
    (d - median) / max(1.4826 MAD, resolution), MAD the median of abs(d - median): a score that
    one bad piston does not hide itself in, and that rounding does not set off.

    Sources
    -------
    [iglewicz_outliers] the score and its 3.5; [nist_handbook] 1.3.5.17.
    """
    return _set_apart(torque_increments, resolution)


@quantities(
    returns="1", refuse=must_turn, crank_angle="rad", stroke="m", rod_length="m", pin_offset="m"
)
def drag_shape(crank_angle, stroke, rod_length, pin_offset=0.0):
    """Return how the drag of rings and piston goes with the crank angle.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top. [rad]
    stroke, rod_length, pin_offset : float or array
        The crank's geometry, as in `crank`. [m]

    Returns
    -------
    float or array
        Torque over friction force times half the stroke: 0 at both dead centers. [1]

    Notes
    -----
    abs(y') / r: a steady friction force takes the torque force * abs(y').

    Sources
    -------
    [geometry] work of a steady force over a small angle.
    """
    return np.abs(_speed(crank_angle, stroke, rod_length, pin_offset))


def _speed(crank_angle, stroke, rod_length, pin_offset):
    velocity = piston_velocity.kernel(crank_angle, stroke, rod_length, 1.0, pin_offset)
    return velocity / (stroke / 2)


def _columns(crank_angle, stroke, rod_length, pin_offset, one_way):
    speed = _speed(crank_angle, stroke, rod_length, pin_offset)
    columns = [np.ones_like(speed), np.abs(speed)]
    if one_way:
        columns += [speed, np.sin(crank_angle), np.cos(crank_angle)]
    return np.stack(columns, axis=-1)


@quantities(returns="N*m", refuse=_MUST_BE_A_TRACE, **_TRACE)
def drag_parts(crank_angle, stroke, rod_length, added_torque, pin_offset=0.0, one_way=False):
    """Return the drag of bearings and that of rings and piston in what one piston added.

    Parameters
    ----------
    crank_angle : array
        From the crank pin's top, over a turn or more, at even steps. [rad]
    stroke, rod_length : float
        The crank's geometry, as in `crank`. [m]
    added_torque : array
        At each angle, the trace after this piston less the one before it. [N*m]
    pin_offset : float
        As in `crank`. [m]
    one_way : bool
        True for traces read in one direction, which hold weight and imbalance too.

    Returns
    -------
    array
        Of bearings, the same all round, and of rings and piston, times `drag_shape`; read one way
        also the piston's weight, which goes with y', and the sine and cosine of an imbalance.
        A piston's weight holds the cosine of its bore's lean. [N*m]

    Notes
    -----
    Least squares, 30 times, each reading weighed by min(1, 1.5 s / abs(residual)) of the round
    before; s is 1.4826 times the residuals' median absolute deviation. A contact at a few angles
    hardly moves the fit.

    Sources
    -------
    [huber_robust] the weights.
    """
    columns = _columns(crank_angle, stroke, rod_length, pin_offset, one_way)
    if not np.all(np.isfinite(columns)):
        return np.full(columns.shape[-1], np.nan)
    root = np.ones(len(columns))
    for _ in range(_ROUNDS):
        parts = np.linalg.lstsq(columns * root[:, None], added_torque * root, rcond=None)[0]
        residuals = added_torque - columns @ parts
        full = _FULL * _scatter(residuals)
        if full == 0:
            break  # most readings lie on the fit itself
        root = np.sqrt(full / np.maximum(np.abs(residuals), full))
    return parts


@quantities(returns="N*m", refuse=_MUST_BE_A_TRACE, **_TRACE)
def drag_residuals(crank_angle, stroke, rod_length, added_torque, pin_offset=0.0, one_way=False):
    """Return what `drag_parts` leaves of an added torque at each angle.

    Parameters
    ----------
    crank_angle : array
        As in `drag_parts`. [rad]
    stroke, rod_length : float
        The crank's geometry, as in `crank`. [m]
    added_torque : array
        As in `drag_parts`. [N*m]
    pin_offset : float
        As in `crank`. [m]
    one_way : bool
        As in `drag_parts`.

    Returns
    -------
    array
        + where more was read than the fit has. [N*m]
    """
    trace = (crank_angle, stroke, rod_length)
    parts = drag_parts.kernel(*trace, added_torque, pin_offset, one_way)
    return added_torque - _columns(*trace, pin_offset, one_way) @ parts


@quantities(
    returns="1",
    refuse=each_of(must_list("drag_residuals", least=8), above_zero("resolution")),
    drag_residuals="N*m",
    resolution="N*m",
)
def contact_scores(drag_residuals, resolution):
    """Return by how many standard deviations the torque stands out at each angle.

    Parameters
    ----------
    drag_residuals : array
        Along the last axis. [N*m]
    resolution : float
        Finest step of the wrench. [N*m]

    Returns
    -------
    array
        Above 5, something touches at that angle. [1]

    Notes
    -----
    residual / max(1.4826 MAD, resolution / sqrt 6): no less than the rounding of two readings.

    Sources
    -------
    [gum] F.2.2.1 the rounding of one reading.
    """
    return drag_residuals / np.maximum(_scatter(drag_residuals), resolution / np.sqrt(6))
