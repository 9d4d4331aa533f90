"""Which ring's gap stands where: placements from the list or a builder's own, and their check."""

import functools
import itertools
from dataclasses import dataclass

import numpy as np

from enginecalc.records.reference import table
from enginecalc.records.work_order import RING_GAP_LAYOUT
from enginecalc.ring_gaps import (
    axis_distance,
    greatest_axis_distance,
    greatest_gap_separation,
    least_gap_separation,
    mirrored_gap_angles,
)
from enginecalc.units import Q

_NEAR = 1e-6  # deg, what rounding may leave
_AXES = {"pin": "pin axis", "thrust": "thrust axis", "both": "pin and thrust axis"}


@dataclass(frozen=True, eq=False)
class Placement:
    """The gaps of a piston's rings, for standard rotation unless `turned`.

    `angles` are an array, clockwise from the front mark seen from above, a gap for each of
    `rings`. ValueError when they do not go together.
    """

    name: str
    rings: tuple
    angles: object
    source: str
    note: str

    def __post_init__(self):
        angles = np.atleast_1d(self.angles.m_as("deg"))
        faults = [] if self.name.strip() else ["a placement needs a name"]
        if len(angles) != len(self.rings) or len(angles) < 2:
            faults.append(f"{len(self.rings)} rings with {len(angles)} angles; write an angle for"
                          " each of two rings or more")  # fmt: skip
        faults += [f'the ring "{ring}" stands twice; give each a name of its own'
                   for ring in dict.fromkeys(self.rings) if self.rings.count(ring) > 1]  # fmt: skip
        faults += [f"an angle is {angle:g} deg; write one from 0 to below 360 deg"
                   for angle in angles if not 0 <= angle < 360]  # fmt: skip
        if faults:
            raise ValueError(f"{self.name or 'placement'}: {'; '.join(faults)}.")


@functools.cache
def placements():
    """Return every `Placement` of `data/reference/ring_gap_placements.csv`."""
    return tuple(
        Placement(
            row["name"],
            tuple(row["rings"].split(";")),
            Q(np.array([float(each) for each in row["gap_angles_deg"].split()]), "deg"),
            row["source"],
            row["note"],
        )
        for row in table("ring_gap_placements").to_dict("records")
    )


def chosen(build):
    """Return the `Placement` that was entered for a build's engine, None while none was."""
    rows = build.readings.steps(place="engine", feature=RING_GAP_LAYOUT)
    known = {each.name: each for each in placements()}
    return next((known[note] for note in rows["note"] if note in known), None)


def distances(placement):
    """Return least separation, and least distance from pin and thrust axis, in degrees."""
    away = (axis_distance(placement.angles, each).m_as("deg").min() for each in ("pin", "thrust"))
    return least_gap_separation(placement.angles).m_as("deg"), *map(float, away)


def turned(placement, rotation):
    """Return a placement as it is for a "standard" or a "reverse" engine, mirrored for the latter.

    The major thrust side is then as far from each gap as it is for standard rotation.
    """
    if rotation not in ("standard", "reverse"):
        raise ValueError(f'rotation must be "standard" or "reverse", got {rotation!r}')
    if rotation == "standard":
        return placement
    angles = mirrored_gap_angles(placement.angles).to("deg")
    return Placement(placement.name, placement.rings, angles, placement.source, placement.note)


def gap_words(placement):
    """Return where each gap stands, in words: "top 15 deg, second 135 deg"."""
    angles = placement.angles.m_as("deg")
    named = zip(placement.rings, angles, strict=True)
    return ", ".join(f"{ring} {_deg(angle)}" for ring, angle in named)


def clash(count, least_separation, least_distance, avoid):
    """Return the sentence that says why two rules cannot both be kept, "" when they can.

    Parameters
    ----------
    count : int
        Number of gaps.
    least_separation, least_distance : quantity
        Wanted between any two gaps, and between each gap and the axes.
    avoid : str
        "pin", "thrust" or "both".
    """
    most = greatest_axis_distance(count, least_separation, avoid).m_as("deg")
    wanted = least_distance.m_as("deg")
    apart = greatest_gap_separation(count, least_distance, avoid).m_as("deg")
    if wanted <= most + _NEAR:
        return ""
    separation = _deg(least_separation.m_as("deg"))
    return (
        f"{count} gaps {separation} apart cannot all be {_deg(wanted)} from the {_AXES[avoid]}:"
        f" {_deg(most)} is the most; or keep the {_deg(wanted)} and set them {_deg(apart)} apart"
        " at most."
    )


def check(placement, least_separation, least_distance, avoid):
    """Return a sentence for each rule that a placement breaks, and one where rules clash.

    Parameters
    ----------
    placement : Placement
        As it is in the engine.
    least_separation, least_distance, avoid
        As of `clash`.
    """
    rules = least_separation.m_as("deg"), least_distance.m_as("deg")
    clashes = clash(len(placement.rings), least_separation, least_distance, avoid)
    named, broken = [*zip(placement.rings, placement.angles, strict=True)], []
    for (one, here), (other, there) in itertools.combinations(named, 2):
        pair = Q(np.array([here.m_as("deg"), there.m_as("deg")]), "deg")
        apart = least_gap_separation(pair).m_as("deg")
        if apart < rules[0] - _NEAR:
            broken.append(f"{one} and {other} are {_deg(apart)} apart, less than the"
                          f" {_deg(rules[0])} wanted.")  # fmt: skip
    for axis in ("pin", "thrust") if avoid == "both" else (avoid,):
        away = axis_distance(placement.angles, axis).m_as("deg")
        broken += [
            f"{ring} is {_deg(far)} from the {_AXES[axis]}, less than the {_deg(rules[1])} wanted."
            for ring, far in zip(placement.rings, away, strict=True)
            if far < rules[1] - _NEAR
        ]
    return [*broken, clashes] if clashes else broken


def _deg(angle):
    return f"{round(float(angle), 1):g} deg"
