"""Clearances between parts that run in one another, and the sizes to ask for to get them.

Those of bearings and pistons are diametral; all are + when there is a gap. Sizes held against one
another must be of one temperature, see `enginecalc.measured.reference_size`. A kernel also gives
a clearance below zero, which the formula refuses.
"""

import numpy as np

from enginecalc.units import Q, above_zero, first_wrong, quantities

_EQUAL = 1e-12  # m: sizes equal on paper, one in inches and one in mm, may differ by as much


def must_go_in(outer, *inner, advice, none=(), room=False):
    """Return a refusal, for `quantities`, of lengths that together exceed the one they go into.

    All must be above zero; those of `none` may be 0, not there. With `room` the parts may not
    fill the outer one either. `advice` closes the sentence.
    """
    sizes = above_zero(outer, *inner)
    parts = " + ".join(inner)

    def refuse(title, **arguments):
        present = arguments.copy()
        for name in none:
            value = present.get(name, 0.0)
            if type(value) is not float:
                present[name] = np.where(value == 0, 1.0, value)
            elif value == 0:
                present.pop(name, None)
        sizes(title, **present)
        there, filled = arguments[outer], sum(arguments.get(name, 0.0) for name in inner)
        good = filled < there - _EQUAL if room else filled <= there + _EQUAL
        if not np.all(good):
            wrong, there = (_mm(first_wrong(each, good)) for each in (filled, there))
            raise ValueError(
                f"{title}: {parts} must {'be less than' if room else 'not exceed'} {outer},"
                f" got {wrong} against {there}. {advice}"
            )

    there = [name for name in (outer, *inner) if name not in none]
    refuse.when = f"{' or '.join(there)} is not greater than zero, or "
    refuse.when += f"{' or '.join(none)} is below it, or " if none else ""
    refuse.when += f"{parts} {'is not less than' if room else 'exceeds'} {outer}"
    return refuse


def _mm(length):
    """Return a length in m as text in mm, to a ten-thousandth at the size of a bore."""
    return f"{Q(length, 'm').to('mm'):.7g~P}"


_SHELLS = "upper_shell", "lower_shell"
_SHELLED = {"housing": "m", **dict.fromkeys(_SHELLS, "m")}


@quantities(
    returns="m",
    refuse=must_go_in(
        "housing", "journal", *_SHELLS, none=_SHELLS, advice="Are these the right shells?"
    ),
    journal="m",
    **_SHELLED,
)
def oil_clearance(housing, journal, upper_shell=0.0, lower_shell=0.0):
    """Return a plain bearing's clearance from the sizes of its parts.

    Parameters
    ----------
    housing, journal : float or array
        Housing with its cap torqued, square to the parting line; journal at its largest. [m]
    upper_shell, lower_shell : float or array
        Wall thickness of each half at its crown. 0 when not given: the housing was then measured
        with its shells in, or has none. [m]

    Returns
    -------
    float or array
        Diametral clearance. [m]

    Notes
    -----
    housing - upper shell - lower shell - journal.

    Sources
    -------
    [shigley8_solutions] Problem 12-3 and [shigley_si_solutions] Problems 12-1, 12-2: bore less
    journal.

    Examples
    --------
    >>> sizes = (Q(size, "inch") for size in (2.3250, 2.2000, 0.0613, 0.0613))
    >>> print(f"{oil_clearance(*sizes).to('inch'):.4f~P}")
    0.0024 in
    """
    return housing - upper_shell - lower_shell - journal


@quantities(
    returns="m",
    refuse=must_go_in(
        *("housing", *_SHELLS, "oil_clearance"), none=_SHELLS, room=True, advice="No journal fits."
    ),
    oil_clearance="m",
    **_SHELLED,
)
def wanted_journal(housing, oil_clearance, upper_shell=0.0, lower_shell=0.0):
    """Return the journal to ask a grinder for.

    Parameters
    ----------
    housing, oil_clearance : float or array
        Housing as in the formula `oil_clearance`, and the clearance wanted. [m]
    upper_shell, lower_shell : float or array
        Of the shells that will be fitted; as in the formula `oil_clearance`. [m]

    Returns
    -------
    float or array
        Diameter. [m]

    Notes
    -----
    housing - upper shell - lower shell - clearance.
    """
    return housing - upper_shell - lower_shell - oil_clearance


@quantities(
    returns="1",
    refuse=above_zero("journal", "oil_clearance"),
    journal="m",
    oil_clearance="m",
)
def clearance_ratio(journal, oil_clearance):
    """Return how many times larger a journal is than its clearance.

    Parameters
    ----------
    journal, oil_clearance : float or array
        Diameter and diametral clearance. [m]

    Returns
    -------
    float or array
        About a thousand in engines: a thousandth of an inch for each inch of journal. [1]

    Notes
    -----
    journal / clearance, the same as radius over radial clearance.

    Sources
    -------
    [shigley8_solutions] Problem 12-3 and [shigley_si_solutions] Problems 12-1, 12-2: r/c.
    """
    return journal / oil_clearance


@quantities(
    returns="m",
    refuse=must_go_in("bore", "piston_diameter", room=True, advice="Swapped?"),
    bore="m",
    piston_diameter="m",
)
def piston_clearance(bore, piston_diameter):
    """Return the clearance of a piston in its bore.

    Parameters
    ----------
    bore, piston_diameter : float or array
        Bore, and piston at its maker's gauge point. [m]

    Returns
    -------
    float or array
        Diametral clearance. [m]

    Notes
    -----
    bore - piston.

    Sources
    -------
    [sharma_production] Examples 9.1, 9.5: clearance of a hole and a shaft.
    """
    return bore - piston_diameter


@quantities(
    returns="m",
    refuse=above_zero("piston_diameter", "piston_clearance"),
    piston_diameter="m",
    piston_clearance="m",
)
def wanted_bore(piston_diameter, piston_clearance):
    """Return the bore to ask for, each to its own piston.

    Parameters
    ----------
    piston_diameter, piston_clearance : float or array
        Piston at its maker's gauge point, and the clearance wanted. [m]

    Returns
    -------
    float or array
        Finished bore, at the piston's temperature. [m]

    Notes
    -----
    piston + clearance.
    """
    return piston_diameter + piston_clearance


@quantities(
    returns="m",
    refuse=must_go_in(
        *("pin_width", "rod_width", "second_rod_width"),
        none=["second_rod_width"],
        advice="The rods do not go on this pin.",
    ),
    pin_width="m",
    rod_width="m",
    second_rod_width="m",
)
def rod_side_clearance(pin_width, rod_width, second_rod_width=0.0):
    """Return how far the rods of one crank pin can move along it, all together.

    Parameters
    ----------
    pin_width, rod_width, second_rod_width : float or array
        Crank pin between its cheeks, and the rods on it; 0 for a second rod when not given. [m]

    Returns
    -------
    float or array
        Clearance of the pin, not of each rod. [m]

    Notes
    -----
    pin width - rod width - second rod width.
    """
    return pin_width - rod_width - second_rod_width


@quantities(
    returns="m",
    refuse=must_go_in("thrust_width", "thrust_bearing_width", advice="The crank would not turn."),
    thrust_width="m",
    thrust_bearing_width="m",
)
def crank_end_play(thrust_width, thrust_bearing_width):
    """Return how far the crank can move along its axis.

    Parameters
    ----------
    thrust_width, thrust_bearing_width : float or array
        Between the crank's two thrust faces, and over both flanges or washers between them. [m]

    Returns
    -------
    float or array
        What an indicator on the crank's end moves by when the crank is pushed to and fro. [m]

    Notes
    -----
    width between the faces - width over the bearing.
    """
    return thrust_width - thrust_bearing_width
