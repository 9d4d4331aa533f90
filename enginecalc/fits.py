"""Clearances between parts that run in one another. All are diametral, + when there is a gap."""

from enginecalc.units import quantities

_SHELLED = {"housing": "m", "journal": "m", "upper_shell": "m", "lower_shell": "m"}


@quantities(returns="m", **_SHELLED)
def oil_clearance(housing, journal, upper_shell, lower_shell):
    """Return a plain bearing's clearance from the sizes of its parts.

    Parameters
    ----------
    housing, journal : float or array
        Housing with its cap torqued, square to the parting line; journal at its largest. [m]
    upper_shell, lower_shell : float or array
        Wall thickness of each half at its crown. [m]

    Returns
    -------
    float or array
        Diametral clearance; negative when the parts do not go together. [m]

    Notes
    -----
    housing - upper shell - lower shell - journal.

    Sources
    -------
    [shigley9] Problems 12-1 to 12-3 (bore less journal).
    """
    return housing - upper_shell - lower_shell - journal
