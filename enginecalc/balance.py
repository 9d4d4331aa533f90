"""When each cylinder fires, and what its moving parts leave unbalanced, for any layout.

Bank angles are clockwise from vertical in the front view. A crank pin's lead says how far it runs
ahead of pin 1 in the running direction. `rotation` is +1 for standard rotation (clockwise from
the front) and -1 for reverse.

Shaking forces are what the moving parts do to the block, as x and y in the front view, + right
and + up. A couple is each force times its cylinder's place along the crank from mid-length, + to
the rear: + up lifts the rear end. The rod counts as two masses, one at each end: for force and
couple that is exact, as its center of gravity goes the same way. Torque about the crank, and how
block and mounts give way, are left out.

Sources: [sae_j824], [iso1204] for rotation and the naming of banks.
"""

import numpy as np

from enginecalc.crank import must_turn, piston_acceleration
from enginecalc.units import Q, above_zero, each_of, quantities

_TURN = 2 * np.pi
_TINY = 1e-9
ORDERS = (1, 2, 4, 6)


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


@quantities(returns="m", refuse=above_zero("bore_spacing"), bore_spacing="m", bank_offset="m")
def cylinder_positions(places, sides, bore_spacing, bank_offset=0.0):
    """Return where each cylinder stands along the crank, from mid-length, + to the rear.

    Parameters
    ----------
    places : array
        Of each cylinder, counted from the front: its crank pin, or with a pin to each cylinder
        its place in its bank. Mid-length is half way between the first and the last.
    sides : array
        -1 for a cylinder of the bank that stands in front, +1 for one of the other, 0 inline.
    bore_spacing : float
        Between neighbours of one bank. [m]
    bank_offset : float
        How far one bank stands behind the other; with two rods side by side on a pin, the width
        of a rod. [m]

    Returns
    -------
    array
        One entry for each cylinder. [m]

    Notes
    -----
    (place - middle) * bore_spacing + side * bank_offset / 2.
    """
    middle = (np.min(places) + np.max(places)) / 2
    return np.subtract(places, middle) * bore_spacing + np.multiply(sides, bank_offset / 2)


_BY_CYLINDER = (
    "positions",
    "bank_angles",
    "tdc_angles",
    "reciprocating_mass",
    "rotating_mass",
    "counterweight_mass",
)


def _must_go_together(title, rotation=1, **arguments):
    """Raise ValueError for a list that has not one entry for each cylinder, or a false rotation."""
    counts = {name: np.size(arguments[name]) for name in _BY_CYLINDER if name in arguments
              and np.ndim(arguments[name])}  # fmt: skip
    faults = []
    if len(set(counts.values())) > 1:
        told = ", ".join(f"{count} of {name}" for name, count in counts.items())
        faults.append(f"each list must have one entry for each cylinder, got {told}")
    if rotation not in (1, -1):
        faults.append(f"rotation must be 1 for standard or -1 for reverse, got {rotation!r}")
    if faults:
        raise ValueError(f"{title}: {'; '.join(faults)}.")


_must_go_together.when = "the lists have not one entry for each cylinder"
_MOVING = {
    "crank_angle": "rad",
    "stroke": "m",
    "rod_length": "m",
    "engine_speed": "rad/s",
    "reciprocating_mass": "kg",
    "bank_angles": "rad",
    "tdc_angles": "rad",
    "rotating_mass": "kg",
    "counterweight_mass": "kg",
    "pin_offset": "m",
}
_REFUSE = each_of(must_turn, above_zero("reciprocating_mass"), _must_go_together)


def _pulls(crank_angle, stroke, rod_length, engine_speed, reciprocating_mass, bank_angles,
           tdc_angles, rotation, rotating_mass, counterweight_mass, pin_offset):  # fmt: skip
    """Return what each cylinder's parts do to the block: x and y, by angle and by cylinder."""
    own = np.expand_dims(crank_angle, -1) - tdc_angles
    along = reciprocating_mass * piston_acceleration.kernel(
        own, stroke, rod_length, engine_speed, pin_offset
    )
    outward = (rotating_mass - counterweight_mass) * (stroke / 2 * engine_speed**2)
    pin = bank_angles + rotation * own
    return np.stack(
        [
            along * np.sin(bank_angles) + outward * np.sin(pin),
            along * np.cos(bank_angles) + outward * np.cos(pin),
        ]
    )


@quantities(returns="N", refuse=_REFUSE, **_MOVING)
def shaking_force(
    crank_angle,
    stroke,
    rod_length,
    engine_speed,
    reciprocating_mass,
    *,
    bank_angles,
    tdc_angles,
    rotation=1,
    rotating_mass=0.0,
    counterweight_mass=0.0,
    pin_offset=0.0,
):
    """Return the net force of the moving parts on the block, as x and y in the front view.

    Parameters
    ----------
    crank_angle : float or array
        Of the first cylinder, from its crank pin's top. [rad]
    stroke, rod_length : float
        As in `enginecalc.crank`. [m]
    engine_speed : float
        Steady speed of the crank. [rad/s]
    reciprocating_mass : float or array
        Of each cylinder, or one for all. [kg]
    bank_angles, tdc_angles : array
        Of each cylinder: its bank, and the crank angle at which it stands at its top. [rad]
    rotation : int
        +1 standard, -1 reverse.
    rotating_mass : float or array
        What goes round with the crank pin: big end, shells, oil; of each cylinder or one for
        all, 0 when not given. [kg]
    counterweight_mass : float or array
        What the counterweights hold against each cylinder, as a mass opposite its pin at the
        pin's radius: its share of the bob weight; 0 when not given. [kg]
    pin_offset : float
        As in `enginecalc.crank`, the same for all cylinders. [m]

    Returns
    -------
    array
        x and y along the first axis, then the angles. [N]

    Notes
    -----
    Sum over cylinders of m_rec a (sin b, cos b) + (m_rot - m_cw) r w^2 (sin p, cos p): a the
    piston's acceleration at the cylinder's own angle t, b its bank, p = b + rotation t its pin.

    Sources
    -------
    [josephs_huston] equations 15.7.8-15.7.11; [bevan_tom] chapter 14.

    Examples
    --------
    >>> one = {"bank_angles": Q([90.0], "deg"), "tdc_angles": Q([0.0], "deg")}
    >>> crank = Q(80, "mm"), Q(120, "mm"), Q(100, "rad/s")
    >>> print(f"{shaking_force(Q(0, 'deg'), *crank, Q(0.3, 'kg'), **one):.2f~P}")
    [160.00 0.00] N
    """
    return _pulls(
        crank_angle, stroke, rod_length, engine_speed, reciprocating_mass, bank_angles,
        tdc_angles, rotation, rotating_mass, counterweight_mass, pin_offset,
    ).sum(axis=-1)  # fmt: skip


@quantities(returns="N*m", refuse=_REFUSE, positions="m", **_MOVING)
def shaking_couple(
    crank_angle,
    stroke,
    rod_length,
    engine_speed,
    reciprocating_mass,
    *,
    positions,
    bank_angles,
    tdc_angles,
    rotation=1,
    rotating_mass=0.0,
    counterweight_mass=0.0,
    pin_offset=0.0,
):
    """Return the couple of the moving parts on the block about mid-length of the crank.

    Given as each force times its place: x and y of the front view, + up lifting the rear end.
    An order's couple is free of where the places count from only when its force is zero.

    Parameters
    ----------
    crank_angle : float or array
        Of the first cylinder, from its crank pin's top. [rad]
    stroke, rod_length : float
        As in `enginecalc.crank`. [m]
    engine_speed : float
        Steady speed of the crank. [rad/s]
    reciprocating_mass : float or array
        Of each cylinder, or one for all. [kg]
    positions : array
        Of each cylinder along the crank, from mid-length, + to the rear; a counterweight counts
        where its cylinder stands. [m]
    bank_angles, tdc_angles : array
        Of each cylinder, as in `shaking_force`. [rad]
    rotation : int
        +1 standard, -1 reverse.
    rotating_mass, counterweight_mass : float or array
        Of each cylinder or one for all, as in `shaking_force`. [kg]
    pin_offset : float
        As in `enginecalc.crank`, the same for all cylinders. [m]

    Returns
    -------
    array
        x and y along the first axis, then the angles. [N*m]

    Notes
    -----
    Sum over cylinders of position times force.

    Sources
    -------
    [josephs_huston] equations 15.7.8-15.7.11 and Table 15.10.2.
    """
    pulls = _pulls(
        crank_angle, stroke, rod_length, engine_speed, reciprocating_mass, bank_angles,
        tdc_angles, rotation, rotating_mass, counterweight_mass, pin_offset,
    )  # fmt: skip
    return (pulls * positions).sum(axis=-1)


def order_axes(vectors, orders=ORDERS):
    """Return the greatest and the least amplitude of each order of a vector over one turn.

    A force or couple of one order runs round an ellipse: these are its half axes. The least is 0
    where it only goes to and fro; both are equal where it turns at one size.

    Parameters
    ----------
    vectors : array or quantity
        x and y along the first axis, at evenly spaced angles over one turn, its end left out.
    orders : tuple of int
        Multiples of crank speed, from 1 up to less than half the number of angles.

    Returns
    -------
    array or quantity
        Greatest and least along the first axis, then the orders; in the unit of `vectors`.

    Raises
    ------
    ValueError
        When an order cannot be told from so many angles.

    Notes
    -----
    With c_n of the Fourier series of x + i y: |c_n| + |c_-n| and ||c_n| - |c_-n||.
    """
    if hasattr(vectors, "units"):
        return Q(order_axes(vectors.magnitude, orders), vectors.units)
    (x, y), orders = vectors, np.asarray(orders)
    if not np.all((orders >= 1) & (2 * orders < len(x))):
        raise ValueError(
            f"order_axes: orders must be from 1 to less than half of {len(x)} angles, got"
            f" {', '.join(map(str, orders.tolist()))}."
        )
    parts = np.abs(np.fft.fft(x + 1j * y)) / len(x)
    return np.stack([parts[orders] + parts[-orders], np.abs(parts[orders] - parts[-orders])])
