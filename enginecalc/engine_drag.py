"""The ring drag of all cylinders in one trace of the finished engine, and what it can tell.

Each cylinder's drag goes with `turning_torque.drag_shape`. Cylinders that reach their top together
drag alike at every angle, and an error grows where shapes are nearly alike. Crank angles as in
`crank`.
"""

import numpy as np

from enginecalc.crank import must_turn
from enginecalc.measured import must_list
from enginecalc.turning_torque import drag_shape
from enginecalc.units import each_of, quantities

_ANGLES = np.radians(np.arange(360.0))
_TOPS = {"tdc_angles": "rad", "stroke": "m", "rod_length": "m", "pin_offset": "m"}
_ENGINE = each_of(must_turn, must_list("tdc_angles", least=1))


def _by_top(tdc_angles, stroke, rod_length, pin_offset):
    """Return a column for each different top: the shapes of its cylinders, summed."""
    turned = np.round(np.degrees(tdc_angles), 6) % 360
    _, first, count = np.unique(turned, return_index=True, return_counts=True)
    after = _ANGLES[:, None] - tdc_angles[first]
    return count * drag_shape.kernel(after, stroke, rod_length, pin_offset)


@quantities(returns="1", refuse=_ENGINE, **_TOPS)
def drag_directions(tdc_angles, stroke, rod_length, pin_offset=0.0):
    """Return how many cylinders' ring drags one trace of the finished engine could tell apart.

    Parameters
    ----------
    tdc_angles : array
        The cylinders' tops. [rad]
    stroke, rod_length, pin_offset : float
        The crank's geometry, as in `crank`. [m]

    Returns
    -------
    int
        Independent shapes over a turn: as many as there are different tops, for cylinders that
        reach their top together drag alike at every angle. [1]

    Notes
    -----
    Rank of the matrix of `drag_shape`, cylinder by cylinder, over a turn.
    """
    return int(np.linalg.matrix_rank(_by_top(tdc_angles, stroke, rod_length, pin_offset)))


@quantities(returns="1", refuse=_ENGINE, **_TOPS)
def drag_condition(tdc_angles, stroke, rod_length, pin_offset=0.0):
    """Return how much an error of a trace may grow where one blames cylinders from it.

    Parameters
    ----------
    tdc_angles : array
        The cylinders' tops. [rad]
    stroke, rod_length, pin_offset : float
        The crank's geometry, as in `crank`. [m]

    Returns
    -------
    float
        Condition number of one column for each different top beside a constant. [1]

    Notes
    -----
    Greatest over least singular value; a column is the sum of `drag_shape` of the cylinders that
    reach that top together.

    Sources
    -------
    [golub_matrix] the condition number of least squares.
    """
    shapes = _by_top(tdc_angles, stroke, rod_length, pin_offset)
    return float(np.linalg.cond(np.c_[np.ones(len(shapes)), shapes]))
