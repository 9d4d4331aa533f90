"""A trace of turning torque by crank angle: what kind of drag a piston added, and where it touches.

A trace is typed as part crank, feature "turning torque trace", at the place of the log it belongs
to, once or more for each crank angle after the first cylinder's true top. Angles up to 360 are one
turn; beyond that they are two, counted from that cylinder's firing top.
"""

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import pint

from enginecalc import crank
from enginecalc.records.contacts import NEAR, angle_apart, contact_words, contacts_near
from enginecalc.records.drag_causes import causes, constant_patterns
from enginecalc.records.places import place_words
from enginecalc.records.torque_log import torque_log, why_not_known
from enginecalc.records.torque_readings import (
    TORQUE,
    WAYS,
    fitted,
    torque_readings,
    torque_text,
    unit_to_show,
)
from enginecalc.turning_torque import (
    TOUCHING,
    contact_scores,
    drag_parts,
    drag_residuals,
    friction_torque,
)
from enginecalc.units import Q

LEAST = 24  # crank angles that make a trace
WIDEST = 45.0  # degrees that may lie between two angles of a trace
_RINGS = "large mid-stroke", "large mid-stroke, side witness mark"
_PIN = "largest at both dead centers"
_EACH, _SECOND = "one sharp angle each turn", "one sharp angle every second turn"


@dataclass(frozen=True)
class TorqueTrace:
    """What a cylinder's piston added at each crank angle, in its parts.

    Angles count after the cylinder's own true top, rising; of a trace over two turns, after its
    firing top. `bearing` is alike at every angle, `ring` times the shape of the piston's speed;
    `scores` are standard deviations off the fit. `near` has the rows of `contacts_near`.
    `patterns` are keys of `drag_causes.causes`.
    """

    cylinder: object
    before: str  # the place whose trace was taken off
    angles: pint.Quantity
    added: pint.Quantity
    fitted: pint.Quantity
    scores: np.ndarray
    bearing: pint.Quantity
    ring: pint.Quantity
    contacts: pint.Quantity
    near: object
    way: str  # "both", or the one direction it was read in
    two_turns: bool
    patterns: tuple
    words: tuple


def trace_of(build, cylinder, unit=None):
    """Return the `TorqueTrace` of a cylinder.

    Parameters
    ----------
    cylinder : int or str
        Its number.
    unit : str or pint.Unit
        Of torques and sentences; that of its first row when there is none.

    Raises
    ------
    ValueError
        When its trace or the one before it is missing, or holds too few angles, or another piston
        went in or came out between them; says which.
    """
    unit = unit_to_show(unit)
    number = build.cylinder(cylinder)
    log, fitting = torque_log(build, unit), fitted(build)
    readings, left_out = torque_readings(build, "turning torque trace")
    all_, ended = readings, fitting.ended
    readings = [each for each in all_ if each.line > ended.get(each.place, 0)]
    if str(number) in fitting.stale:
        raise ValueError(fitting.stale_words(str(number)))
    before = _place_before(log, readings, str(number))
    mine, other = ([each for each in readings if each.place == place]
                   for place in (str(number), before))  # fmt: skip
    for place, found in ((str(number), mine), (before, other)):
        if not found:
            old = any(each.place == place for each in all_)
            why = "was taken before a piston came out again" if old else "is missing"
            raise ValueError(f"cylinder {number}: the trace of {_words(place)} {why}; its drag is"
                             " that trace less the one before it")  # fmt: skip
    two_turns = max(map(_degrees, mine)) > 360
    way, angles, torque = _added(number, mine, other, 720 if two_turns else 360)
    own = _own(build.engine.layout, number, angles, two_turns)
    order = np.argsort(own)
    own, torque = own[order], torque[order]
    geometry = _crank(build.engine)
    trace = np.radians(own) + crank.tdc_angle.kernel(*geometry), *geometry[:2], torque, geometry[2]
    bearing, ring = drag_parts.kernel(*trace, way != "both")[:2]
    residuals = drag_residuals.kernel(*trace, way != "both")
    resolution = max(each.resolution for each in (*mine, *other))
    scores = contact_scores.kernel(residuals, resolution)
    contacts = own[scores > TOUCHING]
    near = contacts_near(build.engine, number, Q(contacts, "deg"), two_turns)
    high = any(each.tight for each in log.entries if each.place == str(number))
    constant = constant_patterns(build, str(number), fitting.held.get(str(number), ()))
    dragging = _dragging(bearing, ring, resolution, constant)
    patterns = (*_touching(contacts, two_turns), *dragging * high)
    unit = unit or mine[0].unit
    shown = [Q(each, TORQUE).to(unit)
             for each in (torque, torque - residuals, float(bearing), float(ring))]  # fmt: skip
    found = TorqueTrace(
        number, before, Q(own, "deg"), *shown[:2], scores, *shown[2:], Q(contacts, "deg"), near,
        way, two_turns, patterns, (),
    )  # fmt: skip
    out = [said for place, said in left_out if place in (str(number), before)]
    return replace(found, words=(*_said(found), *out))


def _words(place):
    return "the crank alone" if place == "engine" else place_words(place)


def _place_before(log, readings, place):
    """Return the place that was logged before one, or else traced before it."""
    order = [each.place for each in log.entries]
    for one, other in itertools.pairwise(log.entries):
        if other.place == place and (why := why_not_known(one, other)):
            raise ValueError(why)
    if order and place not in order:
        raise ValueError(f"{_words(place)}: its turning torque is not logged; log it first")
    if not order:
        order = list(dict.fromkeys(each.place for each in readings))
    at = order.index(place) if place in order else 0
    if at == 0:
        raise ValueError(
            f"{_words(place)}: nothing is logged before it; log and trace the crank, or the piston"
            " before, first"
        )
    return order[at - 1]


def _degrees(reading):
    """Return a reading's crank angle."""
    try:
        angle = float(reading.angle.removesuffix("°").removesuffix("deg"))
    except ValueError:
        angle = math.nan
    if not math.isfinite(angle):
        raise ValueError(f"line {reading.line}: angle must be crank degrees like 45, got"
                         f" {reading.angle!r}")  # fmt: skip
    return angle


def _added(number, mine, other, turn):
    """Return the way that was read, angles in degrees, and torques after less before in N·m."""
    shared_turn = turn if max(map(_degrees, other)) > 360 else 360
    after, before = _by_angle(mine, turn), _by_angle(other, shared_turn)
    choices = {}
    for way in WAYS:
        choices[way] = {at: size - before[each, at % shared_turn]
                        for (each, at), size in after.items()
                        if each == way and (each, at % shared_turn) in before}  # fmt: skip
    forward, back = choices.values()
    both = {at: friction_torque.kernel(forward[at], back[at]) for at in forward if at in back}
    way = "both" if len(both) >= LEAST else max(choices, key=lambda each: len(choices[each]))
    found = {**choices, "both": both}[way]
    if len(found) < LEAST:
        raise ValueError(f"cylinder {number}: {len(found)} crank angles were read both after its"
                         f" piston and before it; a trace needs {LEAST} or more")  # fmt: skip
    angles = np.array(sorted(found))
    gap = np.max(np.diff([*angles, angles[0] + turn]))
    if gap > WIDEST:
        raise ValueError(f"cylinder {number}: {gap:.0f} degrees were left out between two readings;"
                         " a trace goes all round")  # fmt: skip
    return way, angles, np.array([found[at] for at in angles])


def _by_angle(readings, turn):
    """Return {(way, angle in degrees within a turn): mean torque in N·m}."""
    found = {}
    for each in readings:
        at = round(_degrees(each) % turn, 6) % turn
        found.setdefault((each.way, at), []).append(each.size)
    return {key: float(np.mean(sizes)) for key, sizes in found.items()}


def _own(layout, number, angles, two_turns):
    """Return degrees after the first cylinder's top as degrees after another's own."""
    tops = layout.firing_angles() if two_turns else layout.tdc_angles()
    own = np.round(angles - tops[number] + tops[layout.numbers[0]], 6)
    return np.mod(own, 720 if two_turns else 360)


def _crank(engine):
    """Return stroke, rod length and offset in SI."""
    values = [engine.values[each] for each in ("crank.stroke", "rod.length", "pin_axis_offset")]
    if None in values[:2]:
        raise ValueError("crank.stroke and rod.length are needed to take a trace apart")
    return *values[:2], values[2] or 0.0


def _touching(contacts, two_turns):
    """Return the patterns of contacts at own angles, in degrees."""
    if not two_turns:
        return (_EACH,) if len(contacts) else ()
    again = [np.min(angle_apart(each + 360, contacts, 720)) <= NEAR for each in contacts]
    return (_EACH,) * any(again) + (_SECOND,) * (not all(again))


def _dragging(bearing, ring, resolution, constant):
    """Return the patterns of the larger part of a drag, in N·m; the mean of the shape is 2 / pi."""
    if ring < -resolution:
        return (_PIN,)
    return _RINGS if 2 / np.pi * ring > bearing else constant


def _said(trace):
    """Yield what a trace says."""
    name = f"cylinder {trace.cylinder}"
    parts = [torque_text(each, 2) for each in (trace.bearing, trace.ring)]
    yield f"{name} added {parts[0]} at every angle and {parts[1]} more mid-stroke"
    if trace.way != "both":
        yield f"read {trace.way} only: weight and imbalance were fitted beside the two"
    if np.any(trace.scores < -TOUCHING):
        low = ", ".join(f"{each:g}" for each in trace.angles.m[trace.scores < -TOUCHING])
        yield f"far less was read at {low} deg: misread, or something touched before?"
    if not len(trace.contacts):
        yield "nothing touches at one angle alone"
        return
    runs = " and ".join(_runs(trace.contacts.m, 720 if trace.two_turns else 360))
    kinds = [each for each in trace.patterns if each in (_EACH, _SECOND)]
    yield f"{name} touches at {runs} deg after its true top: {' and '.join(kinds)}"
    yield causes(kinds[0])[0]["caution"].removesuffix(".")
    if not trace.two_turns:
        yield "one turn was traced: a second one tells whether it comes every turn or every other"
    if len(trace.near):
        yield f"near there: {'; '.join(contact_words(trace.near)[:2])}"
    else:
        yield "no pair of the block clearances comes near there"


def _runs(angles, turn):
    """Return "40 to 50" for each run of angles, rising, that lie within 15 degrees of the next."""
    runs = [list(run) for run in np.split(angles, np.flatnonzero(np.diff(angles) > 15) + 1)]
    if len(runs) > 1 and runs[0][0] + turn - runs[-1][-1] <= 15:
        runs[0] = runs.pop() + runs[0]
    return [" to ".join(f"{each:g}" for each in dict.fromkeys((run[0], run[-1]))) for run in runs]
