"""What the chapter on balance says: its sentence, its tables, and what it leaves out."""

import html

import numpy as np

from enginecalc.records.bob_card import MASSES
from enginecalc.records.figures import field
from enginecalc.units import Q, to_si
from enginecalc.views import tables

_NTH = {1: "first", 2: "second", 4: "fourth", 6: "sixth"}
_WORTH_SAYING = 0.01  # of the greatest order's
_NOTHING = 1e-6  # in multiples
CAUTIONS = (
    "Hand this card to a balancing shop. Never grind a counterweight by the formula.",
    "First match the parts: rods, end by end, and pistons each within 1–2 g of their likes"
    " (common practice, no source).",
    "Weigh the parts that go in, after the final pistons are there: a piston, pin or ring set"
    " changed later makes another bob weight.",
    "Count shells, rings and locks for each rod, a whole set: not once for each pin.",
    "An externally balanced crank carries part of its balance in flywheel and damper: take along"
    " the very ones that will be run, with their position marked. Another one undoes the balance.",
)
_LEFT_OUT = (
    "Left out: torque about the crank, the cam drive, and how block and mounts give way. Orders"
    " above the sixth and odd ones above the first are not in the table; they are in the traces."
)


# --- figures in words -------------------------------------------------------------------------


def sized(quantity, unit):
    """Return a force or couple with three digits, "654 N", "15.7 kN", "0" for nothing."""
    size = quantity.m_as(unit)
    if size < 0.005:
        return "0"
    thousands = size >= 999.5
    size = size / 1000 if thousands else size
    decimals = 0 if size >= 99.95 else 1 if size >= 9.995 else 2
    return f"{size:.{decimals}f} {'k' if thousands else ''}{unit}"


def grams(mass, decimals=None):
    """Return a mass in grams as text, without the unit; decimals where it has some."""
    size = mass.m_as("g")
    if decimals is None:
        decimals = 0 if abs(size - round(size)) < 0.005 else 1
    return tables.number(size, decimals)


def speed(engine):
    """Return the engine's running speed as text."""
    return f"{engine.running.engine_speed.m_as('rpm'):,.0f} rpm"


def spacing(fires):
    """Return how far the firings lie apart, in words."""
    gaps = [f"{gap.m:.0f}" for gap in fires.gaps.values()]
    if len(gaps) == 1:
        return f"fires every {gaps[0]}°"
    return f"fires unevenly: {'-'.join(gaps)}°" if fires.uneven else f"fires every {gaps[0]}°"


def pins_said(pins):
    """Return the crank pins a card is for, "crank pins 1, 2, 3, 4"."""
    return f"crank pin{'s' if len(pins) > 1 else ''} {', '.join(map(str, pins))}"


def pull(name, vector):
    """Return a force's or couple's size now and which way it points, in the front view."""
    unit = {"force": "N", "couple": "N·m"}[name]
    x, y = vector.m
    size = np.hypot(x, y)
    if size < 0.5:
        return f"there is no {name}"
    across, up = ("to the right" if x > 0 else "to the left"), ("up" if y > 0 else "down")
    ways = [way for way, part in ((up, y), (across, x)) if abs(part) > 0.09 * size]
    pushes = "pushes" if name == "force" else "pushes the rear end"
    return f"the {name}, {sized(Q(size, vector.units), unit)}, {pushes} {' and '.join(ways)}"


def _orders(orders, column, unit, multiple):
    """Return the orders of a force or couple that are worth saying, the strongest first."""
    ratios = orders[f"{column} ratio"]
    strongest = ratios.sort_values(ascending=False)
    shown = [at for at in strongest.index
             if ratios[at] > max(_NOTHING, _WORTH_SAYING * strongest.iloc[0])]  # fmt: skip
    if not shown:
        return ""
    first, *others = shown
    alone = " only" if (ratios > _NOTHING).sum() == 1 else ""
    said = f"{_NTH[first]} order{alone}, {sized(orders[column][first], unit)}"
    said += f" ({ratios[first]:.3f} {multiple})"
    return said + "".join(f", {_NTH[at]} {sized(orders[column][at], unit)}" for at in others)


def shakes(shaken):
    """Return what shakes, in words: force by order, then couple."""
    force = _orders(shaken.orders, "force", "N", "m r ω²")
    couple = _orders(shaken.orders, "couple", "N·m", "m r ω² p")
    if not force:
        return f"no force is left over, but a couple: {couple}" if couple else "nothing shakes"
    said = f"what shakes is {force}"
    if not couple:
        return f"{said}, and no couple"
    by_offset = ", from rods side by side" if shaken.only_by_offset else ""
    return f"{said}; as a couple {couple}{by_offset}"


def answer(engine, found):
    """Return in words what the engine shakes, how it is balanced and when it fires."""
    shaken, cards = found["shaken"], found["cards"]
    held = "without counterweights"
    if found["counterweights"]:
        each = " and ".join(
            f"{grams(card[-1][1])} g " + ("per pin" if len(cards) == 1 else f"on {pins_said(pins)}")
            for pins, card in cards
        )
        held = f"with counterweights to a bob weight of {each}"
    said = f"{engine.name} at {speed(engine)}: {shakes(shaken)}; {held}; {spacing(shaken.fires)}."
    if found["beside"] is not None:
        name, other = found["beside"]
        said += f" The same parts as {name}: {shakes(other)}; {spacing(other.fires)}."
    return said


# --- tables and what goes with them -----------------------------------------------------------


def numbers(engine, found, system):
    """Return the tables by order and of firing, and what must be said with them."""
    shaken, beside = found["shaken"], found["beside"]
    rows = [*_rows(shaken.orders, "")]
    caption = f"What shakes, by order of crank speed, at {speed(engine)}"
    if beside is not None:
        rows += _rows(beside[1].orders, "beside: ")
        caption += f"; beside: the same parts as {beside[0]}"
    heads = ("", "force", "in m r ω²", "goes", "couple", "in m r ω² p", "goes")
    return (
        tables.html_table(heads, rows, caption)
        + tables.paragraphs(_unit(engine, system), _of_couples(engine, shaken, system),
                            _of_beside(found))
        + _firing(shaken.fires)
        + tables.paragraphs(_LEFT_OUT)
    )  # fmt: skip


def _rows(orders, prefix):
    for order, row in orders.iterrows():
        cells = [f"{prefix}order {order}"]
        for name, unit in (("force", "N"), ("couple", "N·m")):
            ratio, least = row[f"{name} ratio"], row[f"least {name} ratio"]
            cells += [sized(row[name], unit), f"{ratio:.4f}", _goes(ratio, least)]
        yield tuple(cells)


def _goes(greatest, least):
    """Return how a vector of one order moves: a line, a circle or something between."""
    if greatest < _NOTHING:
        return ""
    share = least / greatest
    return "to and fro" if share < 0.01 else "round" if share > 0.99 else "on an ellipse"


def _unit(engine, system):
    mass, stroke = engine.figure("reciprocating_mass"), engine.crank.stroke
    newton = to_si(mass) * to_si(stroke) / 2 * to_si(engine.running.engine_speed) ** 2
    return (
        f"m r ω² is {newton / 1000:.1f} kN here: m = {grams(mass)} g to and fro in each cylinder,"
        f" r = half of {tables.length(stroke, system)}, ω the speed in radians per second. p is"
        f" the distance from one crank pin, or pair of split pins, to the next. Forces grow with"
        " the square of the speed."
    )


def _of_couples(engine, shaken, system):
    said = (
        "The couple is each force times its cylinder's place along the crank, from mid-length; +"
        " up lifts the rear end."
    )
    if shaken.only_by_offset:
        width = engine.rod.width
        by = "" if width is None else f", {tables.length(width, system)} apart"
        said += (
            f" This engine keeps a small couple because the rods of a pin sit side by side{by}:"
            " one bank stands that much behind the other. Books leave the bank offset out and find"
            " none."
        )
    return said


def _of_beside(found):
    if found["beside"] is None:
        return ""
    name, other = found["beside"]
    held = (
        f"its rotating parts and the same share of what goes to and fro, {found['share']:g},"
        " balanced"
        if found["counterweights"]
        else "without counterweights"
    )
    flush = ", with no bank offset, as the rod's width is not known" if other.flush else ""
    return (
        f"{name}: the same stroke, rods, masses, speed and bore spacing, {held}{flush}. An even"
        " share suits a 90° V; for other layouts the shop's figure may differ."
    )


def _firing(fires):
    order, gaps = [*fires.instants], [*fires.gaps.values()]
    mates = {number: [str(each) for each in group if each != number]
             for group in fires.companions for number in group}  # fmt: skip
    rows = [
        (
            f"cylinder {number}",
            f"{fires.instants[number].m:.0f}",
            f"{gap.m:.0f}",
            ", ".join(mates.get(number, [])) or "none",
        )
        for number, gap in zip(order, gaps, strict=True)
    ]
    said = spacing(fires).capitalize()
    return tables.html_table(
        ("", "fires at [deg]", "to the next [deg]", "at the top with"),
        rows,
        f"Firing order and companions. {said}.",
    )


def card_rows(engine, card):
    """Return rows of a bob-weight card: words, one part's grams, how many count, grams."""
    decimals = 0 if all("." not in grams(mass) for _, mass in card) else 1
    parts = [field(engine, path) for path in MASSES]
    rows = []
    for (words, mass), one in zip(card[:-1], parts, strict=True):
        count, mark, name = words.rpartition(" × ")
        rows.append((name, grams(one), f"{count}{mark}".strip() or "1 ×", grams(mass, decimals)))
    return [*rows, ("bob weight", "", "", grams(card[-1][1], decimals))]


def card_table(engine, cards, refused):
    """Return the HTML of the bob-weight cards, one for each sort of crank pin, with cautions."""
    if refused:
        return tables.paragraphs(f"No card yet: {refused}.")
    made = "".join(
        tables.html_table(
            ("", "one [g]", "counted", "[g]"),
            card_rows(engine, card),
            f"For {pins_said(pins)}, in grams",
        )
        for pins, card in cards
    )
    listed = "".join(f"<li>{html.escape(each)}</li>" for each in CAUTIONS)
    return f'{made}<div class="enginecalc-caption"><ol>{listed}</ol></div>'
