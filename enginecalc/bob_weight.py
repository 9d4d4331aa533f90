"""The bob weight of a crank pin, and the two ends of a rod as masses.

For a balancing shop: what is clamped to each pin in place of rods and pistons. Nothing here says
how to grind a counterweight.
"""

import numpy as np

from enginecalc.units import above_zero, each_of, quantities

_MASSES = (
    "big_end",
    "rod_shells",
    "oil",
    "piston",
    "pin",
    "rings",
    "locks",
    "small_end",
)
_TAKES = {**dict.fromkeys(_MASSES, "kg"), "reciprocating_share": "1"}


def _must_be_a_card(title, **arguments):
    """Raise ValueError for a mass below zero, or a share that is not a share."""
    faults = []
    for name in _MASSES:
        if not np.all(np.greater_equal(arguments[name], 0.0)):
            faults.append(f"{name} must not be below zero")
    share = arguments["reciprocating_share"]
    if not np.all((np.greater_equal(share, 0.0)) & (np.less_equal(share, 1.0))):
        faults.append(
            f"reciprocating_share must lie between 0 and 1, got {share}; for a 90 deg V with two"
            " rods on each pin take 0.5"
        )
    if faults:
        raise ValueError(f"{title}: {'; '.join(faults)}.")


_must_be_a_card.when = "a mass is below zero, or reciprocating_share is not between 0 and 1"
_REFUSE = each_of(above_zero("rods", "big_end", "piston", "small_end"), _must_be_a_card)


@quantities(returns="kg", refuse=_REFUSE, **_TAKES)
def bob_weight_lines(
    rods,
    big_end,
    rod_shells,
    oil,
    reciprocating_share,
    piston,
    pin,
    rings,
    locks,
    small_end,
):
    """Return the lines of a bob-weight card, one for each sort of part; their sum is the weight.

    Parameters
    ----------
    rods : int or array
        Rods on the crank pin.
    big_end, rod_shells : float or array
        Of one rod: its crank end, and its two shell halves. [kg]
    oil : float or array
        On the crank pin. [kg]
    reciprocating_share : float or array
        Part of the reciprocating mass to count. [1]
    piston, pin, rings, locks, small_end : float or array
        Of one rod: what goes up and down with it. [kg]

    Returns
    -------
    array
        Big ends, shells, oil, then the shares of pistons, pins, rings, locks and small ends,
        along the first axis. [kg]

    Notes
    -----
    rods * big_end, rods * rod_shells, oil, and reciprocating_share * rods * each of the rest.
    """
    share = reciprocating_share * rods
    lines = [rods * big_end, rods * rod_shells, oil]
    lines += [share * each for each in (piston, pin, rings, locks, small_end)]
    return np.stack(np.broadcast_arrays(*lines))


@quantities(returns="kg", refuse=_REFUSE, **_TAKES)
def bob_weight(
    rods,
    big_end,
    rod_shells,
    oil,
    reciprocating_share,
    piston,
    pin,
    rings,
    locks,
    small_end,
):
    """Return the mass to clamp on a crank pin for balancing, in place of rods and pistons.

    Parameters
    ----------
    rods : int or array
        Rods on the crank pin.
    big_end, rod_shells : float or array
        Of one rod: its crank end, and its two shell halves. [kg]
    oil : float or array
        On the crank pin. [kg]
    reciprocating_share : float or array
        Part of the reciprocating mass to count: 0.5 for a 90 deg V with two rods on each pin;
        for any other crank the figure of its maker or of the balancing shop. [1]
    piston, pin, rings, locks, small_end : float or array
        Of one rod: what goes up and down with it. [kg]

    Returns
    -------
    float or array
        Bob weight of one crank pin. [kg]

    Notes
    -----
    rods (big_end + rod_shells) + oil
    + reciprocating_share rods (piston + pin + rings + locks + small_end).
    A 90 deg V's pair on one pin pulls in first order like one cylinder's reciprocating mass going
    round with the pin: half of the pair's, opposite the pin, cancels it.

    Sources
    -------
    [geometry] for the half; [bevan_tom] Example 5, p. 500, for a share of one cylinder.

    Examples
    --------
    >>> from enginecalc.units import Q
    >>> g = [Q(mass, "g") for mass in (520, 40, 4, 400, 100, 30, 2, 160)]
    >>> print(f"{bob_weight(2, *g[:3], 0.5, *g[3:]).to('g'):.0f~P}")
    1816 g
    """
    return bob_weight_lines.kernel(
        rods, big_end, rod_shells, oil, reciprocating_share, piston, pin, rings, locks, small_end
    ).sum(axis=0)


def _must_lie_between(title, rod_length, center_of_gravity, **_):
    """Raise ValueError where a center of gravity does not lie between the rod's two ends."""
    if not np.all((center_of_gravity > 0) & (center_of_gravity < rod_length)):
        raise ValueError(
            f"{title}: center_of_gravity must lie between the rod's two ends, as a distance from"
            " the big end's center."
        )


_must_lie_between.when = "the center of gravity does not lie between the rod's two ends"
_ROD = {"rod_mass": "kg", "rod_length": "m", "center_of_gravity": "m"}
_ROD_REFUSE = each_of(above_zero("rod_mass", "rod_length"), _must_lie_between)


@quantities(returns="kg", refuse=_ROD_REFUSE, **_ROD)
def small_end_mass(rod_mass, rod_length, center_of_gravity):
    """Return what the piston's end of a rod weighs when both ends rest on supports.

    Parameters
    ----------
    rod_mass : float or array
        The whole rod, cap and bolts with it, without shells. [kg]
    rod_length : float or array
        Center to center. [m]
    center_of_gravity : float or array
        From the big end's center to where the rod balances on an edge. [m]

    Returns
    -------
    float or array
        Mass of the small end. [kg]

    Notes
    -----
    rod_mass * center_of_gravity / rod_length.
    """
    return rod_mass * center_of_gravity / rod_length


@quantities(returns="kg", refuse=_ROD_REFUSE, **_ROD)
def big_end_mass(rod_mass, rod_length, center_of_gravity):
    """Return what the crank's end of a rod weighs when both ends rest on supports.

    Parameters
    ----------
    rod_mass : float or array
        The whole rod, cap and bolts with it, without shells. [kg]
    rod_length : float or array
        Center to center. [m]
    center_of_gravity : float or array
        From the big end's center to where the rod balances on an edge. [m]

    Returns
    -------
    float or array
        Mass of the big end: what the small end leaves of the whole. [kg]

    Notes
    -----
    rod_mass * (1 - center_of_gravity / rod_length).
    """
    return rod_mass * (1 - center_of_gravity / rod_length)
