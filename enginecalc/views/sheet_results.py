"""Results on the hand-over sheet: planned beside measured, fits, decks, block and valves."""

from enginecalc import limits
from enginecalc.records.block_view import said_angle
from enginecalc.records.clearances import VALVES, least_piston_to_valve
from enginecalc.records.doubts import cannot_be
from enginecalc.records.figures import rests_on
from enginecalc.records.fit_results import Fit, worst_first
from enginecalc.records.hand_over import brief
from enginecalc.units import read, size_in, to_si
from enginecalc.views import tables
from enginecalc.views.block_words import say_gap
from enginecalc.views.sheet_parts import (
    BLANK,
    Listing,
    Section,
    Table,
    Text,
    cells,
    first_figure,
    limits_said,
    named,
    runs,
    sayer,
    sized,
    word_of,
)
from enginecalc.views.sheet_pictures import bore_picture, fit_picture
from enginecalc.views.valve_words import (
    EVENT_LIFT,
    event_rows,
    lobe_words,
    overlap_words,
    side_of_top,
)

_PLANNED = (
    "Planned stands beside measured, the least and the greatest with their cylinder in brackets,"
    " where a dimension behind it was read; ± is one standard uncertainty. Displacement:"
    " of an engine all of whose cylinders are like the one in brackets."
)
_PLACES = (
    "Worked out from the readings, place by place; an empty box is not known. Its word stands under"
    " a value that is outside its limits or close to one. u is the greatest of its row. Oil"
    " clearance: the housing square to its parting line, less both shells, less the largest"
    " diameter of the pin under that rod, or of the journal."
)
_AT_TOP = (
    "Deck clearance on the pin axis, + below the deck. Slope: front less rear. Rock: half the"
    " difference of the two thrust points."
)
_NEAREST = (
    "The cylinder with the least gap, at its own crank angle. A computed gap replaces no clay, wire"
    " or feeler check."
)
_NOT_KNOWN = "not known: see the first pages for what it needs"
_ACROSS = 8  # places side by side
_PLANE = ("along", "across", "twist")


def result_section(found, system):
    """Return the section of results, planned beside measured."""
    heads = ("", "planned", "least read", "greatest read", "u", "is", "should be · says who")
    count = len(found.build.cylinders)
    made = [_result(plan, _read(found, name), count, system)
            for name, plan in found.planned.items()]  # fmt: skip
    none = "" if found.measured else "No dimension of this engine has been measured yet."
    parts = [Text(each) for each in (_PLANNED, none, *found.faults) if each]
    parts.append(Table("", heads, made, (38, 25, 21, 21, 15, 20, 42)))
    return Section("Results, planned beside measured", parts)


def _read(found, name):
    """Return {cylinder: `Result`} of those in which a reading stands behind a result."""
    return {
        number: each[name]
        for number, each in found.measured.items()
        if not found.build.fields_read(number).isdisjoint(rests_on(name))
    }


def _result(plan, by_cylinder, count, system):
    say, name = sayer(system), plan.name
    known = {number: each for number, each in by_cylinder.items() if each.value is not None}
    ends, worst = (BLANK, BLANK, BLANK), plan
    if known:
        ends = (pick(known, key=lambda number: to_si(known[number].value)) for pick in (min, max))
        u = max((each.u for each in known.values() if each.u is not None), default=None)
        ends = [(_bare(known[at], say), at) for at in ends]
        if len(known) > 1 and ends[0][0] == ends[1][0]:
            ends = [(size, runs(known) if len(known) < count else "all") for size, _ in ends]
        ends = [f"{size} ({at})" for size, at in ends]
        ends.append(_alone(name, u, system))
        worst = worst_first([Fit(str(at), each) for at, each in known.items()])[0].result
    should = limits_said(worst, system) if worst.value is not None else _NOT_KNOWN
    return cells(named(name, system), say(name, plan.value, plan.u), *ends, word_of(worst), should)


def _bare(result, say):
    """Return a value with the digits its uncertainty leaves it, without that uncertainty."""
    return say(result.name, result.value, result.u).partition(" ± ")[0]


def _alone(name, u, system):
    """Return a standard uncertainty to its first figure, "" for none."""
    if u is None:
        return ""
    return first_figure(size_in(u, tables.UNITS[tables.SHOWN[name][system][0]]))


def fit_section(found, system):
    """Return the section of fits, a column for each place, and their picture."""
    parts = [Text(_PLACES)]  # fmt: skip
    for kind in ("cylinder", "main", "pin", "engine"):
        mine = [fit for fit in found.fits if fit.place.split()[0] == kind]
        if mine:
            parts += _fits(kind, mine, system)
    never = {f"{fit.place}: {fit.result.reason}": None for fit in found.fits
             if cannot_be(fit.result)}  # fmt: skip
    parts += [Listing("Cannot be", [*never])] if never else []
    if len(parts) == 1:
        return Section("Fits", [Text("No fit is known yet: none of its parts has been measured.")])
    parts.append(fit_picture(found, system))
    if any(part == "bore" for part, *_ in found.build.means()):
        parts.append(bore_picture(found, system))
    return Section("Fits", parts)


def _fits(kind, some, system):
    """Yield tables of fits, each with as many places as go across a page."""
    all_places = list(dict.fromkeys(fit.place for fit in some))
    by_key = {(fit.result.name, fit.place): fit.result for fit in some}
    say, unit = sayer(system), tables.SHOWN[some[0].result.name][system][0]
    for first in range(0, len(all_places), _ACROSS):
        places, made = all_places[first : first + _ACROSS], []
        for name in dict.fromkeys(fit.result.name for fit in some if fit.place in places):
            row = [by_key.get((name, place)) for place in places]
            us = [each.u for each in row if each is not None and each.u is not None]
            any_ = next(each for each in row if each is not None)
            u = _alone(name, max(us, default=None), system)
            shown = (_value(each, say) for each in row)
            made.append(cells(tables.name_of(name), *shown, u, limits_said(any_, system)))
        numbers = [place.partition(" ")[2] or "read" for place in places]
        heads = ("", *numbers, "u", "should be · says who")
        widths = 30, *[13] * len(places), 15, 137 - 13 * len(places)
        yield Table(f"By {kind} [{unit}]", heads, made, widths, "dense")


def _value(result, say):
    """Return a value and, where it is not within its limits, its word."""
    if result is None or result.value is None:
        return "cannot be" if result is not None and cannot_be(result) else BLANK
    value, word = _bare(result, say), result.status
    return value if word == "within" else f"{value}\n{word}"


def deck_section(found, system):
    """Return the section of the decks as measured."""
    read_, planes = found.decks
    if not read_ and not planes:
        return Section("Decks", [Text("No deck and no piston at its top has been read yet.")])
    unit = tables.LENGTH[system][0]
    made = [cells(str(each.cylinder), sized(each.clearance, system), sized(each.slope, system),
                  sized(each.rock, system), "off its bank's line" if each.off else "in line")
            for each in read_]  # fmt: skip
    heads = ("cylinder", "deck clearance", "slope", "rock", "on its bank")
    parts = [Text(_AT_TOP)]
    parts += [Table(f"Pistons at their top [{unit}]", heads, made)] if made else []
    heads = ("", "rear over front", "outer over inner edge", "corners off the plane")
    made = [cells(each.place, *(sized(getattr(each, name), system) for name in _PLANE))
            for each in planes]  # fmt: skip
    title = f"The plane of each deck, from its corners [{unit}]"
    parts += [Table(title, heads, made)] if made else []
    return Section("Decks", parts)


def block_section(found, system):
    """Return the section of clearances in the block, each pair at its nearest cylinder."""
    unit, made = tables.LENGTH[system][0], []
    for pair, some in found.block_pairs.items():
        row = min(some, key=lambda each: to_si(each.clearance))
        same = [each.cylinder for each in some
                if abs(to_si(each.clearance - row.clearance)) < 1e-9]  # fmt: skip
        source = found.block.attrs["sources"][pair]
        low = f"at least {tables.length(row.limit, system)} · {source}"
        word = limits.status(to_si(row.clearance), to_si(row.limit))
        gap, angle = say_gap(row, system, word, with_unit=False), said_angle(pair, row.crank_angle)
        made.append(cells(pair, runs(same), gap, angle, row.feature, word, low))
    absent = [brief(why) for why in found.block.attrs["not_measured"].values()]
    heads = ("", "cylinders", f"gap [{unit}]", "at", "nearest part", "is", "should be · says who")
    parts = [Text(_NEAREST), Table("", heads, made, (30, 20, 14, 26, 36, 15, 41))] if made else []
    parts += [Listing("Not looked at", absent)] if absent else []
    return Section("Clearances in the block, as planned", parts)


def _by_hand(found, system):
    """Yield the table of piston to valve as read, where it was."""
    made = []
    for each in found.hand_gaps:
        sizes = ("" if size is None else tables.length(size, system).partition(" ")[0]
                 for size in (each.result.value, each.least))  # fmt: skip
        at = "" if each.after_tdc is None else side_of_top(each.after_tdc)
        valve = each.result.name.partition("_")[0]
        made.append(cells(f"{valve}, cylinder {each.cylinder}", *sizes, at, word_of(each.result),
                          each.date))  # fmt: skip
    if made:
        heads = ("", "by the curve through the least", "least read", "at", "is", "date")
        title = f"Piston to valve as read by hand, drop less lift [{tables.LENGTH[system][0]}]"
        yield Table(title, heads, made)


def valve_section(found, system):
    """Return the section of valve events and least gaps of piston to valve."""
    engine, lift, unit = found.engine, EVENT_LIFT[system], tables.LENGTH[system][0]
    decks = {each.cylinder: each.clearance for each in found.decks[0]}
    gaps, lacking = [], []
    for valve in VALVES:
        result = found.planned[f"{valve}_piston_to_valve"]
        try:
            least = [least_piston_to_valve(engine, valve),
                     least_piston_to_valve(engine, valve, deck_clearances=decks)]  # fmt: skip
        except ValueError as fault:
            lacking.append(brief(str(fault)))
            continue
        whose = str(least[1].cylinder or "")
        running = found.planned[f"{valve}_piston_to_valve_running"].value
        sizes = [tables.length(each.clearance, system).split()[0] for each in least]
        hot = tables.length(running, system).split()[0] if running is not None else ""
        gaps.append(cells(valve, sizes[0], side_of_top(least[0].crank_angle),
                          f"{sizes[1]} ({whose})" if whose else "", hot, word_of(result),
                          limits_said(result, system)))  # fmt: skip
    parts = []
    if len(gaps) == len(VALVES):
        heads = ("", "opens", "closes", "duration")
        events = [*event_rows(engine, read(lift))]
        parts += [Table(f"Events at {lift} of lobe lift", heads, events),
                  Text(f"{overlap_words(engine, read(lift))} {lobe_words(engine)}")]  # fmt: skip
    if gaps:
        heads = ("", "as planned", "at", "decks as read, worst", "running", "is", "should be")
        title, widths = f"Least gaps of piston to valve [{unit}]", (16, 16, 28, 24, 16, 15, 67)
        parts += [Table(title, heads, gaps, widths),
                  Text("Running gaps hold for the stated engine speed and temperatures. The check"
                       " with clay or feelers stands under the final checks.")]  # fmt: skip
    parts += _by_hand(found, system)
    return Section("Valves", [*parts, *([Listing("Not worked out", lacking)] if lacking else [])])
