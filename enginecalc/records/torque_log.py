"""The log of turning torque of a build: what each piston added, and which one stands apart."""

from dataclasses import dataclass, replace

import numpy as np
import pint

from enginecalc.records.drag_causes import causes, patterns_of_tight
from enginecalc.records.places import listed, place_words
from enginecalc.records.torque_readings import (
    TORQUE,
    WAYS,
    fitted,
    torque_readings,
    torque_text,
    unit_to_show,
)
from enginecalc.turning_torque import (
    OUTLYING,
    friction_torque,
    increment_scores,
    torque_increments,
)
from enginecalc.units import Q, to_si

_LEAST = 3  # increments from which a median can be told
_UNLIKE = 2.0, 1 / 3  # resolutions, and share of the mean, by which both ways may differ: our own
_CRANK = Q(5.0, "lbf*ft")  # above it the crank alone is asked about: our own bound
_FINGERS = Q(1.0, "lbf*ft"), Q(2.0, "lbf*ft")  # common practice, no source
_TOO_MUCH = ": take that piston out again, do not work it free"
_TOO_LITTLE = ": is a ring left out, or was the one before a breakaway reading?"

_ALIKE = 0.5  # of the median: how far increments that are called alike may lie apart; our own bound
_MUCH = Q(4.0, "lbf*ft")  # for one piston; our own bound, from what a short block takes in all
_TWO_SORTS = "not alike, and too many stand apart to name one; look at what the dearer ones share"
_USUAL = "a short block often takes 15 to 25 lbf·ft in all (common practice, no source)"


@dataclass(frozen=True)
class TorqueEntry:
    """A line of the log: the crank alone, place "engine", or after the piston of a cylinder.

    `torque` is the friction, of one direction alone where only one was read. `increment` and
    `score` are None where they are not known. `since` has the places whose piston went in after
    the entry before: only where it is this one alone is the increment that of its piston. `said`
    is the sentence on an increment that stands apart, "" of any other.
    """

    place: str
    forward: pint.Quantity | None
    back: pint.Quantity | None
    torque: pint.Quantity
    resolution: pint.Quantity
    lines: tuple  # in the ledger
    increment: pint.Quantity | None = None
    score: float | None = None
    since: tuple = ()
    said: str = ""

    @property
    def way(self):
        """The one direction that was read, or "both"."""
        if None not in (self.forward, self.back):
            return "both"
        return WAYS[self.forward is None]

    @property
    def flagged(self):
        """True where the increment is not one of the others, more or less."""
        return self.score is not None and abs(self.score) > OUTLYING

    @property
    def tight(self):
        """True where a piston added more than the others did."""
        return self.flagged and self.score > 0

    @property
    def words(self):
        """The place in words."""
        return "the crank alone" if self.place == "engine" else place_words(self.place)


@dataclass(frozen=True)
class TorqueLog:
    """The lines of a log in the order of fitting, what they say, and what is doubtful in them.

    `about` has {place: sentences} on why its torque does not count, or holds weight and imbalance:
    all of them are among the doubts. `patterns` are keys of `causes`, of a piston that adds too
    much; the log alone does not show at which angles it drags.
    """

    entries: tuple
    words: tuple
    doubts: tuple
    about: dict
    patterns: tuple


def torque_log(build, unit=None):
    """Return the `TorqueLog` of a build.

    The order of fitting is that of the first row of each place in the ledger, since it was last
    withdrawn; the crank alone stands first. A figure that is typed again keeps its place. What was
    read while a piston was in that came out again does not count.

    Parameters
    ----------
    unit : str or pint.Unit
        Of torques and sentences; that of the first entry when there is none.

    Raises
    ------
    ValueError
        When `unit` is not one of torque.
    """
    first = next((mine[0] for mine in _by_place(build)[0].values()), None)
    unit = unit_to_show(unit) or (first and first.unit)
    return build.kept(("torque log", unit), lambda: _log(build, unit))


def _by_place(build):
    """Return {place: its readings that count}, in the order of fitting, and what was left out."""
    return build.kept("torque by place", lambda: _placed(build))


def _placed(build):
    readings, left_out = torque_readings(build, "turning torque")
    made = {place: [each for each in readings if each.place == place and each.line >= line]
            for place, line in fitted(build).begun.items()}  # fmt: skip
    return {place: mine for place, mine in made.items() if mine}, left_out


def _log(build, unit):
    fitting, (readings, left_out) = fitted(build), _by_place(build)
    entries = []
    for place, mine in readings.items():
        before = fitting.held[entries[-1].place] + (entries[-1].place,) if entries else ()
        within = () if place == "engine" else (*fitting.held[place], place)
        since = tuple(each for each in within if each not in before)
        entries.append(replace(_entry(place, mine, unit), since=since))
    entries = _with_words(_with_increments(entries))
    stale = {place: (fitting.stale_words(place),) for place in fitting.stale}
    one_way = {each.place: (_one_way(each),) for each in entries if each.way != "both"}
    out = {place: tuple(said for at, said in left_out if at == place) for place, _ in left_out}
    doubts = [said for _, said in left_out]
    doubts += [*sum(stale.values(), ()), *_missing(entries), *_one_by_one(entries)]
    said, patterns = _said(build, entries, fitting)
    about = {**one_way, **out, **stale}
    return TorqueLog(tuple(entries), tuple(said), tuple(doubts), about, patterns)


def why_not_known(before, entry):
    """Return why it is not known what the piston of an entry added, "" where it is."""
    if entry.since == (entry.place,):
        return ""
    if not entry.since:
        return (f"what {entry.words} added is not known: the same pistons were in when"
                f" {before.words} was logged")  # fmt: skip
    several, added = len(entry.since) > 1, torque_text(entry.torque - before.torque)
    return (f"what {entry.words} added alone is not known: cylinder{'s' * several}"
            f" {listed(entry.since)} went in after {before.words} was logged and brought {added}"
            f"{' together' * several}")  # fmt: skip


def _entry(place, readings, unit):
    """Return the `TorqueEntry` of a place, its increment open."""
    ways = {way: [each.size for each in readings if each.way == way] for way in WAYS}
    sizes = {way: float(np.mean(some)) for way, some in ways.items() if some}
    torque = friction_torque.kernel(*sizes.values()) if len(sizes) == 2 else sum(sizes.values())
    shown = {way: Q(size, TORQUE).to(unit) for way, size in sizes.items()}
    finest = max(each.resolution for each in readings)
    return TorqueEntry(
        place, shown.get("forward"), shown.get("back"), Q(float(torque), TORQUE).to(unit),
        Q(finest, TORQUE).to(unit), tuple(each.line for each in readings),
    )  # fmt: skip


def _with_increments(entries):
    """Return the entries with what each added, and their scores where there are enough."""
    if len(entries) < 2:
        return entries
    added = torque_increments.kernel(np.array([to_si(each.torque) for each in entries]))
    steps = np.array([to_si(each.resolution) for each in entries])
    steps = np.maximum(steps[1:], steps[:-1])
    known = [at for at, each in enumerate(entries) if at and each.since == (each.place,)]
    mine = [at - 1 for at in known]
    scores = [None] * len(known)
    if len(known) >= _LEAST:
        scores = increment_scores.kernel(added[mine], steps[mine]).tolist()
    made, unit = list(entries), entries[0].torque.units
    for at, score in zip(known, scores, strict=True):
        increment = Q(float(added[at - 1]), TORQUE).to(unit)
        made[at] = replace(entries[at], increment=increment, score=score)
    return made


def _with_words(entries):
    """Return the entries, those that stand apart with their sentence."""
    others = _between(_usual(entries))
    made = []
    for each in entries:
        if each.flagged:
            said = f"{each.words} added {torque_text(each.increment)}, the others {others}"
            said += _TOO_MUCH if each.score > 0 else _TOO_LITTLE
            each = replace(each, said=said)
        made.append(each)
    return made


def _usual(entries):
    """Return the increments that are known and do not stand apart."""
    return [each.increment for each in entries if each.increment is not None and not each.flagged]


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
        if each.place == "engine" and _beyond(each.torque, _CRANK):
            least, most = (f"{size.m_as(each.torque.units):.2g}" for size in _FINGERS)
            yield (f"the crank alone takes {torque_text(each.torque)}: with its caps torqued a"
                   f" crank turns by the fingers, {least} to {most} {_unit(each.torque)} (common"
                   " practice, no source)")  # fmt: skip
        if each.way != "both":
            yield _one_way(each)
        else:
            apart, (steps, share) = abs(each.forward - each.back), _UNLIKE
            if _beyond(apart, steps * each.resolution) and _beyond(apart, share * each.torque):
                said = " and ".join(map(torque_text, (each.forward, each.back)))
                yield (f"{each.words}: {said}, forward and back: friction is alike both ways; is"
                       " one a breakaway reading? Read both again")  # fmt: skip
        if before and (why := why_not_known(before, each)):
            yield why
        if before and _falls(before, each):
            said = f"from {torque_text(before.torque)} to {torque_text(each.torque)}"
            yield (f"the torque falls {said} after {each.words}: a breakaway reading before? Log"
                   f" {before.words} and {each.words} again")  # fmt: skip


def _one_way(entry):
    return f"{entry.words}: read {entry.way} only, so weight and imbalance stay in it"


def _beyond(one, other):
    """Say whether one torque is more than another, and by more than rounding."""
    return to_si(one) > to_si(other) * (1 + 1e-9)


def _falls(before, entry):
    finest = max(entry.resolution, before.resolution)
    return entry.increment is not None and entry.increment < -finest


def _said(build, entries, fitting):
    """Return what the log says, and the patterns of drag of a piston that adds too much."""
    if not entries:
        return [f"no turning torque {'counts any more' if fitting.stale else 'is logged yet'}"], ()
    words, usual, high = [each.said for each in entries if each.said], _usual(entries), set()
    for each in entries:
        if each.tight:
            high |= {*patterns_of_tight(build, each.place, fitting.held[each.place])}
    if not words and len(usual) >= _LEAST and not any(map(_falls, entries, entries[1:])):
        added = f"{len(usual)} pistons added {_between(usual)} {_unit(usual[0])} each"
        spread, middle = np.ptp([to_si(each) for each in usual]), np.median(list(map(to_si, usual)))
        apart = max(_ALIKE * middle, 2 * max(to_si(each.resolution) for each in entries))
        words.append(f"{added}: alike" if spread <= apart else f"{added}: {_TWO_SORTS}")
        if middle > to_si(_MUCH):
            words.append(f"that is much for a piston: {_USUAL}")
    words.append(f"{torque_text(entries[-1].torque)} after {entries[-1].words}")
    logged = {*fitting.stale, *(each.place for each in entries)}
    if left := [each for each in map(str, build.cylinders) if each not in logged]:
        words.append(f"not logged yet: cylinder{'s' * (len(left) > 1)} {listed(left)}")
    return words, tuple(row["pattern"] for row in causes() if row["pattern"] in high)


def _between(sizes):
    """Return "1.8 to 2.0" of some torques."""
    ends = [torque_text(pick(sizes)).partition(" ")[0] for pick in (min, max)] if sizes else ["?"]
    return " to ".join(dict.fromkeys(ends))


def _unit(torque):
    return torque_text(torque).partition(" ")[2]
