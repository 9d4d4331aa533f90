"""Which parts of a block come nearest where a cylinder was felt to touch."""

import numpy as np

from enginecalc.records.clearances import block_clearances
from enginecalc.units import Q, to_si

NEAR = 10.0  # degrees between a contact and the place of a least clearance
_CLOSE = 3.0, Q(0.120, "inch")  # limits of a pair, and length, below which it is near: our own
_LENGTHS = {"in": 3, "mm": 2}  # decimals of a clearance in words


def contacts_near(engine, cylinder, angle, two_turns=False):
    """Return the pairs that come near within 10 degrees of where a cylinder was felt to touch.

    Near is less than three times the least that is allowed, or less than 0.120 in.

    Parameters
    ----------
    engine : Engine
        With what `clearances.block_clearances` needs.
    cylinder : int or str
        Its number.
    angle : quantity
        After its own true top; an array has several.
    two_turns : bool
        True where angles count to 720 from the firing top; a pair at its true phase is then near
        in its own turn only. Over one turn nobody knows which it was, so it is near in either.

    Returns
    -------
    pandas.DataFrame
        Rows of `block_clearances`, the least clearance first.
    """
    table = block_clearances(engine)
    table = table[table.cylinder.map(str) == str(cylinder)]
    wanted, near = np.atleast_1d(angle.m_as("deg")), []
    times, length = _CLOSE
    for row in table.itertuples():
        turn = 720 if two_turns and "true phase" in row.pair else 360
        apart = angle_apart(row.crank_angle.m_as("deg"), wanted, turn)
        close = row.clearance < max(times * row.limit, length)
        near.append(bool(close and np.any(apart <= NEAR)))
    table = table[np.array(near, bool)]
    return table.sort_values("clearance", key=lambda column: column.map(to_si))


def angle_apart(one, other, turn):
    """Return how far angles lie apart round a turn, in degrees."""
    return np.abs((one - other + turn / 2) % turn - turn / 2)


def contact_words(near):
    """Return each row of `contacts_near` in words."""
    return [_clearance(row) for row in near.itertuples()]


def _clearance(row):
    """Return a row of `block_clearances` in words."""
    gap, digits = row.clearance, _LENGTHS.get(f"{row.clearance.units:~P}", 4)
    where = f"{gap.magnitude:.{digits}f} {gap.units:~P} at {row.crank_angle.m_as('deg'):.0f} deg"
    return f"{row.pair} ({row.feature}), {where}".replace("-", "−")
