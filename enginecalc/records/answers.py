"""What is right at a step of the assembly, and why something that was found there is not."""

from enginecalc.records.bolts import WRENCH_TOLERANCE, carried_over
from enginecalc.records.fit_results import fit_results
from enginecalc.records.orientation import SIDES, backwards, orientation, tang_side_like
from enginecalc.records.ring_placement import placements
from enginecalc.records.torque_log import causes, torque_log
from enginecalc.units import read, to_si, ureg

_INCH = ureg.Unit("inch")
_FITS = {"ring end gap": "ring_gap", "crank end play": "crank_end_play"}


def answers_to(build, step, place):
    """Return what can be answered at a step, an empty tuple where any word will do."""
    if step.asks == "cap number":
        return tuple(map(str, build.cylinders))
    if step.asks == "tang side":
        return SIDES[build.engine.layout.kind]
    if step.asks == "ring layout":
        return tuple(each.name for each in placements())
    return step.answers


def right_answer(build, step, place):
    """Return the answer or figure that is right by the engine, "" where nothing says so."""
    number, engine = _number(build, place), build.engine
    if step.asks == "chamfer":
        here = orientation(engine, number)
        return "" if here.cheek_from == "taken" else here.cheek.split()[0]
    if step.asks == "cap number":
        return place
    if step.asks == "tang side":
        return _tang_side(build, number)
    if step.asks == "lubricant":
        return engine.rod_bolt.lubricant or ""
    if step.name == "bolt torque":
        return engine.text_at("rod_bolt.torque") or ""
    return step.answers[0] if step.answers else ""


def wrong_step(build, step, place, said):
    """Return why what was found at a step cannot stay so, "" where it can."""
    right = right_answer(build, step, place)
    if step.kind == "done" or not right or said == right:
        return ""
    number = _number(build, place)
    if step.asks == "chamfer":
        return f"{_head(place, step)} {said}, and must face {right}: {_backwards(build, number)}"
    if step.asks == "lubricant":
        return carried_over(build.engine, said)
    if step.name == "bolt torque":
        return _other_torque(build, place, said, right)
    if step.asks == "cap number":
        return f"{_head(place, step)} {said}: a cap belongs to one rod. Find cap {right}."
    if step.asks == "tang side":
        return (
            f"{_head(place, step)} {said}, and by the rods fitted before must be {right}: rod or"
            " cap is turned round, or of another make."
        )
    sentence = f"{_head(place, step)} {said}, not {right}. {step.otherwise}"
    if step.name == "side play":
        suspects = "; ".join(row["suspects"] for row in causes("constant, no side play"))
        sentence += f" First suspects: {suspects}."
    return sentence


def wrong_reading(build, step, place):
    """Return why what was read at a step cannot stay so, "" where it can."""
    if step.name == "two turns":
        return _tight(build, place)
    if name := _FITS.get(step.asks):
        where = place if place == "engine" else f"cylinder {place}"
        for fit in fit_results(build):
            if fit.place == where and name in fit.result.name and fit.result.status == "outside":
                words = fit.result.name.replace("_", " ")
                return f"{where}: {words} is outside its limits ({fit.result.source})."
    return ""


def _tight(build, place):
    """Return the sentence of the log on a piston that added more than the others."""
    log = torque_log(build)
    tight = [each.words for each in log.entries
             if each.place == place and each.flagged and each.score > 0]  # fmt: skip
    return next((words for words in log.words if tight and words.startswith(tight[0])), "")


def _number(build, place):
    return next((each for each in build.cylinders if str(each) == place), None)


def _head(place, step):
    return f"cylinder {place}: {step.name} {'is' if step.kind == 'word' else 'reads'}"


def _backwards(build, number):
    lines = backwards(build.engine, number).lines()
    return "; ".join(words.format(*map(_length, lengths)) for words, lengths in lines) + "."


def _length(quantity):
    """Return a gap as a micrometer shows it."""
    return f"{quantity.m:.{4 if quantity.units == _INCH else 3}f} {quantity.units:~P}"


def _tang_side(build, number):
    """Return the side of a cylinder's tangs by those of the first rod that was fitted."""
    rows = build.readings.steps()
    rows = rows[rows["feature"] == "tang side"].to_dict("records")
    first = next((row for row in rows if _number(build, row["place"]) not in (None, number)), None)
    if first is None:
        return ""
    return tang_side_like(build.engine, _number(build, first["place"]), first["note"], number)


def _other_torque(build, place, said, right):
    pulled, due = to_si(read(said, "torque")), to_si(build.engine.rod_bolt.torque)
    if abs(pulled - due) <= WRENCH_TOLERANCE * due:
        return ""
    way = "less" if pulled < due else "more"
    return (
        f"cylinder {place}: bolt torque {said} is {abs(pulled / due - 1):.0%} {way} than the"
        f" {right} of the engine file. {'Pull it on.' if pulled < due else _TOO_MUCH}"
    )


_TOO_MUCH = "Slacken it, and measure the bolt against its new length before it is used again."
