"""The log of turning torque of a build: what each piston added, and which one stands apart."""

from dataclasses import dataclass, replace

import numpy as np
import pint

from enginecalc.records.places import place_words
from enginecalc.records.reference import table
from enginecalc.records.torque_readings import TORQUE, WAYS, fitted, torque_readings, torque_text
from enginecalc.turning_torque import (
    OUTLYING,
    drag_condition,
    drag_directions,
    friction_torque,
    increment_scores,
    torque_increments,
)
from enginecalc.units import Q, to_si

_LEAST = 3  # increments from which a median can be told
_UNLIKE = 3.0, 1 / 3  # resolutions, and share of the torque, by which the two ways may differ


@dataclass(frozen=True)
class TorqueEntry:
    """A line of the log: the crank alone, place "engine", or after the piston of a cylinder.

    `torque` is the friction, of one direction alone where only one was read. `increment` and
    `score` are None where they are not known.
    """

    place: str
    forward: pint.Quantity | None
    back: pint.Quantity | None
    torque: pint.Quantity
    resolution: pint.Quantity
    lines: tuple  # in the ledger
    increment: pint.Quantity | None = None
    score: float | None = None

    @property
    def flagged(self):
        """True where the increment is not one of the others, more or less."""
        return self.score is not None and abs(self.score) > OUTLYING

    @property
    def words(self):
        """The place in words."""
        return "the crank alone" if self.place == "engine" else place_words(self.place)


@dataclass(frozen=True)
class TorqueLog:
    """The lines of a log in the order of fitting, what they say, and what is doubtful in them.

    `patterns` are keys of `causes`, of a piston that adds too much; the log alone does not show at
    which angles it drags.
    """

    entries: tuple
    words: tuple
    doubts: tuple
    patterns: tuple


def torque_log(build):
    """Return the `TorqueLog` of a build.

    The order of fitting is that of the first row of each place in the ledger, since it was last
    withdrawn; the crank alone stands first. A figure that is typed again keeps its place.
    """
    begun, taken_out = fitted(build)
    readings, doubts = torque_readings(build, "turning torque")
    known = {"engine", *map(str, build.cylinders)}
    entries, after_gap = [], set()
    for place in begun:
        mine = [each for each in readings if each.place == place]
        if place not in known:
            lines = ", ".join(str(each.line) for each in mine)
            doubts.append(f"line {lines}: {place} is no cylinder of this engine; left out")
        if place in known and mine:
            entries.append(_entry(place, mine, entries[0].torque.units if entries else None))
        else:
            after_gap.add(len(entries))
    entries = _with_increments(entries, after_gap)
    doubts += [*_missing(entries), *_one_by_one(entries), *_stale(entries, begun, taken_out)]
    said, patterns = _said(build, entries)
    return TorqueLog(tuple(entries), tuple(said), tuple(doubts), patterns)


def causes(*patterns):
    """Return rows of `data/reference/drag_causes.csv`: what to suspect for each pattern of drag.

    Parameters
    ----------
    *patterns : str
        Such as "large mid-stroke"; all of them when there is none.

    Returns
    -------
    list of dict
        pattern, turns, at, suspects, look, caution and source.

    Raises
    ------
    ValueError
        When there is no such pattern; names those there are.
    """
    known = {row["pattern"]: row for row in table("drag_causes").to_dict("records")}
    if strange := [each for each in patterns if each not in known]:
        raise ValueError(f"pattern {strange[0]!r} is not known; take one of {'; '.join(known)}")
    return [known[each] for each in patterns or known]


def of_finished_engine(engine):
    """Return the sentence on what one trace of the finished engine cannot tell."""
    crank = [engine.values[each] for each in ("crank.stroke", "rod.length")]
    if None in crank:
        return "crank.stroke and rod.length are needed to say what a trace could tell"
    crank.append(engine.values["pin_axis_offset"] or 0.0)
    tops = engine.layout.tdc_angles()
    angles = np.radians(list(tops.values()))
    count, ways = len(tops), drag_directions.kernel(angles, *crank)
    grows = f"{drag_condition.kernel(angles, *crank):.0f} times"
    said = f"{ways} independent direction{'s' * (ways > 1)} for {count} cylinder{'s' * (count > 1)}"
    if ways == count:
        said = f"one trace of the finished engine names a cylinder badly: {said}, but an error"
        return f"{said} may grow {grows}; trace after each piston instead"
    together = "; ".join(listed(group) for group in engine.layout.companions())
    return (
        f"one trace of the finished engine cannot name a cylinder: {said}; {together} reach their"
        f" tops together and cannot be told apart, and an error may grow {grows}"
    )


def _entry(place, readings, unit):
    """Return the `TorqueEntry` of a place, its increment open."""
    unit = unit or readings[0].unit
    ways = {way: [each.size for each in readings if each.way == way] for way in WAYS}
    sizes = {way: float(np.mean(some)) for way, some in ways.items() if some}
    torque = friction_torque.kernel(*sizes.values()) if len(sizes) == 2 else sum(sizes.values())
    shown = {way: Q(size, TORQUE).to(unit) for way, size in sizes.items()}
    finest = max(each.resolution for each in readings)
    return TorqueEntry(
        place, shown.get("forward"), shown.get("back"), Q(float(torque), TORQUE).to(unit),
        Q(finest, TORQUE).to(unit), tuple(each.line for each in readings),
    )  # fmt: skip


def _with_increments(entries, after_gap):
    """Return the entries with what each added, and their scores where there are enough."""
    if len(entries) < 2:
        return entries
    added = torque_increments.kernel(np.array([to_si(each.torque) for each in entries]))
    steps = np.array([to_si(each.resolution) for each in entries])
    steps = np.maximum(steps[1:], steps[:-1])
    known = [at for at in range(1, len(entries)) if at not in after_gap]
    mine = [at - 1 for at in known]
    scores = [None] * len(known)
    if len(known) >= _LEAST:
        scores = increment_scores.kernel(added[mine], steps[mine]).tolist()
    made, unit = list(entries), entries[0].torque.units
    for at, score in zip(known, scores, strict=True):
        increment = Q(float(added[at - 1]), TORQUE).to(unit)
        made[at] = replace(entries[at], increment=increment, score=score)
    return made


def _missing(entries):
    """Yield what keeps increments from being known or compared."""
    if entries and entries[0].place != "engine":
        yield (f"the crank alone is missing: what {entries[0].words} added is not known; it cannot"
               " be read any more once a piston is in")  # fmt: skip
    known = sum(each.increment is not None for each in entries)
    if entries and known < _LEAST:
        yield f"{known} of {_LEAST} increments: too few to tell one piston from the others yet"


def _one_by_one(entries):
    """Yield what is odd about single entries."""
    for before, each in zip([None, *entries], entries, strict=False):
        ways = [size for size in (each.forward, each.back) if size is not None]
        if len(ways) == 1:
            way = WAYS[each.forward is None]
            yield f"{each.words}: read {way} only, so weight and imbalance stay in it"
        else:
            apart, (steps, share) = abs(ways[0] - ways[1]), _UNLIKE
            if apart > steps * each.resolution and apart > share * each.torque:
                said = " and ".join(map(torque_text, ways))
                yield (f"{each.words}: {said}, forward and back: friction is alike both ways; is"
                       " one a breakaway reading? Read both again")  # fmt: skip
        if each.increment is None:
            continue
        if each.increment < -max(each.resolution, before.resolution):
            said = f"from {torque_text(before.torque)} to {torque_text(each.torque)}"
            yield (f"the torque falls {said} after {each.words}: a breakaway reading before? Log"
                   f" {before.words} and {each.words} again")  # fmt: skip


def _stale(entries, begun, taken_out):
    """Yield whose totals still hold a piston that was taken out after they were logged."""
    for place, (began, line) in taken_out.items():
        holding = [each.words for each in entries
                   if began < begun[each.place] < line and min(each.lines) < line]  # fmt: skip
        if holding and place != "engine":
            said = f"{place_words(place)} was withdrawn in line {line} after {listed(holding)}"
            yield f"{said}: what was read there holds its drag; log again, in the order of fitting"


def _said(build, entries):
    """Return what the log says, and the patterns of drag of a piston that adds too much."""
    if not entries:
        return ["no turning torque is logged yet"], ()
    words, high = [], False
    usual = [each.increment for each in entries if each.increment is not None and not each.flagged]
    others = _between(usual)
    for each in (entry for entry in entries if entry.flagged):
        said = f"{each.words} added {torque_text(each.increment)}, the others {others}"
        if each.score > 0:
            words.append(f"{said}: take that piston out again, do not work it free")
        else:
            words.append(f"{said}: is a ring left out, or was the one before a breakaway reading?")
        high |= each.score > 0
    if not words and len(usual) >= _LEAST:
        words.append(f"{len(usual)} pistons added {others} {_unit(usual[0])} each: alike")
    words.append(f"{torque_text(entries[-1].torque)} after {entries[-1].words}")
    logged = {each.place for each in entries}
    if left := [each for each in map(str, build.cylinders) if each not in logged]:
        words.append(f"not logged yet: cylinder{'s' * (len(left) > 1)} {listed(left)}")
    patterns = [row["pattern"] for row in causes() if "main cap" not in row["pattern"]]
    return words, tuple(patterns) if high else ()


def _between(sizes):
    """Return "1.8 to 2.0" of some torques."""
    ends = [torque_text(pick(sizes)).partition(" ")[0] for pick in (min, max)] if sizes else ["?"]
    return " to ".join(dict.fromkeys(ends))


def _unit(torque):
    return torque_text(torque).partition(" ")[2]


def listed(some):
    """Return "1, 3 and 5" of some words."""
    *first, last = map(str, some)
    return f"{', '.join(first)} and {last}" if first else last
