"""When each cylinder stands at its top and fires, for any layout and either rotation.

Bank angles are clockwise from vertical in the front view. A crank pin's lead says how far it runs
ahead of pin 1 in the running direction. `rotation` is +1 for standard rotation (clockwise from
the front) and -1 for reverse.

Sources: [sae_j824], [iso1204] for rotation and the naming of banks.
"""

import numpy as np

from enginecalc.units import quantities

_TURN = 2 * np.pi
_TINY = 1e-9


@quantities(returns="rad", bank_angles="rad", pin_leads="rad")
def tdc_angles(bank_angles, pin_leads, rotation=1):
    """Return the crank angle at which each cylinder stands at its top, from the first one's.

    Parameters
    ----------
    bank_angles, pin_leads : array
        One entry for each cylinder: of its bank, and of the pin its rod sits on. [rad]
    rotation : int
        +1 standard, -1 reverse.

    Returns
    -------
    array
        From 0 up to one turn. [rad]

    Notes
    -----
    rotation (bank - bank 1) - (lead - lead 1), modulo a turn.
    """
    angles = rotation * (bank_angles - bank_angles[0]) - (pin_leads - pin_leads[0])
    return np.maximum(np.mod(angles + _TINY, _TURN) - _TINY, 0.0)


@quantities(returns="rad", tdc_angles_in_order="rad")
def firing_angles(tdc_angles_in_order):
    """Return when each cylinder of a firing order fires, from the first.

    Parameters
    ----------
    tdc_angles_in_order : array
        Each cylinder's top, in firing order. [rad]

    Returns
    -------
    array
        Each the next passing of that cylinder's top after the last firing; an order fits the
        engine when all lie under two turns. [rad]
    """
    steps = np.mod(np.diff(tdc_angles_in_order) + _TINY, _TURN) - _TINY
    steps = np.where(steps < 2 * _TINY, _TURN, steps)  # the same top: a turn apart
    return np.concatenate([[0.0], np.cumsum(steps)])
