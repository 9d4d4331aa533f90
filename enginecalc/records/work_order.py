"""The order in which a short block goes together: steps and hold points, read as data."""

import functools
from dataclasses import dataclass

from enginecalc.records.reference import table

FINAL = "final checks"  # the stage after the last cylinder
DONE = "done"  # what is typed for a step that asks nothing else
HOME = "home"  # the answer of a piston that went in
SIGNATURE = "signature"  # what a step asks that is signed by name
# steps that code asks for by their names
RING_GAP_LAYOUT, VALVE_POCKETS, PISTON_HOME = "ring gap layout", "valve pockets", "piston home"
CAP_NUMBER, TANG_SIDE, SIDE_PLAY = "cap number", "tang side", "side play"
BOLT_LUBRICANT, BOLT_TORQUE = "bolt lubricant", "bolt torque"
DECKS_READ, END_PLAY_AGAIN = "decks read", "end play again"
LAST_TURNS, CAM_PHASE = "last two turns", "cam phase"
BUILDER_SIGNS, SECOND_SIGNS = "builder signs", "second person signs"


@dataclass(frozen=True)
class Step:
    """One step of the work, a row of `data/reference/order_of_work.csv`; each is a hold point.

    Attributes
    ----------
    name, stage : str
        The name is the `feature` of its row in a ledger.
    scope : str
        "engine", or "cylinder" for a step of every cylinder.
    kind : str
        "done", ticked by that word; "word", one of its answers; "figure", with its unit; "reading",
        a measurement of that place.
    asks : str
        Which answer is right where the engine says so; the measurement of a reading; the kind of a
        figure.
    answers : tuple of str
        The right one first, where it is the same for every engine.
    words, caution, otherwise : str
        What to do, what it can hurt, and what to do when another answer is found.
    """

    name: str
    stage: str
    scope: str
    kind: str
    asks: str
    answers: tuple
    words: str
    caution: str
    otherwise: str


@functools.cache
def order_of_work():
    """Return every `Step` in the order of the work. Common practice; the maker's order wins."""
    rows = table("order_of_work").to_dict("records")
    return tuple(
        Step(**{**row, "answers": tuple(filter(None, row["answers"].split(";")))}) for row in rows
    )


def steps_of(scope, final=False):
    """Return the steps of the engine before or after its pistons, or those of every cylinder."""
    return tuple(
        each for each in order_of_work() if each.scope == scope and (each.stage == FINAL) == final
    )
