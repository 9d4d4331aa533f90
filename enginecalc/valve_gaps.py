"""Where valve and piston come closest over a turn, and what the cam's phase does to it.

`after_tdc`, `center`, `drop_at_tdc` and the gap along the valve are those of `enginecalc.valves`.
"""

from dataclasses import dataclass

import numpy as np

from enginecalc.camshaft import lobe_center, wrap
from enginecalc.crank import (
    crank_angle_at,
    dwell_angle,
    must_turn,
    piston_position,
    piston_velocity,
    tdc_angle,
)
from enginecalc.units import Q, each_of, quantities
from enginecalc.valves import axial_gap, must_open

_STEP = np.radians(2)  # of the grid on which minima are looked for
_POLISH = 2  # secant steps: 1e-16 m from where eight of them come to
_LENGTHS = dict.fromkeys(("drop_at_tdc", "stroke", "rod_length", "pin_offset", "lash"), "m")


@dataclass(frozen=True)
class Minima:
    """The least gap near the overlap, in SI floats, for each phase asked for.

    `gap` and `after_tdc` are the least, `per_advance` its change per radian of cam advance; `gaps`
    and `angles` hold every local minimum along a last axis, nan where there are fewer: first those
    with the valve open, then the one at top dead center if the valve is shut there.
    """

    gap: np.ndarray
    after_tdc: np.ndarray
    per_advance: np.ndarray
    gaps: np.ndarray
    angles: np.ndarray


def _open_gap(after_tdc, lobe, center, lean, drop, stroke, rod_length, ratio, lash, pin_offset):
    """Return the gap, were the valve to go on through its seat, and the valve's lift."""
    crank = stroke, rod_length, pin_offset
    position = piston_position.kernel(tdc_angle.kernel(*crank) + after_tdc, *crank)
    lift = ratio * lobe.lift(wrap(after_tdc - center)) - lash
    return axial_gap.kernel(lift, position, drop, lean), lift


def _slopes(after_tdc, lobe, center, lean, drop, stroke, rod_length, ratio, lash, pin_offset):
    """Return the slopes per radian of that gap and that lift."""
    angle = tdc_angle.kernel(stroke, rod_length, pin_offset) + after_tdc
    piston = piston_velocity.kernel(angle, stroke, rod_length, 1.0, pin_offset)
    valve = ratio * lobe.slope(wrap(after_tdc - center))
    return piston * np.cos(lean) - valve, valve


def _grid(lobe, center, lean, drop, stroke, rod_length, ratio, lash, pin_offset):
    """Return the angles at which the gap can be less than the drop, and one step more."""
    crank = stroke, rod_length, pin_offset
    depth = (ratio * lobe.lobe_lift - lash) / np.cos(lean)
    after = crank_angle_at.kernel(depth, *crank) - tdc_angle.kernel(*crank)
    widest = np.max(np.maximum(after, dwell_angle.kernel(depth, *crank) - after))
    count = np.ceil((widest if widest < np.pi else np.pi) / _STEP) + 1
    return _STEP * np.arange(-count, count + 1)


def _polished(left, angle, right, train):
    """Return where the gap is level between `left` and `right`: secants from a first `angle`."""
    last, last_slope = (left + right) / 2, _slopes((left + right) / 2, *train)[0]
    for _ in range(_POLISH):
        slope = _slopes(angle, *train)[0]
        left, right = np.where(slope < 0, angle, left), np.where(slope < 0, right, angle)
        moved = angle != last
        bend = np.where(moved, slope - last_slope, 0.0) / np.where(moved, angle - last, 1.0)
        last, last_slope = angle, slope
        root = angle - slope / np.where(bend > 0, bend, np.inf)
        angle = np.where((root >= left) & (root <= right), root, (left + right) / 2)
    return angle


def gap_minima(
    lobe, center, valve_angle, drop_at_tdc, stroke, rod_length, rocker_ratio, lash, pin_offset=0.0
):
    """Return the `Minima` of the axial gap, in SI floats; all but the lobe may be arrays.

    With the valve shut the gap is least at top dead center; with it open every local minimum of a
    2 degree grid is polished by a parabola and secants held between its neighbors. Once the piston
    is farther down than the whole lift the gap exceeds the drop: the grid ends there. By the
    envelope theorem the gap's change with advance is minus the lift's slope at the minimum.
    """
    train = center, valve_angle, drop_at_tdc, stroke, rod_length
    train = (*train, rocker_ratio, lash, pin_offset)
    shape = np.broadcast_shapes(*map(np.shape, train))
    train = [np.broadcast_to(v, shape).reshape(-1, 1) if np.ndim(v) else v for v in train]
    grid = _grid(lobe, *train)
    curve, lift = _open_gap(grid, lobe, *train)
    curve = np.broadcast_to(curve, (int(np.prod(shape)), grid.size))
    row, at = np.nonzero((curve[:, 1:-1] <= curve[:, :-2]) & (curve[:, 1:-1] < curve[:, 2:]))
    before, here, after = curve[row, at], curve[row, at + 1], curve[row, at + 2]
    first = grid[at + 1] + _STEP / 2 * (before - after) / (before - 2 * here + after)
    picked = [lobe, *(v[row, 0] if np.ndim(v) else v for v in train)]
    angle = _polished(grid[at], first, grid[at + 2], picked)
    gap, opened = _open_gap(angle, *picked)
    found = np.where(opened > 0, [gap, angle, -_slopes(angle, *picked)[1]], np.nan)
    place = np.arange(row.size) - np.searchsorted(row, row)
    every = np.full((3, len(curve), place.max(initial=-1) + 2), np.nan)
    every[:, row, place] = found
    shut = np.broadcast_to(lift <= 0, curve.shape)[:, grid.size // 2]
    every[1:, shut, -1] = 0.0
    every[0, shut, -1] = np.broadcast_to(train[2], (len(curve), 1))[shut, 0]
    least = np.argmin(np.where(np.isnan(every[0]), np.inf, every[0]), axis=-1)
    best = every[:, np.arange(least.size), least].reshape(3, *shape)
    return Minima(*best, *every[:2].reshape(2, *shape, -1))


@quantities(
    returns="m",
    refuse=each_of(must_open, must_turn),
    center="rad",
    valve_angle="rad",
    rocker_ratio="1",
    **_LENGTHS,
)
def least_gap(
    lobe, center, valve_angle, drop_at_tdc, stroke, rod_length, rocker_ratio, lash, pin_offset=0.0
):
    """Return the least gap along the valve over all crank angles.

    Parameters
    ----------
    lobe : lobe
        As in the heading.
    center, valve_angle : float or array
        As in the heading; lean of the valve from the bore. [rad]
    drop_at_tdc, stroke, rod_length : float or array
        As in the heading and in `enginecalc.crank`. [m]
    rocker_ratio : float or array
        Valve lift over lobe lift. [1]
    lash, pin_offset : float or array
        Clearance at the valve, shut; as in `enginecalc.crank`. [m]

    Returns
    -------
    float or array
        Gap, to a floor parallel to the valve's face. [m]

    Notes
    -----
    `gap_minima` says how it is found, and how it changes with the cam's phase.
    """
    crank = drop_at_tdc, stroke, rod_length
    return gap_minima(lobe, center, valve_angle, *crank, rocker_ratio, lash, pin_offset).gap


def limit_advance(limit, lobe, center, **train):
    """Return the nearest cam advance from here, - retard, at which the least gap is `limit`.

    In SI floats, `train` being the other arguments of `gap_minima`; nan when the limit is not met
    within 60 degrees either way. Three ever finer grids, then a straight line.
    """
    advance = np.radians(np.arange(-60.0, 61.0, 2.0))
    for _ in range(3):
        over = gap_minima(lobe, center - advance, **train).gap - limit
        crossed = np.flatnonzero((over[1:] > 0) != (over[:-1] > 0))
        if not crossed.size:
            return np.nan
        at = crossed[np.argmin(abs(advance[crossed] + advance[crossed + 1]))]
        low, high = advance[at : at + 2]
        answer = low + (high - low) * over[at] / (over[at] - over[at + 1])
        advance = np.linspace(low, high, 31)
    return answer


def gap_map(valve, advance, separation, lobe, **train):
    """Return the least gap for every advance (rows) and lobe separation (columns), in SI floats.

    `advance` is the lobe separation less the intake centerline, `valve` "intake" or "exhaust",
    `train` the other arguments of `gap_minima`. A valve's gap depends on its own center alone, so
    each center is worked out once.
    """
    centers = lobe_center.kernel(separation, np.expand_dims(advance, -1), valve)
    phases, at = np.unique(np.round(centers, 12), return_inverse=True)
    return gap_minima(lobe, phases, **train).gap[at.reshape(centers.shape)]


@dataclass(frozen=True)
class StationGap:
    """The least gap from a hand's readings: by a parabola, as read, and the difference in words."""

    gap: Q
    after_tdc: Q
    read: Q
    sentence: str


@quantities(returns="m", drop="m", valve_lift="m")
def station_gap(drop, valve_lift):
    """Return the gap at stations of the crank.

    Parameters
    ----------
    drop, valve_lift : float or array
        How far the valve goes down from shut to the piston, and its net lift there. [m]

    Returns
    -------
    float or array
        Gap. [m]
    """
    return drop - valve_lift


def gap_from_stations(after_tdc, drop, valve_lift):
    """Return the `StationGap` from arrays of readings, as quantities, at rising crank angles.

    A parabola through the least gap and its neighbors comes nearer to the true least gap. Raises
    ValueError when the readings do not go together, or the least gap is at either end.
    """
    gaps, angles = station_gap(drop, valve_lift).m_as(drop.units), after_tdc.m_as("deg")
    if np.shape(angles) != np.shape(gaps) or not np.all(np.diff(angles) > 0):
        raise ValueError(
            "gap_from_stations: crank angles must rise, with a drop and lift for each."
        )
    at = np.argmin(gaps)
    if at in (0, len(gaps) - 1):
        raise ValueError(
            f"gap_from_stations: the least gap must not be at the first or last station, it is at"
            f" {angles[at]:.4g} deg. Measure farther on."
        )
    (x0, x1, x2), (g0, g1, g2) = angles[at - 1 : at + 2], gaps[at - 1 : at + 2]
    rise = (g1 - g0) / (x1 - x0)
    bend = ((g2 - g1) / (x2 - x1) - rise) / (x2 - x0)
    angle = (x0 + x1) / 2 - rise / (2 * bend)
    gap, read = (Q(g, drop.units) for g in (g1 - bend * (x1 - angle) ** 2, g1))
    return StationGap(
        gap,
        Q(angle, "deg"),
        read,
        f"stations {max(x1 - x0, x2 - x1):.3g}° apart read too much clearance: the least reading,"
        f" {read:.4g~P}, is {read - gap:.2g~P} more than the curve through it comes to",
    )
