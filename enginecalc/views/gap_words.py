"""What chapter 05 says in and under its pictures."""

import html

import numpy as np

from enginecalc import limits
from enginecalc.records.figures import where_to_measure
from enginecalc.units import to_si
from enginecalc.views import tables
from enginecalc.views.block_plan import CHAMFER, CIRCLE, WEIGHT_TO_CAM
from enginecalc.views.block_words import at_place, say_gap


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
                said.append(f"{told}, {row.feature}" if not said else told)
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
    said = ", ".join(counts) or ("every gap within" if words else "no gap known")
    stroke = tables.length(plan.engine.crank.stroke, system)
    other = "" if own == number else f", cylinder {own}"  # plan A may have none of that number
    return f"{plan.name}{other}, stroke {stroke}: {said}"


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
    named = row.feature.replace(" at ", "\nat ")
    feature, _, where = named.rpartition(", ")
    if "phase" in pair:
        return gap, where, feature, low
    block = "pan rail" if "rail" in pair else "bore's lower edge"
    if "bore" in pair:
        return gap, block, feature, low
    return gap, circle if pair == CIRCLE else block, named, low


def about_gap(plan, row, curve, system):
    """Return the title over an enlarged gap, and a sentence that says what the pictures show."""
    gap, at = say_gap(row, system, plan.status(row)), at_place(plan, [[row]])
    head = f"{plan.name}, cylinder {row.cylinder}: {row.pair} {gap} {at}"
    low = tables.length(row.limit, system)
    told = f"Above: {row.feature}, {gap} {at}, {plan.word(row)}: at least {low}."
    if curve is None:
        return head, f"{told} This gap does not change with the crank angle."
    return head, f"{told} Below: {over_turn(row, curve)}."


def over_turn(row, curve):
    """Return where over a turn a pair is under its limit, "under its limit from 31° to 62°"."""
    angles, gaps = curve[0].m_as("deg"), curve[1].m_as("m")
    below = np.flatnonzero(gaps < to_si(row.limit))
    if not below.size:
        return f"{row.pair} keeps its limit at every crank angle"
    runs = np.split(below, np.flatnonzero(np.diff(below) > 1) + 1)
    said = " and ".join(f"{angles[each[0]]:.0f}° to {angles[each[-1]]:.0f}°" for each in runs)
    return f"{row.pair} is under its limit from {said}"
