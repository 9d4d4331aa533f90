"""What is measured on an engine, where and in which order: the questions a bench sheet asks."""

import functools
import itertools
from dataclasses import dataclass

from enginecalc.records.reference import table


@dataclass(frozen=True)
class Measurement:
    """One sort of reading, a row of `data/reference/measurements.csv`."""

    part: str
    feature: str
    places: str  # cylinder, pin, main, bank, engine, or several in order: one of each is asked
    directions: tuple
    heights: tuple
    angles: tuple
    field: str  # of the engine file, "" where none takes it
    material: str  # the part whose material grows with it, ""
    units: dict  # by unit system
    resolutions: dict
    instrument: str
    how: str

    @property
    def name(self):
        """Part and feature in words: "bore diameter"."""
        return f"{self.part} {self.feature}"


@dataclass(frozen=True)
class Place:
    """One box to fill in; its six words are the key of a reading, but for the repeat."""

    place: str
    part: str
    feature: str
    direction: str
    height: str
    angle: str

    @property
    def words(self):
        """Where to measure, in words: "cylinder 3, bore diameter, thrust, top"."""
        where = place_words(self.place)
        at = f"{self.angle} deg" if self.angle else ""
        said = (where, f"{self.part} {self.feature}", self.direction, self.height, at)
        return ", ".join(each for each in said if each)

    @property
    def key(self):
        """The columns that name this place in a ledger."""
        return dict(vars(self))


def place_words(place):
    """Return a place in words: "cylinder 3" of "3", another as it is."""
    return f"cylinder {place}" if place[:1].isdigit() else place


def listed(some):
    """Return "1, 3 and 5" of some words."""
    *first, last = map(str, some)
    return f"{', '.join(first)} and {last}" if first else last


@functools.cache
def measurements():
    """Return every `Measurement`, in the order in which a builder takes them."""
    made = []
    for row in table("measurements").to_dict("records"):
        lists = (tuple(filter(None, row[key].split(";")))
                 for key in ("directions", "heights", "angles"))  # fmt: skip
        by_system = (
            {system: row[f"{what}_{system}"] for system in ("inch", "metric")}
            for what in ("unit", "resolution")
        )
        made.append(
            Measurement(
                row["part"], row["feature"], row["places"], *lists, row["field"], row["material"],
                *by_system, row["instrument"], row["how"],
            )
        )  # fmt: skip
    return tuple(made)


@functools.cache
def measurement(part, feature):
    """Return the `Measurement` of a part's feature, None for one of a person's own."""
    return next((m for m in measurements() if (m.part, m.feature) == (part, feature)), None)


def places_of(layout, kind):
    """Return the names of an engine's cylinders, pins, mains or banks, front to rear.

    Cylinders by bank as the block is seen from above, the left bank first. "engine;cylinder" has
    the engine as a whole before its cylinders.
    """
    if ";" in kind:
        return [place for each in kind.split(";") for place in places_of(layout, each)]
    if kind == "engine":
        return ["engine"]
    if kind == "pin":
        return [f"pin {at}" for at in range(1, len(layout.crank_pins) + 1)]
    if kind == "main":
        return [f"main {at}" for at in range(1, mains(layout) + 1)]
    if kind == "bank":
        return [f"{bank} bank" if bank != "inline" else "deck" for bank in layout.by_bank()]
    return [str(number) for numbers in layout.by_bank().values() for number in numbers]


def mains(layout):
    """Return how many main bearings a crank has: one between neighbors, and one at each end.

    Pins split between the two banks of a V share a throw.
    """
    split = layout.kind == "V" and len(layout.crank_pins) == len(layout.cylinder)
    return len(layout.crank_pins) // (2 if split else 1) + 1


def boxes(layout, what):
    """Return the list of `Place` that one `Measurement` asks for, in entry order."""
    return [
        Place(place, what.part, what.feature, direction, height, angle)
        for place in places_of(layout, what.places)
        for height, direction, angle in itertools.product(
            what.heights or ("",), what.directions or ("",), what.angles or ("",)
        )
    ]
