"""What chapter 06 says of a build in words and tables; every text of a ledger is escaped."""

import html

from enginecalc.records.decks import bank_planes, deck_readings
from enginecalc.records.doubts import cannot_be, doubtful_lines, reading_doubts
from enginecalc.records.figures import FITS, PLAN_RESULTS, VALVE_RESULTS
from enginecalc.records.fit_results import Fit, worst_first
from enginecalc.records.results import results
from enginecalc.units import to_si
from enginecalc.views import tables
from enginecalc.views.shop_words import evened, fine, shop_order

__all__ = ["deck_table", "doubts_list", "fits_table", "planned_beside_measured", "shop_order"]

_LENGTHS = {name for name in tables.SHOWN if tables.SHOWN[name] is tables.LENGTH}
_FORM_OF = {"bore": "bore", "pin": "crank pin", "journal": "main journal"}


def _say(name, quantity, system, u=None, **how):
    """Return a result's quantity, a length as fine as a fit."""
    name = FITS[0] if name in _LENGTHS else name
    return tables.say(name, evened(quantity, name, system), system, u, **how)


# --- fits ---------------------------------------------------------------------------------------


def fits_table(found, system, build=None):
    """Return the table of a list of `Fit`, worst first; those within their limits folded below.

    What cannot be comes first of all, what is not measured yet last. Rows that say the same of
    several places are one. With the `build` whose fits they are, a taper or out-of-round that
    rests on a doubtful reading is "in doubt".
    """
    doubts = _form_doubts(found, build) if build else {}
    order = worst_first(found)
    known = [fit for fit in order if fit.result.value is not None]
    never = {(fit.place, fit.result.reason): fit for fit in order[::-1] if cannot_be(fit.result)}
    lacking = [fit for fit in order if fit.result.value is None and not cannot_be(fit.result)]
    well = [fit for fit in known if tables.say_status(fit.result) in ("within", "no limit")
            and (fit.place, fit.result.name) not in doubts]  # fmt: skip
    shown = [*never.values(), *(fit for fit in known if fit not in well), *lacking]
    made = _fits(shown, system, "Fits, worst first", doubts) if shown else ""
    if well:
        title = f"{len(well)} {'more ' if shown else ''}within their limits or without one"
        inside = _fits(well, system, "Fits within their limits, the least room first", {})
        made += f"<details><summary>{html.escape(title)}</summary>{inside}</details>"
    return made or tables.paragraphs("No fit is known yet: a bearing needs housing, shells and"
                                     " journal, a piston clearance bore and piston.")  # fmt: skip


def _form_doubts(found, build):
    """Return {(place, name): why} of taper and out-of-round that rest on a doubtful reading."""
    lines, made = doubtful_lines(build), {}
    for fit in found:
        kind, _, form = fit.result.name.partition("_")
        if kind not in _FORM_OF or form not in ("taper", "out_of_round"):
            continue
        place = int(fit.place.rpartition(" ")[2]) if kind == "bore" else fit.place
        mean = build.mean(_FORM_OF[kind], "diameter", place)
        bad = [line for line in mean.lines if line in lines] if mean else ()
        if bad:
            made[fit.place, fit.result.name] = f"line {bad[0]} of the readings is in doubt"
    return made


def _fits(some, system, caption, doubts):
    rows = {}
    for fit in some:
        result, key = fit.result, (fit.place, fit.result.name)
        doubt = doubts.get(key, "")
        word = "in doubt" if doubt else tables.say_status(result)
        row = (
            tables.name_of(result.name),
            _say(result.name, result.value, system, result.u),
            "cannot be" if cannot_be(result) else word,
            "; ".join(filter(None, (tables.say_limits(result, system), result.reason, doubt))),
        )
        rows.setdefault((fit.place.rpartition(" ")[0], row), []).append(fit.place)
    heads = ("place", "what", "value", "is", "should be · says who; why not")
    listed = [(_places(kind, places), *row) for (kind, row), places in rows.items()]
    return tables.html_table(heads, listed, caption, words=True)


def _places(kind, places):
    """Return "cylinders 1, 3" for "cylinder 1" and "cylinder 3"."""
    if len(places) == 1:
        return places[0]
    return f"{kind}s {', '.join(place.rpartition(' ')[2] for place in places)}"


# --- planned beside measured ----------------------------------------------------------------------


def planned_beside_measured(build, system):
    """Return the table of results that the readings change, with the cylinders they name."""
    planned = {each.name: each for each in results(build.engine, PLAN_RESULTS + VALVE_RESULTS)}
    found, faults = {}, []
    for number in build.cylinders:
        try:
            found[number] = results(build.measured(number), tuple(planned))
        except ValueError as fault:
            faults += str(fault).splitlines()
    by_name = {name: {number: each[at] for number, each in found.items()}
               for at, name in enumerate(planned)}  # fmt: skip
    rows = [_planned(planned[name], each, system) for name, each in by_name.items()]
    rows = [row for row in rows if row]
    heads = ("", "planned", "least", "greatest", "worst", "should be · says who")
    caption = "Planned beside measured, the least and the greatest with the cylinder in brackets"
    table = tables.html_table(heads, rows, caption, words=True) if rows else ""
    same = [tables.name_of(name) for name in planned if planned[name].value is not None]
    changed = {row[0].partition(" [")[0] for row in rows}
    same = [name for name in same if name not in changed]
    told = "Displacement: as if all cylinders were like that one." * ("displacement" in changed)
    told += f" As planned: {', '.join(same)}." if rows and same else ""
    none = "" if rows or faults else "No result differs from the plan by what is measured so far."
    return tables.paragraphs(*faults, none) + table + tables.paragraphs(told)


def _planned(plan, found, system):
    """Return the row of a result, None when no cylinder's differs from the plan as shown."""
    known = {number: each for number, each in found.items() if each.value is not None}
    shown = {_say(plan.name, each.value, system, each.u) for each in known.values()}
    if not known or shown == {_say(plan.name, plan.value, system, plan.u)}:
        return None
    least, most = (pick(known, key=lambda number: to_si(known[number].value))
                   for pick in (min, max))  # fmt: skip
    worst = worst_first([Fit(str(number), each) for number, each in known.items()])[0]
    limited = (worst.result.low, worst.result.high) != (None, None)
    unit = tables.SHOWN[plan.name][system][0]
    said = {at: _say(plan.name, known[at].value, system, known[at].u, with_unit=False)
            for at in (least, most)}  # fmt: skip
    return (
        f"{tables.name_of(plan.name)} [{unit}]" if unit else tables.name_of(plan.name),
        _say(plan.name, plan.value, system, plan.u, with_unit=False) or "not known",
        *(f"{said[at].partition(' ± ')[0]} ({at})" for at in (least, most)),
        f"cylinder {worst.place}, {worst.result.status}" if limited else "",
        tables.say_limits(worst.result, system, with_unit=False),
    )  # fmt: skip


# --- decks and doubts ---------------------------------------------------------------------------


_AT_TOP = (
    "Deck clearance on the pin axis, where rock does not show. Slope: front less rear; alike on a"
    " whole bank it is the deck's, on one cylinder a bent rod's or a misreading. Rock: half the"
    " difference of the thrust points. In line: beside the straight line of its bank by no more"
    " than the readings are sure."
)


def deck_table(build, system):
    """Return the table of how the pistons stand at their top, and which lie off their bank."""
    rows = [
        (
            str(each.cylinder),
            fine(each.clearance, system),
            fine(each.slope, system, signed=True),
            fine(each.rock, system),
            "OFF its bank's line" if each.off else "in line",
        )
        for each in deck_readings(build)
    ]
    planes = _bank_planes(build, system)
    if not rows:
        return tables.paragraphs("No piston has been read at its top yet.") + planes
    heads = ("cylinder", "deck clearance", "slope", "rock", "on its bank")
    caption = f"Pistons at top dead center [{tables.SHOWN[FITS[0]][system][0]}]: + below the deck"
    return tables.html_table(heads, rows, caption) + tables.paragraphs(_AT_TOP) + planes


def _bank_planes(build, system):
    """Return the table of how each bank's deck lies, "" where too few corners were read."""
    rows = [
        (
            plane.place,
            fine(plane.along, system, signed=True),
            fine(plane.across, system, signed=True),
            fine(plane.twist, system),
        )
        for plane in bank_planes(build)
    ]
    if not rows:
        return ""
    heads = ("", "rear over front", "outer over inner edge", "corners off the plane")
    caption = f"The plane of each deck, from its corners [{tables.SHOWN[FITS[0]][system][0]}]"
    return tables.html_table(heads, rows, caption)


def doubts_list(build):
    """Return the list of what is doubtful in the readings."""
    doubts = reading_doubts(build)
    if not doubts:
        return tables.paragraphs("Nothing in the readings looks doubtful.")
    items = "".join(f"<li>{html.escape(each)}</li>" for each in doubts)
    return f'<ul class="enginecalc-doubts" role="status">{items}</ul>'
