"""Where the gaps of the rings go: how far they stand apart, and from the piston's two axes.

Angles run clockwise from the piston's front mark, seen from above. The pin axis lies at 0 and
180 deg, the thrust axis at 90 and 270; the major thrust side is at 90 for standard rotation and
at 270 for reverse, on both banks. Gaps run along the last axis of an array.
"""

import numpy as np

from enginecalc.measured import must_list
from enginecalc.units import Q, each_of, first_wrong, quantities  # noqa: F401 (Q: examples)

_TURN = 2 * np.pi
_TINY = 1e-9  # rad, more than rounding leaves
# What to keep from: where the first axis lies, and how far from one end of an axis to the next.
AXES = {"pin": (0.0, np.pi), "thrust": (np.pi / 2, np.pi), "both": (0.0, np.pi / 2)}


def _finite_gaps(title, gap_angles, **_):
    """Raise ValueError for a gap that stands nowhere."""
    good = np.isfinite(gap_angles)
    if not np.all(good):
        wrong = first_wrong(gap_angles, good)
        raise ValueError(f"{title}: gap_angles must be finite, got {wrong:.6g}.")


_finite_gaps.when = "an angle is not finite"


def _known_axes(title, avoid, **_):
    """Raise ValueError for axes that a piston does not have."""
    if avoid not in [*AXES]:
        raise ValueError(f'{title}: avoid must be "pin", "thrust" or "both", got {avoid!r}.')


_known_axes.when = 'avoid is not "pin", "thrust" or "both"'


def _whole_count(title, count, **_):
    """Raise ValueError for a number of gaps that is not whole, or has nothing between them."""
    if isinstance(count, bool) or not isinstance(count, int | np.integer) or count < 2:
        raise ValueError(f"{title}: count must be a whole number of 2 or more, got {count!r}.")


_whole_count.when = "count is not a whole number of 2 or more"


def _room_between(title, count, least_separation, **_):
    """Raise ValueError for a separation that so many gaps do not have room for."""
    if isinstance(count, int | np.integer) and count >= 2:
        _up_to(title, "least_separation", least_separation, _TURN / count, f"{count} gaps")


_room_between.when = "least_separation is below 0, or a turn has no room for it"


def _room_beside(title, avoid, axis_distance, **_):
    """Raise ValueError for a distance that no place has from the axes."""
    if avoid in [*AXES]:
        _up_to(title, "axis_distance", axis_distance, AXES[avoid][1] / 2, f'avoid "{avoid}"')


_room_beside.when = "axis_distance is below 0, or more than any place has"


def _up_to(title, name, angle, most, what):
    good = (np.asarray(angle) >= 0) & (np.asarray(angle) <= most + _TINY)
    if not np.all(good):
        wrong = np.degrees(first_wrong(angle, good))
        raise ValueError(
            f"{title}: {name} must be from 0 to {np.degrees(most):.6g} deg for {what}, got"
            f" {wrong:.6g} deg."
        )


_SPREAD = each_of(_whole_count, _known_axes, _room_between)


@quantities(returns="rad", refuse=must_list("gap_angles", least=2), gap_angles="rad")
def least_gap_separation(gap_angles):
    """Return the angle between the two gaps that are nearest to one another.

    Parameters
    ----------
    gap_angles : array
        Two or more along the last axis, in any order. [rad]

    Returns
    -------
    float or array
        The short way round. [rad]

    Sources
    -------
    [geometry] least difference of neighbours, the last one to the first included.

    Examples
    --------
    >>> print(f"{least_gap_separation(Q([10, 125, 250], 'deg')).to('deg'):.0f~P}")
    115 deg
    """
    angles = np.sort(np.mod(gap_angles, _TURN), axis=-1)
    after = np.concatenate([angles[..., 1:], angles[..., :1] + _TURN], axis=-1)
    return np.min(after - angles, axis=-1)


@quantities(
    returns="rad",
    refuse=each_of(_finite_gaps, _known_axes),
    gap_angles="rad",
)
def axis_distance(gap_angles, avoid):
    """Return how far each gap stands from the nearest axis to avoid.

    Parameters
    ----------
    gap_angles : float or array
        Clockwise from the front mark. [rad]
    avoid : str
        "pin", "thrust" or "both".

    Returns
    -------
    float or array
        From the nearest end of an axis, either way. [rad]

    Sources
    -------
    [geometry] an axis has two ends, half a turn apart.
    """
    first, period = AXES[avoid]
    beyond = np.mod(gap_angles - first, period)
    return np.minimum(beyond, period - beyond)


@quantities(returns="rad", gap_angles="rad", refuse=must_list("gap_angles", least=1))
def mirrored_gap_angles(gap_angles):
    """Return a placement for the other rotation: each gap as far from the major thrust side.

    Parameters
    ----------
    gap_angles : array
        One or more along the last axis. [rad]

    Returns
    -------
    array
        In the order given, from 0 to below a turn. [rad]

    Notes
    -----
    A turn less each angle: the front mark stays, left and right change places.
    """
    return _within_a_turn(-gap_angles)


@quantities(returns="rad", refuse=_SPREAD, least_separation="rad")
def greatest_axis_distance(count, least_separation, avoid):
    """Return how far from the axes gaps can stand, all of them, that must be so far apart.

    Parameters
    ----------
    count : int
        Number of gaps.
    least_separation : float or array
        Between any two gaps. [rad]
    avoid : str
        "pin", "thrust" or "both".

    Returns
    -------
    float or array
        Of the gap nearest to an axis. [rad]

    Notes
    -----
    At the best distance d a gap is d past an axis, and k separations on another is d short of
    one: d = (-k separation modulo the angle between axes) / 2, or half that angle. Each of these
    is tried. Three gaps a third of a turn apart lie at x, x + 30 and x + 60 modulo 90 deg, so
    that one of them is within 15 deg of an axis.

    Sources
    -------
    [geometry] a search among all distances that can be the greatest.

    Examples
    --------
    >>> print(f"{greatest_axis_distance(3, Q(120, 'deg'), 'both').to('deg'):.0f~P}")
    15 deg
    """
    period = AXES[avoid][1]
    best = np.where(least_separation <= _TURN / count + _TINY, 0.0, np.nan)
    for steps in range(count):
        short = np.mod(-steps * least_separation, period) if steps else period
        distance = short / 2
        better = (distance > best) & _fits(count, least_separation, distance, avoid)
        best = np.where(better, distance, best)
    return best


@quantities(
    returns="rad", refuse=each_of(_whole_count, _known_axes, _room_beside), axis_distance="rad"
)
def greatest_gap_separation(count, axis_distance, avoid):
    """Return how far apart gaps can stand that must be so far from the axes.

    Parameters
    ----------
    count : int
        Number of gaps.
    axis_distance : float or array
        Of every gap from the nearest axis to avoid. [rad]
    avoid : str
        "pin", "thrust" or "both".

    Returns
    -------
    float or array
        Of the two gaps nearest to one another; 0 when two must share a place. [rad]

    Notes
    -----
    At the best separation s some k steps lead from a gap just past an axis to one just short of
    another, or once round: k s = j times the angle between axes, less twice the distance or less
    nothing. Each of these is tried.

    Sources
    -------
    [geometry] a search among all separations that can be the greatest.
    """
    period = AXES[avoid][1]
    best = np.where(axis_distance <= period / 2 + _TINY, 0.0, np.nan)
    for steps in range(1, count + 1):
        for axes in range(1, round(_TURN / period) + 1):
            for short in (2 * axis_distance, 0.0):
                separation = (axes * period - short) / steps
                better = (separation > best) & _fits(count, separation, axis_distance, avoid)
                best = np.where(better, separation, best)
    return best


@quantities(returns="rad", refuse=_SPREAD, least_separation="rad")
def best_gap_angles(count, least_separation, avoid):
    """Return the placement of gaps farthest from the axes.

    Of placements as far from the axes the one with its gaps farthest apart; of these the one
    that starts nearest past an axis, the pin axis where that is avoided and else the thrust axis,
    and goes on clockwise with each gap as near to the one before as it may be.

    Parameters
    ----------
    count : int
        Number of gaps.
    least_separation : float or array
        Between any two gaps. [rad]
    avoid : str
        "pin", "thrust" or "both".

    Returns
    -------
    array
        Clockwise from the front mark, rising along a new last axis. [rad]

    Sources
    -------
    [geometry] see `greatest_axis_distance` and `greatest_gap_separation`.

    Examples
    --------
    >>> print(f"{best_gap_angles(3, Q(120, 'deg'), 'both').to('deg'):.0f~P}")
    [15 135 255] deg
    """
    distance = greatest_axis_distance.kernel(count, least_separation, avoid)
    apart = greatest_gap_separation.kernel(count, distance, avoid)
    apart = np.fmax(apart, least_separation)  # never a rounding error below what was wanted
    angles = np.stack(_clockwise(count, apart, distance, avoid), axis=-1)
    return np.sort(_within_a_turn(angles), axis=-1)


def _clockwise(count, separation, distance, avoid):
    """Return the angles of gaps from the first axis on, each as soon as it may be."""
    first, period = AXES[avoid]
    angles = [first + distance + 0.0 * separation]
    while len(angles) < count:
        angle = angles[-1] + separation
        beyond = np.mod(angle - first, period)
        angle = np.where(beyond < distance - _TINY, angle - beyond + distance, angle)
        past = beyond > period - distance + _TINY
        angles.append(np.where(past, angle - beyond + period + distance, angle))
    return angles


def _fits(count, separation, distance, avoid):
    """Say whether gaps so far apart have room so far from the axes.

    Any placement that fits can be turned until one gap is just past an axis, and all axes are
    alike: placed clockwise from there, each as soon as it may be, the last is early enough or
    there is no room.
    """
    angles = _clockwise(count, separation, distance, avoid)
    return angles[-1] + separation <= angles[0] + _TURN + _TINY


def _within_a_turn(angles):
    """Return angles from 0 to below a turn; one that rounding left just short of a turn is 0."""
    angles = np.mod(angles, _TURN)
    return np.where(angles > _TURN - _TINY, 0.0, angles)
