"""The assembly on the hand-over sheet: matching, ring gaps and orientation, bob weight, steps."""

from enginecalc.records.orientation import orientation
from enginecalc.records.ring_placement import chosen, distances, turned
from enginecalc.records.work_order import CAP_NUMBER, RING_GAP_LAYOUT, SIGNATURE, TANG_SIDE
from enginecalc.units import Q
from enginecalc.views import tables
from enginecalc.views.balance_study import bob_cards
from enginecalc.views.balance_words import CAUTIONS, card_rows, pins_said
from enginecalc.views.sheet_parts import (
    BLANK,
    BOX,
    FACTS,
    FINE,
    TICKED,
    Columns,
    Listing,
    Section,
    Table,
    Text,
    cells,
    from_ledger,
    sized,
)
from enginecalc.views.sheet_pictures import clock_picture

_NO_CHOICE = f'Where the ring gaps go is not chosen yet: step "{RING_GAP_LAYOUT}".'
_MATCHED = (
    "What the parts' sizes propose, each for itself: rods for their clearance and rods for even"
    " decks are two proposals, of which one is followed, before the pistons are in. Once parts are"
    " exchanged, measure them in their new place."
)
_COUNTED = (
    "Crank angles count from cylinder {} at its top; thrust sides are as seen from above with the"
    " front up."
)
_ROUND = "Which way round, with the front mark to the front"
_TO_WRITE = {  # by hand, beside the tick
    "valve lash": "Set: intake ______ exhaust ______ , engine hot or cold: ______",
    "oil pump primed": "Pressure: ______",
}
_CLOCK = "Ring gaps clockwise from the piston's front mark, seen from above, the front up."


# --- matching -----------------------------------------------------------------------------------


def matching_section(found, system):
    """Return the section of which part goes where by the readings, and what it would change."""
    all_ = [*found.matchings.values()]
    if isinstance(all_[0], str) and all_.count(all_[0]) == len(all_):  # one sentence for all
        return Section("Matching", [Text(f"Which part goes where: {all_[0]}.")])
    parts = [Text(_MATCHED)]
    for what, each in found.matchings.items():
        if isinstance(each, str):
            parts.append(Listing(f"{what}: not matched", each.splitlines()))
            continue
        sizes = [[sized(Q(float(size), "m"), system) for size in some]
                 for some in (each.choice.before, each.choice.after)]  # fmt: skip
        heads = ("", *(place.rpartition(" ")[2] for place in each.places))
        made = [("as it is", *sizes[0]), ("as proposed", *sizes[1])]
        unit = tables.SHOWN[FINE][system][0]
        parts.append(Table(f"{what}, by cylinder [{unit}]", heads, made, (), "dense"))
        orders = each.orders or ["nothing to exchange"]
        parts.append(Text(f"{what}: {'; '.join(orders)}."))
    return Section("Matching", parts)


# --- ring gaps and orientation -------------------------------------------------------------------


def clock_section(found, system):
    """Return the section of ring gaps and of which way round everything of a cylinder goes."""
    layout = found.engine.layout
    placement, gaps = chosen(found.build), ()
    parts = [Text(_NO_CHOICE)]
    if placement is not None:
        placement = turned(placement, layout.rotation)
        gaps = tuple(zip(placement.rings, placement.angles, strict=True))
        heads = ("", *placement.rings, "least apart", "from pin axis", "from thrust axis")
        row = ("gap at", *(f"{at.m_as('deg'):g}°" for _, at in gaps),
               *(f"{each:.0f}°" for each in distances(placement)))  # fmt: skip
        same = f"The same in every cylinder: {placement.name}. Source: {placement.source}."
        parts = [Text(f"{_CLOCK} {same}"), Table("", heads, [row])]
    made = []
    for number in layout.numbers:
        here = orientation(found.engine, number)
        tang, cap = (found.assembly.entry(str(number), name) for name in (TANG_SIDE, CAP_NUMBER))
        offset = "" if here.pin_offset is None else "none"
        if here.pin_offset:
            offset = f"{tables.length(abs(here.pin_offset), system)} to {here.offset_side}"
        cheek = "look at its mark" if here.cheek_from == "taken" else here.cheek
        thrust = ", ".join(dict.fromkeys((here.thrust, here.thrust_side)))
        made.append(cells(str(number), here.bank, f"{here.pin}, {here.sits}",
                          f"{here.bottom.m_as('deg'):g}°", thrust, offset, cheek,
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
        heads = ("", "one, as the engine file has it [g]", "counted", "[g]", "weighed")
        made = [(*row, BLANK) for row in card_rows(found.engine, card)]
        parts.append(Table(f"For {pins_said(pins)}, in grams", heads, made))
    blank = [("balanced by, on, to within [g]", BLANK)]
    parts.append(Table("", ("", ""), blank, FACTS, "by-hand"))
    return Section("Bob weight", [*parts, Listing("", list(CAUTIONS))])


def step_section(found):
    """Return the section of the steps of assembly, cylinder by cylinder in the order of work."""
    heads = ("", "step", "found", "by", "date")
    parts = [Text("A box stands at each step, ticked where it was entered and holds.")]
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
        words = " ".join(filter(None, (step.words, step.caution, _TO_WRITE.get(step.name))))
        made.append((box, words, found_, by, date))
    note = (
        "Each is a hold point: nothing goes on before it is done. Battery off and starter disabled"
        " until the last of them."
    )
    heads = ("", "check", "found", "by", "date")
    return Section(
        "Final checks", [Text(note), Table("", heads, made, (7, 84, 40, 26, 25), "checks")]
    )


def _step(found, section, step):
    entry = found.assembly.entry(section.place, step.name)
    if entry is None:
        return (BOX, step.name, BLANK, BLANK, BLANK)
    told = from_ledger(entry.said)
    if step.kind == "reading" and told.endswith(" readings"):
        told += ", listed under Readings"
    if entry.wrong:
        told += ": OPEN, see the warnings"
    return cells(BOX if entry.wrong else TICKED, step.name, told, entry.by, entry.time[:10])
