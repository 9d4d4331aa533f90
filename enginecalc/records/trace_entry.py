"""A trace of turning torque typed in one go: one figure for each step of the degree wheel."""

import re

from enginecalc.records.torque_readings import WAYS
from enginecalc.units import read

_TURNS = 720.0  # degrees: two turns are the most a trace goes round


def save_trace(build, place, way, text, unit, step, *, by, start=0.0, instrument=""):
    """Save a trace to a build's ledger, a row for each figure, and return how many.

    Parameters
    ----------
    place : str
        "engine" for the crank alone, else the cylinder whose piston went in last.
    way : str
        "forward" or "back".
    text : str
        Figures with blanks, semicolons or line ends between them, in the running direction's order.
    unit : str
        Of all of them, such as "lbf·ft".
    step, start : float
        Degrees from one to the next, and of the first, after the first cylinder's true top; of a
        trace over two turns, after its firing top.
    by : str
        Who read them.

    Raises
    ------
    ValueError
        Naming the figure that cannot be read, or what else is wrong: nothing was saved.
    """
    known = ("engine", *map(str, build.cylinders))
    if place not in known:
        raise ValueError(f"trace: place must be {' or '.join(known)}, got {place!r}")
    if way not in WAYS:
        raise ValueError(f"direction must be {' or '.join(WAYS)}, got {way!r}")
    if not by.strip():
        raise ValueError("trace: say by whom first; nothing was saved")
    figures = [each for each in re.split(r"[\s;]+", text.strip()) if each]
    if not figures:
        raise ValueError("trace: blank is not zero; type a figure for each step of the wheel")
    if not step > 0:
        raise ValueError(f"trace: the wheel must go on by more than zero, got {step:g} deg")
    if len(figures) * step > _TURNS:
        raise ValueError(f"trace: {len(figures)} figures by {step:g} deg are"
                         f" {len(figures) * step:g} deg; two turns, 720, are the most")  # fmt: skip
    faults = []
    for at, each in enumerate(figures, 1):
        try:
            if read(f"{each} {unit}", "torque").magnitude < 0:
                faults.append(f"trace: figure {at}: {each} {unit}: type a turning torque as"
                              " positive, whichever way the crank turned")  # fmt: skip
        except ValueError as fault:
            faults.append(f"trace: figure {at}: {fault}")
    if faults:
        raise ValueError("\n".join([*faults[:5], "nothing was saved"]))
    turn = 360.0 if (len(figures) - 1) * step <= 360 else _TURNS
    key = {"place": place, "part": "crank", "feature": "turning torque trace", "direction": way}
    rows = [
        {**key, "angle": f"{(start + at * step) % turn:g}", "repeat": 1 + int(at * step // turn),
         "value": each, "unit": unit, "by": by, "instrument": instrument}
        for at, each in enumerate(figures)
    ]  # fmt: skip
    return len(build.readings.append_many(rows))
