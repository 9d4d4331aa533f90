"""What chapter 08 says of a cylinder, its bolts, its log and what is left, in words and tables."""

import html

from enginecalc import fits
from enginecalc.records.answers import right_answer
from enginecalc.records.bolt_stretch import bolt_stretches
from enginecalc.records.bolts import bolt_card
from enginecalc.records.fit_results import fit_results
from enginecalc.records.matching import match_rods
from enginecalc.records.orientation import POCKETS, SIDES, backwards, orientation, sequence
from enginecalc.records.results import limits_of
from enginecalc.records.ring_placement import chosen, gap_words, placements, turned
from enginecalc.records.work_order import BOLT_TORQUE, DONE, VALVE_POCKETS, steps_of
from enginecalc.units import ureg
from enginecalc.views import tables
from enginecalc.views.torque_words import torque_words

_METER = ureg.Unit("m")
_RINGS = {"top": "top_ring_gap", "second": "second_ring_gap"}


def ring_layout(build):
    """Return the `Placement` chosen for a build, or the first of the list."""
    return chosen(build) or placements()[0]


def ring_gaps(build):
    """Return (ring, angle) of each gap of a build, clockwise from the front mark."""
    placement = turned(ring_layout(build), build.engine.layout.rotation)
    return [*zip(placement.rings, placement.angles, strict=True)]


def facts(build, number, system):
    """Return the table of what goes where at a cylinder, in large type."""
    engine, here = engine_at(build, number), orientation(build.engine, number)
    rows = [
        ("crank to", f"{here.bottom.m_as('deg'):g}° from cylinder {here.first} at its top: this pin"
         " is then at the bottom of its bore"),
        ("piston", f"front mark to the front; major thrust side {_thrust(here)}"),
        ("rod", _chamfer(engine, here, system)),
        ("cap", _cap(build, number)),
        ("ring gaps", _gaps(build)),
        ("rings filed to", _filed(engine, system)),
        ("bolts", _bolts(engine, system)),
        ("side play", _side_play(build, here, system)),
        ("valve pockets", _pockets(build)),
    ]  # fmt: skip
    turned_round = "".join(
        f"<li>{html.escape(words.format(*(fine(each, system) for each in lengths)))}.</li>"
        for words, lengths in backwards(build.engine, number).lines()
    )
    return (
        f"{_facts_table(here.name, rows)}<details><summary>And if the rod is the wrong way round?"
        f"</summary><ul>{turned_round}</ul></details>"
    )


def engine_facts(build, system):
    """Return what holds for the whole engine: pins, tops, the way round the crank, ring gaps."""
    engine, layout = build.engine, build.engine.layout
    pins = {}
    for each in layout.cylinder:
        pins.setdefault(each.pin, []).append(each.number)
    together = layout.companions()
    steps = ", ".join(f"{number} at {angle.m_as('deg'):g}°" for number, angle in sequence(engine))
    rows = [
        ("crank pins", _pins(pins)),
        ("top together", "; ".join(map(_and, together)) or "none"),
        ("fit in this order", f"{steps}, counted from cylinder {layout.numbers[0]} at its top: each"
         " pin is then at the bottom of its bore"),
        ("ring gaps", _gaps(build)),
        ("bolts", _bolts(engine, system)),
        ("which rod where", _rods(build)),
        ("which shells", "chapter 06 chooses main and rod shells from your stock"),
    ]  # fmt: skip
    listed = "".join(
        f"<li>{html.escape(each.name)}: {html.escape(gap_words(each).replace(' deg', '°'))}."
        f" {html.escape(each.note)} ({html.escape(each.source)})</li>"
        for each in placements()
    )
    return _facts_table(engine.name or build.name, rows) + (
        f"<details><summary>Ring gaps: what can be chosen</summary><ol>{listed}</ol></details>"
    )


def _rods(build):
    """Return what the readings propose of rods and pins, or why nothing."""
    try:
        matching = match_rods(build)
    except ValueError as fault:
        return f"not matched: {fault.args[0].splitlines()[0]}"
    moves = "; ".join(matching.orders)
    return f"by the readings {moves or 'every rod stays'} (chapter 06)"


def _pins(pins):
    if all(len(some) == 1 for some in pins.values()):
        return "one for each cylinder"
    return "; ".join(f"{pin}: {_and(some)}" for pin, some in pins.items())


def _and(some):
    return " and ".join(map(str, some))


def _facts_table(caption, rows):
    body = "".join(
        f'<tr><th scope="row">{html.escape(head)}</th><td>{html.escape(text)}</td></tr>'
        for head, text in rows
    )
    return (
        f'<div class="enginecalc-table enginecalc-facts"><table><caption>{html.escape(caption)}'
        f"</caption><tbody>{body}</tbody></table></div>"
    )


def card_facts(build, number, system):
    """Return (head, words) of what a cylinder's card says beside its picture and its steps."""
    engine, here = engine_at(build, number), orientation(build.engine, number)
    return [
        ("crank to", f"{here.bottom.m_as('deg'):g}° from cylinder {here.first} at its top"),
        ("ring gaps", _gaps(build)),
        ("bolts", _bolts(engine, system)),
        ("side play", _side_play(build, here, system)),
    ]


def tang_side(build, number):
    """Return on which side a cylinder's tangs must lie, "" while none was fitted."""
    step = next(each for each in steps_of("cylinder") if each.asks == "tang side")
    return right_answer(build, step, str(number))


def pocket_side(build):
    """Return the side on which valve pockets were found, "" where none was or there are none."""
    found = build.readings.steps(place="engine", feature=VALVE_POCKETS)["note"]
    sides = SIDES[build.engine.layout.kind]
    return next((each for each in found if each in sides), "")


def _pockets(build):
    if side := pocket_side(build):
        return f"on the {side} side, as held against the head; pistons stay with their bank"
    if len(build.readings.steps(place="engine", feature=VALVE_POCKETS)):
        return "none"
    return POCKETS.partition(": ")[2]


def fine(length, system):
    """Return a length as a micrometer shows it."""
    return tables.say("rod_side_clearance", length, system)


def engine_at(build, place):
    """Return a build's engine as measured in a cylinder; as planned where that cannot be."""
    number = build.cylinder(place)
    try:
        return build.measured(number)
    except ValueError:  # chapter 06 says what does not go together
        return build.engine


def _thrust(here):
    side = "" if here.thrust == here.thrust_side else f", the {here.thrust_side} side"
    return f"{here.thrust} seen from above{side}"


def _chamfer(engine, here, system):
    if here.cheek_from == "taken":
        return "its chamfer is not in the engine file: look at its maker's mark"
    said = f"chamfer to the {here.cheek}"
    if here.sharing:
        said += f", back to back with cylinder {here.sharing[0]} on pin {here.pin}"
    chamfer, radius = engine.rod.chamfer, engine.crank.fillet_radius
    if None not in (chamfer, radius) and chamfer < radius:
        said += (f"; its {fine(chamfer, system)} is less than the fillet's {fine(radius, system)}:"
                 " clear only while it stays off the cheek")  # fmt: skip
    return said


def _cap(build, number):
    side = tang_side(build, number)
    tangs = f"tangs on the {side} side, like those fitted before" if side else "tangs on one side"
    return f"number {number} beside the rod's; {tangs}"


def _gaps(build):
    said = ", ".join(f"{ring} {angle.m_as('deg'):g}°" for ring, angle in ring_gaps(build))
    taken = "" if chosen(build) else " (not chosen yet)"
    return f"{said}, clockwise from the front mark{taken}"


def _filed(engine, system):
    pairs = zip(_RINGS, _least_gaps(engine), strict=False)
    said = ", ".join(f"{ring} {fine(low, system)}" for ring, low in pairs)
    source = limits_of(engine, next(iter(_RINGS.values())), _METER)[2]
    return f"{said} or more · {source}" if said else "ask the ring maker"


def _least_gaps(engine):
    lows = (limits_of(engine, name, _METER)[0] for name in _RINGS.values())
    return [low for low in lows if low is not None]


def _bolts(engine, system):
    """Return torque with lubricant, preload and stretch; or why nothing is said."""
    try:
        card = bolt_card(engine)
    except ValueError as fault:
        return str(fault)
    if card.torque is None:
        return card.reasons.get("preload", "")
    said = f"{torque_words(card.torque, system)} with {card.lubricant}"
    for name, band in (("preload", card.preload), ("stretch", card.stretch)):
        if band is not None:
            most, middle, least = (tables.say(f"rod_bolt_{name}", each, system)
                                   for each in (band.most, band.middle, band.least))  # fmt: skip
            said += f"; {name} about {middle} ({least.partition(' ')[0]} to {most})"
    return said


def _side_play(build, here, system):
    for fit in fit_results(build):
        mine = (fit.place, fit.result.name) == (f"pin {here.pin}", "rod_side_clearance")
        if mine and fit.result.value is not None:
            limits = tables.say_limits(fit.result, system)
            return f"{fine(fit.result.value, system)} as measured · {limits}"
    width, rod = build.engine.crank.pin_width, build.engine.rod.width
    if None in (width, rod):
        return "not known: crank.pin_width and rod.width are not in the file"
    play = fits.rod_side_clearance(width, *[rod] * (1 + len(here.sharing)))
    return f"{fine(play, system)} as planned, of all rods on pin {here.pin} together"


# --- steps ---------------------------------------------------------------------------------------


def due(build, step, place, system):
    """Return what must be found at a step, "" where nothing says so."""
    if step.kind == "done":
        return DONE
    if step.asks == "ring end gap":
        least = " · ".join(fine(low, system) for low in _least_gaps(engine_at(build, place)))
        return f"{least} or more" if least else ""
    if step.name == BOLT_TORQUE and build.engine.rod_bolt.torque is not None:
        return torque_words(build.engine.rod_bolt.torque, system)
    return right_answer(build, step, place)


def steps_table(assembly, section, system):
    """Return the table of a section's steps: what must be, what was found, by whom, and if so."""
    rows = []
    for at, step in enumerate(section.steps, 1):
        entry = assembly.entry(section.place, step.name)
        wanted = due(assembly.build, step, section.place, system)
        found, who = "____", ""
        if entry is not None:
            found = f"{entry.said}: does not hold" if entry.wrong else entry.said
            who = f"{entry.by}, {entry.time[:10]}"
        rows.append((f"{at} {step.name}", wanted, found, who))
    heads, caption = ("step", "must be", "found", "by, on"), f"{section.title}, step by step"
    table = tables.html_table(heads, rows, tables.upper(caption), words=True)
    return f'<div class="enginecalc-left">{table}</div>'


def wrong_list(assembly):
    """Return the list of what does not hold, "" where all does."""
    wrong = dict.fromkeys(entry.wrong for entry in assembly.wrong())
    items = "".join(f"<li>{html.escape(each)}</li>" for each in wrong)
    return f'<ul class="enginecalc-wrongs" role="status">{items}</ul>' if items else ""


def left_words(assembly):
    """Return what is left to do, section by section, in one paragraph."""
    said = []
    for section in assembly.sections():
        left = len(assembly.open_steps(section))
        if left:
            whole = left == len(section.steps)
            said.append(f"{section.title}{'' if whole else f' ({left} of {len(section.steps)})'}")
    return f"Left to do: {', '.join(said)}." if said else "Every step is done."


# --- bolts ---------------------------------------------------------------------------------------


def stretch_table(build, system):
    """Return the table of rod bolts whose lengths were read, with what is doubtful."""
    found = bolt_stretches(build)
    rows, should = [], set()
    for row in (each for each in found.rows if each.new is not None):
        cells = []
        for result in (row.stretch, row.preload, row.stayed_longer):
            said = tables.say(result.name, result.value, system, with_unit=False)
            cells.append(f"{said or '____'}{f', {result.status}' if said else ''}")
        rows.append((row.place, *cells))
        should.add(tables.say_limits(row.stretch, system))
    if not rows:
        return tables.paragraphs("No rod bolt was measured: lengths new and tightened show the"
                                 " preload itself, whatever the friction.")  # fmt: skip
    length, load = (tables.SHOWN[name][system][0] for name in ("rod_bolt_stretch",
                                                               "rod_bolt_preload"))  # fmt: skip
    heads = ("bolt", f"stretch [{length}]", f"preload [{load}]", f"stayed longer [{length}]")
    caption = f"Rod bolts; stretch should be {' or '.join(sorted(filter(None, should)))}"
    caption += "" if found.scatter is None else f"; preloads scatter {found.scatter.m:.0%}"
    table = tables.html_table(heads, rows, caption)
    return table + "".join(tables.note(f"{each}.") for each in found.doubts)
