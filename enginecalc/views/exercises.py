"""Exercises that check an answer in any unit, hint at a usual slip, and never give it away."""

import html
import math

import numpy as np
import pint

from enginecalc.units import Q, read, same_kind, short, to_si
from enginecalc.views.exercise_list import EXERCISES

_BESIDES = {"rad": "rad", "ft/s": "ft/s", "km/h": "km/h", "mph": "mile/hour"}


class Sentence(str):
    """A text that a notebook shows without quotation marks."""

    __slots__ = ()

    def _repr_html_(self):
        return f"<p>{html.escape(self)}</p>"


def ask(name):
    """Return the text of an exercise."""
    return _named(name).question


def check(name, answer=None):
    """Say whether an answer is right, in a sentence; on a usual slip, what may have happened.

    Parameters
    ----------
    name : str
        Of the exercise.
    answer : str or quantity or float
        In any unit of its kind: "2.10 in", "53,5 mm"; a plain number for a ratio or percent.

    Returns
    -------
    str
        Never the answer.
    """
    exercise = _named(name)
    if answer is None:
        return Sentence(f'{exercise.question} Answer with check("{name}", "…").')
    if isinstance(answer, str) and not answer.strip():
        return Sentence("Type your answer between the quotes, with its unit if it has one.")
    right = exercise.answer()
    try:
        given = _read(answer)
    except ValueError as fault:
        return Sentence(f"That does not read: {fault}")
    return Sentence(_judged(exercise, given, right))


def _judged(exercise, given, right):
    """Return what is to be said of an answer that reads well."""
    if not same_kind(given.units, right.units):
        kind = "a plain number" if right.unitless else f"something in a unit like {right.units:~P}"
        return f"{short(given)} is not of the right kind: {kind} is asked for."
    if _near(given, right, exercise.within):
        return "Right."
    for hint, wrong in exercise.slips.items():
        if _near(given, wrong(), exercise.within):
            return f"Not yet: {hint}" + ("" if hint.endswith("?") else ".")
    side = "large" if to_si(given) > to_si(right) else "small"
    return f"Not yet: too {side}."


def _read(answer):
    """Return an answer as a finite quantity; ValueError where it does not read."""
    if isinstance(answer, pint.Quantity):
        given = answer
    elif isinstance(answer, int | float) and not isinstance(answer, bool):
        given = Q(float(answer), "")
    elif isinstance(answer, str):
        given = _read_text(answer.strip())
    else:
        raise ValueError(f'{answer!r} is not a figure; write it in quotes, like "83.5 mm"')
    if not np.ndim(given.magnitude) == 0 or not math.isfinite(given.magnitude):
        raise ValueError("one finite figure is asked for")
    return given


def _read_text(text):
    """Return what a text says: a plain number, a percentage, a figure with its unit."""
    number, _, unit = text.rpartition(" ")
    for digits, kind in ((text.removesuffix("%").strip(), ""), (number, _BESIDES.get(unit))):
        if kind is not None:
            try:
                return Q(float(digits.replace(",", ".").replace("−", "-")), kind)
            except ValueError:
                pass
    return read(text)


def _near(given, right, within):
    return abs(to_si(given) - to_si(right)) <= within * abs(to_si(right))


def _named(name):
    if name not in EXERCISES:
        raise ValueError(f"there is no exercise {name!r}; there are {', '.join(EXERCISES)}")
    return EXERCISES[name]
