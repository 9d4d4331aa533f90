"""What to suspect when a crank turns hard, and what its torque alone does not tell."""

import numpy as np

from enginecalc.engine_drag import drag_condition, drag_directions
from enginecalc.records.places import listed
from enginecalc.records.reference import table
from enginecalc.records.work_order import SIDE_PLAY

CONSTANT, NO_SIDE_PLAY = "constant at all angles", "constant, no side play"


def causes(*patterns):
    """Return rows of `data/reference/drag_causes.csv`: what to suspect for each pattern of drag.

    Parameters
    ----------
    *patterns : str
        Such as "large mid-stroke"; all of them when there is none.

    Returns
    -------
    list of dict
        pattern, turns, at, suspects, look, caution and source.

    Raises
    ------
    ValueError
        When there is no such pattern; names those there are.
    """
    known = {row["pattern"]: row for row in table("drag_causes").to_dict("records")}
    if strange := [each for each in patterns if each not in known]:
        raise ValueError(f"pattern {strange[0]!r} is not known; take one of {'; '.join(known)}")
    return [known[each] for each in patterns or known]


def constant_patterns(build, place, held):
    """Return the patterns of a drag alike at all angles that the side play of a cylinder leaves.

    A rod that is alone on its pin says nothing by its side play: both patterns stay.

    Parameters
    ----------
    place : str
        The cylinder.
    held : collection
        The cylinders whose pistons were in before.
    """
    pins = {str(each.number): each.pin for each in build.engine.layout.cylinder}
    rows = build.readings.steps(place=place, feature=SIDE_PLAY)
    found = tuple(rows["note"][-1:]) if pins[place] in map(pins.get, held) else ()
    left = {("free",): (CONSTANT,), ("tight",): (NO_SIDE_PLAY,)}
    return left.get(found, (CONSTANT, NO_SIDE_PLAY))


def patterns_of_tight(build, place, held):
    """Return the patterns of drag that may be behind a piston that adds too much."""
    constant = constant_patterns(build, place, held)
    if constant == (NO_SIDE_PLAY,):
        return constant
    known = [row["pattern"] for row in causes() if "main cap" not in row["pattern"]]
    return tuple(each for each in known if each != NO_SIDE_PLAY or each in constant)


def of_finished_engine(engine):
    """Return the sentence on what one trace of the finished engine cannot tell."""
    crank = [engine.values[each] for each in ("crank.stroke", "rod.length")]
    if None in crank:
        return "crank.stroke and rod.length are needed to say what a trace could tell"
    crank.append(engine.values["pin_axis_offset"] or 0.0)
    angles = np.radians(list(engine.layout.tdc_angles().values()))
    count, ways = len(angles), drag_directions.kernel(angles, *crank)
    if count == 1:
        return "a trace of the finished engine is that of its one cylinder, and of the crank"
    student = (f"({ways} independent direction{'s' * (ways > 1)} for {count} cylinders; an error"
               f" may grow {drag_condition.kernel(angles, *crank):.0f} times)")  # fmt: skip
    together = [listed(group) for group in engine.layout.companions()]
    if not together:
        return ("one trace of the finished engine names a cylinder badly: a small error of reading"
                f" grows too much; log after each piston instead {student}")  # fmt: skip
    first, *others = together
    said = f"{first} reach their tops together and drag at the same angles"
    said += f", so do {'; '.join(others)}" if others else ""
    return (
        f"one trace of the finished engine cannot name a cylinder: {said}; log after each piston"
        f" instead {student}"
    )
