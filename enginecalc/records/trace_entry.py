"""A trace of turning torque typed in one go: one figure for each step of the degree wheel."""

import re

from enginecalc.records.places import place_words
from enginecalc.records.torque_readings import WAYS, fitted
from enginecalc.records.torque_trace import WIDEST
from enginecalc.units import read

_TURNS = 360.0, 720.0  # degrees that a trace may go round
_BETWEEN = re.compile(r"\s*;\s*|\s*,\s+|\s+")
_FEATURE = "turning torque trace"


def save_trace(build, place, way, text, unit, step, *, by, start=0.0, instrument=""):
    """Save a trace to a build's ledger, a row for each figure, and return how many.

    It takes the place of an older trace of this place and direction: rows of that one at other
    angles are withdrawn in the same batch.

    Parameters
    ----------
    place : str
        "engine" for the crank alone, else the cylinder whose piston went in last.
    way : str
        "forward" or "back".
    text : str
        Figures with blanks, line ends, semicolons, or commas and blanks between them, in the
        running direction's order.
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
    _must_be_known(build, place, way, by)
    figures = [each for each in _BETWEEN.split(text.strip()) if each]
    if not figures:
        raise ValueError("trace: blank is not zero; type a figure for each step of the wheel")
    if not 0 < step <= WIDEST:
        raise ValueError(f"trace: the wheel must go on by more than zero, {WIDEST:g} deg at most,"
                         f" got {step:g} deg")  # fmt: skip
    if faults := [*_faults(figures, unit)]:
        raise ValueError("\n".join([*faults[:5], "nothing was saved"]))
    turn = _turn(len(figures), step)
    key = {"place": place, "part": "crank", "feature": _FEATURE, "direction": way}
    rows = [
        {**key, "angle": f"{(start + at * step) % turn:g}", "repeat": 1 + int(at * step // turn),
         "value": each, "unit": unit, "by": by, "instrument": instrument}
        for at, each in enumerate(figures)
    ]  # fmt: skip
    new = {(row["angle"], str(row["repeat"])) for row in rows}
    standing = build.readings.latest(**key).to_dict("records")
    older = [row for row in standing if (row["angle"], row["repeat"]) not in new]
    build.readings.withdraw_many(older, by=by, note="another trace was typed", instead=rows)
    return len(rows)


def withdraw_trace(build, place, way, *, by, note=""):
    """Take back the trace of a place and direction, and return how many rows that were.

    Raises
    ------
    ValueError
        When there is none, or nobody's name stands with it.
    """
    _must_be_known(build, place, way, by)
    key = {"place": place, "part": "crank", "feature": _FEATURE, "direction": way}
    rows = build.readings.latest(**key).to_dict("records")
    if not rows:
        raise ValueError(f"trace: there is none of {place_words(place)}, {way}, to take back")
    return len(build.readings.withdraw_many(rows, by=by, note=note))


def _must_be_known(build, place, way, by):
    known = ("engine", *map(str, build.cylinders))
    if place not in known:
        raise ValueError(f"trace: place must be {' or '.join(known)}, got {place!r}")
    if way not in WAYS:
        raise ValueError(f"direction must be {' or '.join(WAYS)}, got {way!r}")
    if not by.strip():
        raise ValueError("trace: say by whom first; nothing was saved")
    begun = fitted(build).begun
    if begun and place not in begun:
        raise ValueError(f"trace: {place_words(place)}: log its turning torque first; nothing was"
                         " saved")  # fmt: skip


def _faults(figures, unit):
    """Yield what is wrong with each figure."""
    for at, each in enumerate(figures, 1):
        if each.startswith(",") or len(re.findall("[.,]", each)) > 1:
            yield f"trace: figure {at}: {each}: put spaces between the figures"
            continue
        try:
            if read(f"{each} {unit}", "torque").magnitude < 0:
                yield (f"trace: figure {at}: {each} {unit}: type a turning torque as positive,"
                       " whichever way the crank turned")  # fmt: skip
        except ValueError as fault:
            yield f"trace: figure {at}: {fault}"


def _turn(count, step):
    """Return the degrees that figures go round, whether or not the first angle is read again."""
    for turn in _TURNS:
        if min(abs(each * step - turn) for each in (count, count - 1)) <= step / 2:
            return turn
    figures, cover = ("figure", "covers") if count == 1 else ("figures", "cover")
    raise ValueError(f"trace: {count} {figures} by {step:g} deg {cover} {count * step:g} deg; a"
                     " trace goes all round: 360 or 720 deg")  # fmt: skip
