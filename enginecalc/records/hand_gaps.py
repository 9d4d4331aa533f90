"""Piston to valve as read by hand: drop less lift, and the least of it, cylinder by cylinder."""

from dataclasses import dataclass

import pint

from enginecalc.records.drops import degrees
from enginecalc.records.results import Result, limits_of
from enginecalc.units import Q
from enginecalc.valve_gaps import gap_from_stations

VALVES = ("intake", "exhaust")


@dataclass(frozen=True)
class HandGap:
    """The least gap of a valve from its stations, by the curve through the least of them.

    `result` is held against the limits of the computed gap; without a value its reason says why.
    `least` is the least that was read.
    """

    cylinder: object
    result: Result
    least: pint.Quantity | None = None
    after_tdc: pint.Quantity | None = None
    date: str = ""


def hand_gaps(build):
    """Return a `HandGap` for every valve whose drop and lift were read at the same angles."""
    made = []
    for valve in VALVES:
        for number in build.cylinders:
            means = [build.mean(f"{valve} valve", each, number) for each in ("drop", "lift")]
            if None not in means:
                made.append(_hand_gap(build, f"{valve}_piston_to_valve", number, *means))
    return made


def _hand_gap(build, name, number, drop, lift):
    unit = drop.value.units
    both = {degrees(angle): (drop.spots[spot], lift.spots[spot])
            for spot in drop.spots if spot in lift.spots for angle in spot[2:]
            if degrees(angle) is not None}  # fmt: skip
    limits = limits_of(build.engine, name, unit)
    words = f"{name.replace('_', ' ')} of cylinder {number} as read by hand"
    if not all(each.value.check("[length]") for each in (drop, lift)):
        return HandGap(number, Result(name, None, None, *limits, f"{words}: not read in lengths"))
    if len(both) < 3:
        reason = f"{words} needs drop and lift at three angles or more"
        return HandGap(number, Result(name, None, None, *limits, reason))
    at = sorted(both)
    sizes = (Q([both[angle][which] for angle in at], "m").to(unit) for which in (0, 1))
    try:
        found = gap_from_stations(Q(at, "deg"), *sizes)
    except ValueError as fault:
        said = str(fault).partition(": ")[2].rstrip(".")
        return HandGap(number, Result(name, None, None, *limits, f"{words}: {said}"))
    date = max(drop.date, lift.date)
    result = Result(name, found.gap, None, *limits)
    return HandGap(number, result, found.read, found.after_tdc, date)
