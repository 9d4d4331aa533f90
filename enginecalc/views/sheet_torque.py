"""Torque on the hand-over sheet: the rod bolts, and the log of the turning torque."""

from enginecalc.records.hand_over import brief
from enginecalc.records.torque_readings import torque_text
from enginecalc.views import tables
from enginecalc.views.sheet_parts import (
    BLANK,
    FACTS,
    Listing,
    Section,
    Table,
    Text,
    cells,
    limits_said,
    named,
    said,
    sayer,
    sized,
    word_of,
)
from enginecalc.views.sheet_pictures import torque_picture, trace_pictures
from enginecalc.views.torque_words import sentences, torque_words

_OF = {"rod_bolt_clamp_left": ", of the least preload"}
_LOG = (
    "Friction is the mean of both ways, weight and imbalance still in it where only one was read;"
    " added, what that piston brought; score, how far that stands from the others, in steps of the"
    " wrench or in their robust standard deviation, whichever is greater; apart beyond 3.5."
)


def bolt_section(found, system):
    """Return the section of the rod bolts: what their torque gives, and what was measured."""
    card, some, why_not = found.bolts
    parts = [Listing("No bolt card", why_not)] if why_not else []
    if card is not None:
        torque = BLANK if card.torque is None else torque_words(card.torque, system)
        friction = ""
        if card.friction is not None:
            low, middle, high = card.friction
            friction = f"{middle:g}, from {low:g} to {high:g}; {card.friction_from}"
        spread = "" if card.preload_u is None else f"{card.preload_u.m:.0%}, so of what follows"
        angle = "" if card.angle is None else f"{card.angle.m_as('deg'):.0f}° on from snug"
        facts = [("torque", torque), cells("lubricant", card.lubricant),
                 cells("friction", friction), cells("uncertainty of the preload", spread),
                 cells("angle in place of torque", angle)]  # fmt: skip
        made = [cells(named(each.name, system) + _OF.get(each.name, ""),
                      sayer(system)(each.name, each.value), word_of(each),
                      limits_said(each, system) if each.value is not None else brief(each.reason))
                for each in some]  # fmt: skip
        heads = ("rod bolts", "with the middle friction", "is", "should be · says who")
        parts += [Table("", ("", ""), facts, FACTS), Table("", heads, made, (42, 35, 22, 83))]
    rows = found.stretches.rows
    if not rows:
        parts.append(Text("No rod bolt's length has been read: stretch is not known."))
        return Section("Rod bolts", parts)
    made = [cells(each.place, *(sized(size, system) for size in (each.new, each.tightened)),
                  _held(each.stretch, system), _held(each.preload, system),
                  _held(each.stayed_longer, system)) for each in rows]  # fmt: skip
    heads = ("", "new", "tightened", named("rod_bolt_stretch", system),
             named("rod_bolt_preload", system), "longer than new once loosened")  # fmt: skip
    parts.append(Table("Rod bolts by their length", heads, made, (40, 18, 20, 34, 34, 36)))
    should = tables.say_limits(rows[0].stretch, system)
    parts.append(Text(f"Stretch should be {should}." if should else "Its stretch has no limit."))
    if found.stretches.scatter is not None:
        scatter = found.stretches.scatter.m_as("")
        parts.append(Text(f"Preloads scatter by {100 * scatter:.0f} % of their mean."))
    return Section("Rod bolts", parts)


def _held(result, system):
    if result.value is None:
        return ""
    value = said(result.name, result.value, result.u, system=system)
    return value if result.status in ("within", "close") else f"{value} {result.status}"


# --- turning torque ------------------------------------------------------------------------------


def torque_section(found):
    """Return the section of the turning torque: the log, its picture, traces and what they say."""
    log = found.torque
    if not log.entries:
        return Section("Turning torque", [Listing("", list(log.words))])
    rows = {row["line"]: row for row in found.build.readings.latest_cells()}
    unit = torque_text(log.entries[0].torque).partition(" ")[2]
    made = []
    for each in log.entries:
        row = rows[max(each.lines)]
        sizes = (each.forward, each.back, each.torque, each.increment)
        told = ["" if size is None else torque_text(size, 2).partition(" ")[0] for size in sizes]
        told[2] += "" if each.way == "both" else f", {each.way} only"
        score, word = "", ""
        if each.score is not None:
            score, word = tables.number(each.score, 1), "apart" if each.flagged else "alike"
        made.append(cells(each.words, *told, score, word, row["time"][:10], row["by"]))
    heads = ("after", "forward", "back", "friction", "added", "score", "is", "date", "by")
    parts = [
        Text(sentences(log.words)),
        Table(f"Torque log, in the order of fitting [{unit}]", heads, made),
        Text(_LOG),
        torque_picture(found),
        *trace_pictures(found),
    ]
    return Section("Turning torque", parts)
