"""The assembly on the hand-over sheet: matching, ring gaps and orientation, bob weight, steps."""

from enginecalc.records.assembly import ENGINE
from enginecalc.records.orientation import orientation
from enginecalc.records.ring_placement import placements, turned
from enginecalc.records.work_order import SIGNATURE
from enginecalc.ring_gaps import axis_distance, least_gap_separation
from enginecalc.views import tables
from enginecalc.views.balance_study import bob_cards
from enginecalc.views.balance_words import CAUTIONS, card_rows, pins_said
from enginecalc.views.sheet_parts import (
    BLANK,
    BOX,
    TICKED,
    Columns,
    Listing,
    Section,
    Table,
    Text,
    cells,
    from_ledger,
)
from enginecalc.views.sheet_pictures import clock_picture

_NO_CHOICE = 'Where the ring gaps go is not chosen yet: step "ring gap layout".'
_MATCHED = (
    "What the readings propose. Where an order stands, the parts lie otherwise than proposed; once"
    " they are exchanged, measure them in their new place."
)
_COUNTED = (
    "Crank angles count from cylinder {} at its top; thrust sides are as seen from above with the"
    " front up."
)
_ROUND = "Which way round, with the front mark to the front"
_CLOCK = "Ring gaps clockwise from the piston's front mark, seen from above, the front up."


# --- matching -----------------------------------------------------------------------------------


def matching_section(found):
    """Return the section of which part goes where by the readings, and what it would change."""
    parts = [Text(_MATCHED)]
    for what, each in found.matchings.items():
        if isinstance(each, str):
            parts.append(Listing(f"{what}: not matched", each.splitlines()))
            continue
        digits, scale = {"in": (4, 0.0254), "mm": (3, 0.001)}[each.unit]
        sizes = [[f"{size / scale:.{digits}f}" for size in some]
                 for some in (each.choice.before, each.choice.after)]  # fmt: skip
        heads = ("", *(place.rpartition(" ")[2] for place in each.places))
        made = [("as it is", *sizes[0]), ("as proposed", *sizes[1])]
        parts.append(Table(f"{what}, by cylinder [{each.unit}]", heads, made, (), "dense"))
        orders = each.orders or ["nothing to exchange"]
        parts.append(Text(f"{what}: {'; '.join(orders)}."))
    return Section("Matching", parts)


# --- ring gaps and orientation -------------------------------------------------------------------


def clock_section(found, system):
    """Return the section of ring gaps and of which way round everything of a cylinder goes."""
    layout, entries = found.engine.layout, found.assembly.entries()
    chosen = entries.get((ENGINE, "ring gap layout"))
    placement = next((each for each in placements() if chosen and each.name == chosen.said), None)
    parts = [Text(_NO_CHOICE)]
    gaps = ()
    if placement is not None:
        placement = turned(placement, layout.rotation)
        gaps = tuple(zip(placement.rings, placement.angles, strict=True))
        apart = least_gap_separation(placement.angles).m_as("deg")
        away = [axis_distance(placement.angles, axis).m_as("deg").min()
                for axis in ("pin", "thrust")]  # fmt: skip
        heads = ("", *placement.rings, "least apart", "from pin axis", "from thrust axis")
        row = ("gap at", *(f"{at.m_as('deg'):g}°" for _, at in gaps),
               *(f"{each:.0f}°" for each in (apart, *away)))  # fmt: skip
        parts = [Text(f"{_CLOCK} The same in every cylinder: {placement.name}. {placement.source}"),
                 Table("", heads, [row])]  # fmt: skip
    made = []
    for number in layout.numbers:
        here = orientation(found.engine, number)
        tang, cap = (entries.get((str(number), name)) for name in ("tang side", "cap number"))
        offset = "" if here.pin_offset is None else "none"
        if here.pin_offset:
            offset = f"{tables.length(abs(here.pin_offset), system)} to {here.offset_side}"
        thrust = ", ".join(dict.fromkeys((here.thrust, here.thrust_side)))
        made.append(cells(str(number), here.bank, f"{here.pin}, {here.sits}",
                          f"{here.bottom.m_as('deg'):g}°", thrust, offset, here.cheek,
                          tang and tang.said, cap and cap.said))  # fmt: skip
    heads = ("cylinder", "bank", "pin, rod sits", "piston in at", "major thrust side", "pin offset",
             "chamfer to", "tangs found on", "cap found")  # fmt: skip
    parts += [
        Table(_ROUND, heads, made, (17, 14, 19, 18, 26, 30, 24, 20, 14), "dense"),
        Text(_COUNTED.format(layout.numbers[0])),
        clock_picture(found, gaps, system),
    ]  # fmt: skip
    return Section("Ring gaps and which way round", parts)


# --- bob weight and steps ------------------------------------------------------------------------


def bob_section(found):
    """Return the section of the bob-weight card."""
    if found.no_card:
        return Section("Bob weight", [Text(f"No card: {found.no_card}.")])
    parts = []
    for pins, card in bob_cards(found.engine):
        heads = ("", "one [g]", "counted", "[g]", "weighed again")
        made = [(*row, BLANK) for row in card_rows(found.engine, card)]
        parts.append(Table(f"For {pins_said(pins)}, in grams", heads, made))
    return Section("Bob weight", [*parts, Listing("", list(CAUTIONS))])


def step_section(found):
    """Return the section of the steps of assembly, cylinder by cylinder in the order of work."""
    heads = ("", "step", "found", "by", "date")
    parts = [Text("A box stands at each step that is not done. What was found comes first; where it"
                  " cannot stay so, why.")]  # fmt: skip
    made = [
        Table(section.title, heads, [_step(found, section, step) for step in section.steps],
              (6, 25, 20, 17, 20), "dense")
        for section in found.assembly.sections()[:-1]
    ]  # fmt: skip
    return Section("Assembly, step by step", [*parts, Columns(made)])


def check_section(found):
    """Return the section of the final checks, each a hold point."""
    section = found.assembly.sections()[-1]
    made = []
    for step in (each for each in section.steps if each.asks != SIGNATURE):
        box, _, found_, by, date = _step(found, section, step)
        made.append((box, step.words, found_, by, date))
    note = "Each is a hold point: nothing goes on before it is done and signed."
    heads = ("", "check", "found", "by", "date")
    return Section(
        "Final checks", [Text(note), Table("", heads, made, (7, 84, 40, 26, 25), "checks")]
    )


def _step(found, section, step):
    entry = found.assembly.entries().get((section.place, step.name))
    if entry is None:
        return (BOX, step.name, BLANK, BLANK, BLANK)
    told = from_ledger(entry.said)
    if step.kind == "reading" and told.endswith(" readings"):
        told += ", listed under Readings"
    if entry.wrong:
        told += ": OPEN, see the warnings"
    return cells(BOX if entry.wrong else TICKED, step.name, told, entry.by, entry.time[:10])
