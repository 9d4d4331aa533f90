"""How sure a result is: the uncertainty of its inputs carried through, linearly.

Sources: [gum] 5.1.2, the law of propagation for inputs that do not depend on one another; the
sensitivities by central difference over one standard uncertainty.
"""

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Spread:
    """How far a result may be off: standard uncertainty, worst case, and what makes it so.

    `contributions` is {input: signed change for one standard uncertainty}, greatest first;
    `worst` the sum of their sizes. All in the unit of the result.
    """

    u: float
    worst: float
    contributions: dict

    def shares(self):
        """Return {input: share of the variance}, greatest first."""
        return {name: (part / self.u) ** 2 for name, part in self.contributions.items() if self.u}


def shifted(inputs, uncertain):
    """Return the inputs as columns: as they are, then each uncertain one plus and minus its u."""
    columns = dict(inputs)
    for at, (name, u) in enumerate(uncertain.items()):
        column = np.full(2 * len(uncertain) + 1, inputs[name], dtype=float)
        column[2 * at + 1] += u
        column[2 * at + 2] -= u
        columns[name] = column
    return columns


def spread(column, names):
    """Return the `Spread` of a result from its column over `shifted` inputs, or None.

    Parameters
    ----------
    column : float or array
        The result over the columns; a plain number does not depend on them.
    names : sequence of str
        The uncertain inputs, in the order of their columns.
    """
    if np.ndim(column) == 0:
        return None
    changes = (column[1::2] - column[2::2]) / 2
    ordered = sorted(zip(names, changes.tolist(), strict=True), key=lambda pair: -abs(pair[1]))
    parts = {name: change for name, change in ordered if change}
    return Spread(math.hypot(*parts.values()), sum(map(abs, parts.values())), parts)
