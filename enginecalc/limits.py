"""A value held against its limits, in one of four words.

Limits are inclusive. Where each comes from stands in `data/reference/limits.csv` or in the engine
file's own ``[limits]``; this module only compares.
"""

import math

WITHIN, CLOSE, OUTSIDE, NOT_MEASURED = "within", "close", "outside", "not measured"
# Sizes and limits sit on one decimal grid: 0.045 must not fail against 0.045.
_ROUNDING = 1e-9  # of the limits, and 1e-12 of their unit


def status(value, low=None, high=None, u=None):
    """Return "within", "close", "outside" or "not measured".

    Parameters
    ----------
    value, low, high : float or None
        In one unit; None or nan for a value not measured, None for a side without limit.
    u : float or None
        Standard uncertainty of the value, in the same unit.

    Returns
    -------
    str
        "close" is inside, but nearer a limit than `u`, or than a tenth of the band between the
        limits; with one limit only, than a tenth of that limit.
    """
    if value is None or math.isnan(value):
        return NOT_MEASURED
    sides = [limit for limit in (low, high) if limit is not None]
    if not sides:
        return WITHIN
    room = min(
        value - low if low is not None else math.inf,
        high - value if high is not None else math.inf,
    )
    if room < -_ROUNDING * max(map(abs, sides)) - 1e-12:
        return OUTSIDE
    tenth = (high - low if len(sides) == 2 else abs(sides[0])) / 10
    return CLOSE if room < max(tenth, u or 0.0) * (1 - _ROUNDING) else WITHIN
