"""What chapter 05 says in and under its pictures."""

import html

import numpy as np

from enginecalc import limits
from enginecalc.records.block_view import said_angle
from enginecalc.records.figures import where_to_measure
from enginecalc.units import Q, to_si
from enginecalc.views import tables
from enginecalc.views.block_plan import CHAMFER, CIRCLE, PHASE, WEIGHT_TO_CAM, feature
from enginecalc.views.block_words import at_place, block_part, say_gap

_TURN = Q(360, "deg")


def marked(plan, other, number):
    """Return the pairs of a cylinder that are outside or close in either plan, worst first."""
    return list(
        dict.fromkeys(
            row.pair
            for each in (plan, other)
            for row in each.ranked(each.own(number))
            if each.status(row) in (limits.OUTSIDE, limits.CLOSE)
        )
    )


def under_views(plan, other, number, system):
    """Return the list of numbered places, and which side is which, as HTML."""
    items = ""
    for pair in marked(plan, other, number):
        said = []
        for each in (plan, other):
            row = each.rows.get((pair, each.own(number)))
            if row is not None:
                gap = say_gap(row, system, each.status(row))
                told = f"{each.name} {gap}, {each.word(row)}, {at_place(each, [[row]])}"
                said.append(f"{told}, {feature(row, system)}" if not said else told)
        hidden = " (along the crank, not in this view)" if pair == CHAMFER else ""
        items += f"<li>{html.escape(f'{pair}{hidden}: ' + '; '.join(said))}</li>"
    inline = plan.engine.layout.kind == "inline"
    missing = (
        "The big end is not drawn, for rod.outline is not measured:"
        f" {where_to_measure('rod.outline')}. Trace it on card and type its discs."
    )
    missing = "" if plan.engine.rod.outline else missing
    return (
        f"<p>Cylinder {html.escape(str(number))}."
        + (" Outside or close, each at its own crank angle:" if items
           else " Of what could be worked out nothing is outside or close." if plan.rows else "")
        + "</p>"
        + (f"<ol>{items}</ol>" if items else "")
        + tables.paragraphs(missing)
        + "<p>Front is the end opposite the flywheel. "
        + ("</p>" if inline else
           "Banks are named as seen from the flywheel end, so the left bank is drawn on the"
           " right.</p>")
    )  # fmt: skip


def title(plan, number, system):
    """Return what stands over a plan's front view: its stroke, and how many pairs are not well."""
    own = plan.own(number)
    words = [plan.status(row) for row in plan.ranked(own) if plan.decides(row)]
    counts = [f"{words.count(word)} {word}" for word in (limits.OUTSIDE, limits.CLOSE)
              if word in words]  # fmt: skip
    counts = counts or ["every known gap within" if words else "no gap known"]
    absent = len(plan.table.attrs["not_measured"])
    counts += [f"{absent} not looked at"] if absent and words else []
    stroke = tables.length(plan.engine.crank.stroke, system)
    other = "" if own == number else f", cylinder {own}"  # plan A may have none of that number
    return f"{plan.name}{other}, stroke {stroke}\n{', '.join(counts)}"


def crank_place(number, angle):
    """Return where the crank stands in a cylinder, both ways in which angles are said here."""
    return f"cylinder {number}: {said_angle('', angle % _TURN)}, {said_angle(PHASE, angle)}"


def at_gap(plan, row, system):
    """Return what to write at a gap, on the block, on the rod and at the limit's line."""
    pair, low = row.pair, f"limit {tables.length(row.limit, system)}"
    gap = say_gap(row, system, plan.status(row))
    if pair == CHAMFER:
        leg, fillet = plan.chamfer_leg(row), plan.engine.crank.fillet_radius
        edge = f"chamfer {tables.length(leg, system)}" if leg.magnitude else "square edge"
        rod = f"{plan.name}: rod, {edge}; gap {gap}"
        return gap, "cheek", rod, f"journal, fillet {tables.length(fillet, system)}"
    circle = "largest circle on the camshaft"
    if pair.startswith("counterweight"):
        return gap, circle if pair == WEIGHT_TO_CAM else row.feature, "counterweight", low
    named = feature(row, system).replace(" at ", "\nat ")
    part, _, where = named.rpartition(", ")
    if "phase" in pair:
        return gap, where, part, low
    if "bore" in pair:
        return gap, block_part(row), part, low
    return gap, circle if pair == CIRCLE else block_part(row), named, low


def about_gap(plan, row, curve, system):
    """Return the title over an enlarged gap, and a sentence that says what the pictures show."""
    gap, at = say_gap(row, system, plan.status(row)), at_place(plan, [[row]])
    head = f"{plan.name}, cylinder {row.cylinder}: {row.pair} {gap} {at}"
    low = tables.length(row.limit, system)
    told = f"Above: {feature(row, system)}, {gap} {at}, {plan.word(row)}: at least {low}."
    if curve is None:
        return head, f"{told} This gap does not change with the crank angle."
    return head, f"{told} Below: {over_turn(row, curve)}."


def over_turn(row, curve):
    """Return where over a turn a pair is under its limit, "… from 34° to 54° after TDC"."""
    angles, gaps = curve[0].m_as("deg"), curve[1].m_as("m")
    below = gaps < to_si(row.limit)
    if below.all() or not below.any():
        way = "is under" if below.any() else "keeps"
        return f"{row.pair} {way} its limit at every crank angle"
    below, turn = np.flatnonzero(below[:-1]), len(angles) - 1  # the last angle is the first again
    runs = np.split(below, np.flatnonzero(np.diff(below) > 1) + 1)
    if len(runs) > 1 and runs[0][0] == 0 and runs[-1][-1] == turn - 1:
        first, *runs, last = runs
        runs = [np.concatenate([last, first]), *runs]
    said = " and ".join(_span(row, angles[each[0]], angles[each[-1]]) for each in runs)
    return f"{row.pair} is under its limit {said}"


def _span(row, *ends):
    """Return a stretch of the turn in words, "from 34° to 54° after TDC"."""
    one, other = (said_angle(row.pair, Q(float(end), "deg")) for end in ends)
    start, _, side = one.partition("°")
    if one == other:
        return f"at {one}"
    return f"from {f'{start}°' if side and other.endswith(side) else one} to {other}"
