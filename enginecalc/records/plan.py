"""Two plans side by side, and the one dimension that is still to be found."""

import pandas as pd
from scipy.optimize import brentq

from enginecalc.records import figures
from enginecalc.records.reference import sizes
from enginecalc.records.results import results
from enginecalc.units import Q, UnitError, read, same_kind, to_si, ureg

_UNKNOWNS = {
    "compression_height": "piston.compression_height",
    "rod_length": "rod.length",
    "block_deck_height": "block.deck_height",
    "gasket_thickness": "gasket.thickness",
    "chamber_volume": "head.chamber_volume",
    "dish_volume": "piston.dish_volume",
}
_TARGETS = ("deck_clearance", "quench_distance", "compression_ratio")


def compare(a, b):
    """Return a table of two engines' results: plan A, plan B, difference.

    Returns
    -------
    pandas.DataFrame
        A row per result, indexed by its name, holding quantities; None where there is none.
    """
    pairs = [(one, other) for one, other in zip(results(a), results(b), strict=True)]
    return pd.DataFrame(
        {
            "plan A": [one.value for one, _ in pairs],
            "plan B": [other.value for _, other in pairs],
            "difference": [
                None if None in (one.value, other.value) else other.value - one.value
                for one, other in pairs
            ],
        },
        index=pd.Index([one.name for one, _ in pairs], name="result"),
        dtype=object,
    )


def find_dimension(engine, unknown, **target):
    """Return the one dimension that gives a wanted figure, all else as it is.

    Parameters
    ----------
    engine : Engine
        With all other dimensions.
    unknown : str
        compression_height, rod_length, block_deck_height, gasket_thickness, chamber_volume or
        dish_volume.
    **target : quantity
        One of deck_clearance, quench_distance (lengths), compression_ratio (a number).

    Returns
    -------
    quantity
        In the unit in which that dimension stands in the file.

    Raises
    ------
    ValueError
        When no real part could do it: says so, and between what sizes it was sought.
    """
    path = _UNKNOWNS.get(unknown) or (unknown if unknown in _UNKNOWNS.values() else None)
    if path is None:
        raise ValueError(f"cannot look for {unknown!r}; look for one of {', '.join(_UNKNOWNS)}")
    if len(target) != 1 or not target.keys() <= set(_TARGETS):
        raise ValueError(f"name one figure to reach: {', '.join(_TARGETS)}; got {list(target)}")
    ((name, wanted),) = target.items()
    goal = _in_si(name, wanted)
    inputs = figures.inputs(engine)

    def short_by(size):
        values = figures.Figures({**inputs, path: size})
        if name == "compression_ratio":  # by volumes: the ratio itself has a pole
            return values["swept_volume"] / (goal - 1) - values["clearance_volume"]
        return values[name] - goal

    ends = _sizes(path)
    low, high = map(to_si, ends)
    at_low, at_high = short_by(low), short_by(high)
    words = path.replace(".", " ").replace("_", " ")
    figure = f"{name.replace('_', ' ')} of {wanted:~P}" if hasattr(wanted, "units") else (
        f"{name.replace('_', ' ')} of {wanted}")  # fmt: skip
    unit = figures.field(engine, path).units
    if at_low == at_high:
        raise ValueError(
            f"the {name.replace('_', ' ')} does not depend on {words}; look for another"
        )
    if not at_low * at_high <= 0:
        raise ValueError(
            f"no real {words} gives a {figure} with the rest as it is: none between"
            f" {ends[0].to(unit):.4g~P} and {ends[1].to(unit):.4g~P} does; change another dimension"
        )
    size = brentq(short_by, low, high, xtol=1e-15, rtol=1e-14)
    found = Q(size, ends[0].to_base_units().units).to(unit)
    try:
        engine.altered({path: f"{found.magnitude:.12g} {found.units:~P}"})
    except ValueError as faults:
        raise ValueError(f"{words} {found:.4f~P} gives a {figure}, but then: {faults}") from None
    return found


def _in_si(name, wanted):
    """Return a wanted figure as an SI float."""
    unit = ureg.Unit(figures.UNITS[name])
    if name == "compression_ratio":
        if isinstance(wanted, bool | str) or not same_kind(getattr(wanted, "units", unit), unit):
            raise UnitError(f"compression_ratio needs a plain number, got {wanted!r}")
        try:
            ratio = float(wanted)
        except TypeError:
            raise UnitError(f"compression_ratio needs a plain number, got {wanted!r}") from None
        if not ratio > 1:
            raise ValueError(f"compression_ratio must be greater than one, got {ratio:g}")
        return ratio
    if not hasattr(wanted, "units") or wanted.dimensionality != unit.dimensionality:
        raise UnitError(f"{name} needs a unit like mm, got {wanted!r}. Write Q(number, 'unit').")
    return to_si(wanted)


def _sizes(path):
    """Return the least and greatest size that a real part can have, as quantities."""
    unit, ends = list(sizes()[path].items())[-1]
    return [read(f"{end} {unit}") for end in ends]
