"""What is right at a step of the assembly, and why something that was found there is not."""

import re

from enginecalc.records.bolts import WRENCH_TOLERANCE, carried_over
from enginecalc.records.drag_causes import NO_SIDE_PLAY, causes
from enginecalc.records.fit_results import fit_results
from enginecalc.records.orientation import SIDES, backwards, orientation, tang_side_like
from enginecalc.records.reference import rows
from enginecalc.records.results import Result, limits_of
from enginecalc.records.ring_placement import placements
from enginecalc.records.torque_log import torque_log
from enginecalc.records.torque_readings import torque_text
from enginecalc.records.work_order import (
    BOLT_LUBRICANT,
    BOLT_TORQUE,
    CAM_PHASE,
    DONE,
    END_PLAY_AGAIN,
    LAST_TURNS,
    SIDE_PLAY,
    SIGNATURE,
    TANG_SIDE,
)
from enginecalc.units import read, to_si, ureg

_INCH, _METER = ureg.Unit("inch"), ureg.Unit("m")
_MORE = 1.5  # times the last torque of the log: seals and pump add to it; a bound of our own
_NEAR_CARD = 1.0  # crank degrees of the cam from its card, for a street engine
_NAMES = re.compile(r"[^\W\d_]+")
_DRAGS = "find what drags before the engine runs."
_MISREAD = "misread, or was the one before a breakaway reading?"
_FITS = {"ring end gap": "ring_gap", "crank end play": "crank_end_play"}


def answers_to(build, step):
    """Return what can be answered at a step in the order to show it; () where any word will do."""
    if step.kind == "done":
        return (DONE,)
    if step.asks == "cap number":
        return tuple(map(str, build.cylinders))
    if step.asks == "tang side":
        return SIDES[build.engine.layout.kind]
    if step.asks == "pocket side":
        return (*SIDES[build.engine.layout.kind], "none")
    if step.asks == "ring layout":
        return tuple(each.name for each in placements())
    return tuple(sorted(step.answers))  # so that the right one does not always stand first


def numbered(answers):
    """Say whether answers are so long that a page lists them by number."""
    return any(" " in each for each in answers)


def answer_in(build, step, text):
    """Return the answer or the figure that a text stands for.

    An answer may be typed by its beginning, of `numbered` ones by its number too; a signature is
    a name of two words.

    Raises
    ------
    ValueError
        When it is none; says what to type.
    """
    text = text.strip()
    answers = () if step.kind == "figure" else answers_to(build, step)
    if not text:
        like = "a figure with its unit" if step.kind == "figure" else " or ".join(answers)
        raise ValueError(
            f"{step.name}: nothing is ticked that was not entered; type {like or 'it in words'}"
        )
    if step.kind == "figure":
        return _figure_in(step, text)
    low = text.casefold()
    if step.asks == SIGNATURE and len(_NAMES.findall(text)) < 2:
        raise ValueError(f"{step.name}: {text!r} is not a full name; type first and last name")
    if not answers:
        known = [each for each in _lubricants(build) if each.casefold().startswith(low)]
        return known[0] if step.asks == "lubricant" and len(known) == 1 else text
    found = [each for each in answers if each.casefold() == low]
    found = found or [each for each in answers if each.casefold().startswith(low)]
    if numbered(answers):
        found = found or [each for at, each in enumerate(answers, 1) if str(at) == text]
    if len(found) != 1:
        known = " or ".join(found or answers)
        raise ValueError(f"{step.name}: {text!r} is not an answer; type {known}")
    return found[0]


def _lubricants(build):
    """Return the lubricants there are figures for, that of the engine file among them."""
    named = [build.engine.rod_bolt.lubricant, *rows("friction", "lubricant")]
    return list(dict.fromkeys(filter(None, named)))


def _figure_in(step, text):
    try:
        size = read(text, step.asks).magnitude
    except ValueError as fault:
        raise ValueError(f"{step.name}: {fault}") from None
    if step.asks == "torque" and size <= 0:
        raise ValueError(f"{step.name}: {text} is no torque that was pulled; type it above zero")
    if step.asks == "length" and size < 0:
        raise ValueError(f"{step.name}: {text} is less than none; type it without a sign")
    return text


def right_answer(build, step, place):
    """Return the answer or figure that is right by the engine, "" where nothing says so."""
    engine = build.engine
    if step.asks == "chamfer":
        here = orientation(engine, build.cylinder(place))
        return "" if here.cheek_from == "taken" else here.cheek.split()[0]
    if step.asks == "cap number":
        return place
    if step.asks == "tang side":
        return _tang_side(build, build.cylinder(place))
    if step.asks == "lubricant":
        return engine.rod_bolt.lubricant or ""
    if step.name == BOLT_TORQUE:
        return engine.text_at("rod_bolt.torque") or ""
    return step.answers[0] if step.answers else ""


def wrong_step(build, step, place, said):
    """Return why what was found at a step cannot stay so, "" where it can."""
    if step.kind == "done":
        return ""
    try:
        said = answer_in(build, step, said)
    except ValueError as fault:  # in a row of another program
        return str(fault)
    if step.name == END_PLAY_AGAIN:
        limits = limits_of(build.engine, "crank_end_play", _METER)
        return _outside("engine", Result("crank_end_play", read(said), None, *limits))
    if step.name == LAST_TURNS:
        return _off_the_log(build, said)
    if step.name == CAM_PHASE:
        return _off_the_plan(build, said)
    right = right_answer(build, step, place)
    if not right or (said == right and step.name != BOLT_TORQUE):
        return ""
    if step.asks == "chamfer":
        return f"{_head(place, step)} {said}, and must face {right}: {_backwards(build, place)}"
    if step.asks == "lubricant":
        refused = carried_over(build.engine, said)
        return refused and f"cylinder {place}: {refused}"
    if step.name == BOLT_TORQUE:
        return _other_torque(build, place, said, right) or _unlubed(build, place)
    if step.asks == "cap number":
        return f"{_head(place, step)} {said}: a cap belongs to one rod. Find cap {right}."
    if step.asks == "tang side":
        return (
            f"{_head(place, step)} {said}, and by the rods fitted before must be {right}: rod or"
            " cap is turned round, or of another make."
        )
    sentence = f"{_head(place, step)} {said}, not {right}. {step.otherwise}"
    if step.name == SIDE_PLAY:
        suspects = "; ".join(row["suspects"] for row in causes(NO_SIDE_PLAY))
        sentence += f" First suspects: {suspects}."
    return sentence


def wrong_reading(build, step, place):
    """Return why what was read at a step cannot stay so, "" where it can."""
    if step.asks == "crank turning torque":
        return _tight(build, place)
    if name := _FITS.get(step.asks):
        where = place if place == "engine" else f"cylinder {place}"
        said = (_outside(where, fit.result) for fit in fit_results(build)
                if fit.place == where and name in fit.result.name)  # fmt: skip
        return " ".join(filter(None, said))
    return ""


def _outside(where, result):
    """Return that a result is outside its limits, "" where it is not."""
    if result.status != "outside":
        return ""
    low, high = (None if each is None else _length(each) for each in (result.low, result.high))
    bounds = {(True, True): f"{low} to {high}", (True, False): f"at least {low}"}
    bound = bounds.get((low is not None, high is not None), f"at most {high}")
    words, size = result.name.replace("_", " "), _length(result.value.to(_unit(result)))
    return f"{where}: {words} is {size} and must be {bound} ({result.source})."


def _unit(result):
    return (result.low if result.low is not None else result.high).units


def _tight(build, place):
    """Return what the log says of a torque left out of it, or of more than the others added."""
    log = torque_log(build)
    here = next((each for each in log.entries if each.place == place), None)
    if here is None or here.way != "both":
        return "; ".join(log.about.get(place, ()))
    return here.said if here.tight else ""


def _off_the_log(build, said):
    """Return why a last turning torque is not what the log leads to."""
    entries = torque_log(build).entries
    if not entries:
        return "last two turns: nothing is logged that it could be held against."
    last, pulled = entries[-1], to_si(read(said, "torque"))
    logged, step = to_si(last.torque), to_si(last.resolution)
    much = pulled > _MORE * logged + step
    if not much and pulled >= logged - (2 + 1e-6) * step:
        return ""
    return (
        f"last two turns: {said} is {'much more' if much else 'less'} than the"
        f" {torque_text(last.torque)} after {last.words}:"
        f" {_DRAGS if much else _MISREAD}"
    )


def _off_the_plan(build, said):
    """Return why a centerline is not where the engine file has the intake lobe."""
    plan = build.engine.intake.centerline
    if plan is None:
        return ""
    off = (read(said, "angle") - plan).m_as("deg")
    if abs(off) <= _NEAR_CARD + 1e-9:
        return ""
    return (
        f"cam phase: {said} is {abs(off):.1f} deg {'later' if off > 0 else 'earlier'} than the"
        f" planned {plan.m_as('deg'):g} deg; within {_NEAR_CARD:g} deg is common practice, no"
        " source. Move the cam, or change the plan, and look at piston to valve again."
    )


def _head(place, step):
    return f"cylinder {place}: {step.name} {'is' if step.kind == 'word' else 'reads'}"


def _backwards(build, place):
    """Return what a rod turned round bites, and which gaps it narrows."""
    found, said = backwards(build.engine, build.cylinder(place)), []
    for gap, where in ((found.centered, "with the side clearance shared alike"),
                       (found.at_cheek, "against the cheek with no oil film")):  # fmt: skip
        if gap is not None and gap.magnitude < 0:
            said.append(f"{_length(-gap)} {where}")
    said = [f"its square edge bites the fillet by {' and '.join(said)}"] if said else []
    said += [f"{pair} comes to {_length(turned)} from {_length(right)}"
             for pair, (right, turned) in found.changes.items() if turned < right]  # fmt: skip
    if not said:
        said = [f"not worked out: {'; '.join(found.missing.values())}"]
    return "; ".join(said) + "."


def _length(quantity):
    """Return a gap as a micrometer shows it."""
    return f"{quantity.m:.{4 if quantity.units == _INCH else 3}f} {quantity.units:~P}"


def _tang_side(build, number):
    """Return the side of a cylinder's tangs by those of the rod whose side was entered first."""
    known = {str(each): each for each in build.cylinders}
    for row in (each for each in build.readings.step_cells() if each["feature"] == TANG_SIDE):
        if row["place"] in known and row["note"] in SIDES[build.engine.layout.kind]:
            return tang_side_like(build.engine, known[row["place"]], row["note"], number)
    return ""


def _unlubed(build, place):
    """Return why a bolt's torque does not hold: its lubricant came after it, or is another."""
    rows_of = {row["feature"]: row for row in build.readings.step_cells() if row["place"] == place}
    lube, torque = rows_of.get(BOLT_LUBRICANT), rows_of.get(BOLT_TORQUE)
    if build.engine.rod_bolt.lubricant is None or torque is None:
        return ""
    if lube is None:
        return f"cylinder {place}: bolt torque holds once the lubricant that was used is entered."
    if refused := carried_over(build.engine, lube["note"]):
        return f"cylinder {place}: {refused}"
    if lube["line"] > torque["line"]:
        return (f"cylinder {place}: the lubricant was entered after the torque: slacken the bolts,"
                " lube them and torque them again.")  # fmt: skip
    return ""


def _other_torque(build, place, said, right):
    bolt = build.engine.rod_bolt
    pulled, due = to_si(read(said, "torque")), to_si(bolt.torque)
    if abs(pulled - due) <= WRENCH_TOLERANCE * due:
        return ""
    way, act = "less", "Pull it on."
    if pulled > due:
        way, act = "more", _USED_ONCE if bolt.yield_tightened else _TOO_MUCH
    return (
        f"cylinder {place}: bolt torque {said} is {abs(pulled / due - 1):.0%} {way} than the"
        f" {right} of the engine file. {act}"
    )


_TOO_MUCH = "Slacken it, and measure the bolt against its new length before it is used again."
_USED_ONCE = "Slacken it, and take a new bolt: one that is tightened into yield is used once."
