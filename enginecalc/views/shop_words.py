"""What to ask a machine shop for, worked out of what was measured; what is not known stays blank.

A reading in doubt, or one that was not taken, orders nothing.
"""

from enginecalc import fits, rings
from enginecalc.deck import deck_cut
from enginecalc.records.doubts import doubtful_lines
from enginecalc.records.figures import FITS
from enginecalc.records.places import boxes, measurement
from enginecalc.records.results import limits_of
from enginecalc.units import Q, size_in, to_si, ureg
from enginecalc.views import tables

_METER, _ROUNDING = ureg.Unit("m"), 1e-9
_WHERE = {
    "bores": "thrust and axial, over the whole ring travel; pistons at their maker's gauge point",
    "decks": "to the planned height, from the crank's center line, not from the pan rail",
    "rings": "squared with a piston in the ring's own bore, where it is tightest",
}
_NOTES = (
    "All sizes hold at 20 °C. A blank is a number that is not known: ask, and guess nothing."
    " Each bore is for its own piston: mark them. Finish of the bores: as the ring maker says."
    " Say whether a torque plate is to be on. Flatness and finish of the decks: as the gasket maker"
    " says. Rings: file the ends square."
)


def fine(quantity, system, **how):
    """Return a length as fine as a fit, without its unit; "" for None, SI floats too."""
    quantity = Q(float(quantity), "m") if isinstance(quantity, float) else quantity
    return tables.say(FITS[0], evened(quantity, FITS[0], system), system, with_unit=False, **how)


def evened(quantity, name, system):
    """Return a result's quantity in the unit it is shown in, to 1e-9 of it if that is a length.

    So a length half way between two figures is shown alike however it was worked out.
    """
    unit = tables.SHOWN[name][system][0]
    if quantity is None or unit not in ("in", "mm"):
        return quantity
    return Q(round(size_in(quantity, tables.UNITS[unit]), 9), tables.UNITS[unit])


def shop_order(build, system):
    """Return the order for a machine shop: bores, decks, ring gaps, each with how it comes.

    Lengths in inches to 0.0001 or in mm to 0.001.
    """
    layout, doubts = build.engine.layout, doubtful_lines(build)
    rings_ = [(number, ring) for number in build.cylinders for ring in ("top", "second")]
    rows = {
        "bores": [_bore(build, number, doubts, system) for number in build.cylinders],
        "decks": [_deck(build, corner, doubts, system)
                  for corner in boxes(layout, measurement("deck", "height"))],
        "rings": [_gap(build, *each, doubts, system) for each in rings_],
    }  # fmt: skip
    heads = {
        "bores": ("", "make it", "tolerance", "how it comes"),
        "decks": ("corner", "cut off", "down to", "tolerance", "how it comes"),
        "rings": ("", "gap wanted", "file off", "tolerance", "how it comes"),
    }
    unit = tables.SHOWN[FITS[0]][system][0]
    title = f"Order for the machine shop: {build.engine.name or ''}, build {build.name}"
    order = tables.paragraphs(title)
    for what, made in rows.items():
        caption = f"{what.capitalize()} [{unit}], at 20 °C, {_WHERE[what]}"
        order += tables.html_table(heads[what], made, caption, words=True)
    said = {ring: limits_of(build.engine, f"{ring}_ring_gap", _METER)[2] for _, ring in rings_}
    clearance, which = _wanted_clearance(build, system)
    who = [f"Piston clearance wanted: {fine(clearance, system)}, {which}"] if clearance else []
    who += [f"{ring} ring gap: {source}" for ring, source in said.items() if source]
    return order + tables.paragraphs(f"{'; '.join(who)}." if who else "", _NOTES)


def _doubt(mean, what, doubts):
    """Return why a mean orders nothing, "" where it may."""
    if mean is None:
        return f"{what} not measured"
    lines = [line for line in mean.lines if line in doubts]
    return f"{what}: line {lines[0]} of the readings is in doubt" if lines else ""


def _tolerance(build, path, system):
    """Return the limits that stand beside a dimension of the plan, "" for none."""
    _, plus, minus = build.engine.stated(path)
    if plus is None:
        return ""
    plus, minus = (fine(to_si(each), system) for each in (plus, minus))
    return f"± {plus}" if plus == minus else f"+{plus}/−{minus}"


def _within_already(build, path, wanted, *sizes):
    """Say whether sizes in SI lie inside the wanted size and the tolerance beside it."""
    _, plus, minus = build.engine.stated(path)
    if None in (plus, minus):
        return False
    low, high = to_si(wanted) - to_si(minus), to_si(wanted) + to_si(plus)
    return low - _ROUNDING <= min(sizes) and max(sizes) <= high + _ROUNDING


def _wanted_clearance(build, system):
    """Return the piston clearance to order, and which it is; None when no limit says."""
    low, top, source = limits_of(build.engine, "least_piston_clearance", _METER)
    high = limits_of(build.engine, "greatest_piston_clearance", _METER)[1] or top
    if low is None:
        return None, "wanted clearance not known: give limits.least_piston_clearance, low"
    if high is None:
        return low, f"the low end, at least {fine(low, system)} · {source}"
    span = f"{fine(low, system)} to {fine(high, system)}"
    return (low + high) / 2, f"the middle of {span} · {source}"


def _bore(build, number, doubts, system):
    piston, name = build.mean("piston", "diameter", number), f"cylinder {number}"
    clearance, which = _wanted_clearance(build, system)
    doubt = _doubt(piston, "piston", doubts) or ("" if clearance else which)
    if doubt:
        return name, "", _tolerance(build, "block.bore", system), doubt
    size = fits.wanted_bore(piston.value, clearance)
    comes = f"piston {fine(piston.value, system)} + {fine(clearance, system)}"
    bore = build.mean("bore", "diameter", number)
    if not _doubt(bore, "bore", doubts):
        least, most = min(bore.spots.values()), max(bore.spots.values())
        comes += f"; now {fine(least, system)} to {fine(most, system)}"
        if _within_already(build, "block.bore", size, least, most):
            comes = f"{fine(size, system)} is {comes}"
            return name, "within already", _tolerance(build, "block.bore", system), comes
        plus = build.engine.stated("block.bore")[1]
        room = to_si(size) + (0.0 if plus is None else to_si(plus))
        comes += ", LARGER already: another piston" * bool(most > room + _ROUNDING)
    return name, fine(size, system), _tolerance(build, "block.bore", system), comes


def _deck(build, corner, doubts, system):
    name = f"{corner.place}, {corner.direction} {corner.height}"
    wanted, mean = build.engine.block.deck_height, build.mean("deck", "height", corner.place)
    down_to, tolerance = fine(wanted, system), _tolerance(build, "block.deck_height", system)
    now = mean and mean.spots.get((corner.direction, corner.height, corner.angle))
    doubt = _doubt(mean if now else None, "deck height", doubts)
    if doubt:
        return name, "", down_to, tolerance, doubt
    cut = float(deck_cut.kernel(now, to_si(wanted)))
    comes = f"now {fine(now, system)}"
    if _within_already(build, "block.deck_height", wanted, now):
        return name, "within already", down_to, tolerance, comes
    if float(fine(cut, system)) < 0:
        return name, "", down_to, tolerance, f"{comes}: too low already, metal only comes off"
    return name, fine(cut, system), down_to, tolerance, comes


def _gap(build, number, ring, doubts, system):
    """Return the row of a ring: its gap by the tightest bore, and what to file off."""
    name, result = f"cylinder {number}, {ring} ring", f"{ring}_ring_gap"
    low, bore = limits_of(build.engine, result, _METER)[0], build.mean("bore", "diameter", number)
    doubt = _doubt(bore, "bore", doubts) or ("" if low else f"limits.{result} not known")
    if doubt:
        return name, "", "", "", doubt
    tight, wanted = min(bore.spots.values()), to_si(low)
    comes = "the engine file's own limit"
    if build.engine.limits.get(result) is None:  # the table's limit goes with the bore
        factor = wanted / to_si(build.engine.block.bore)
        wanted = float(rings.wanted_ring_gap.kernel(tight, factor))
        comes = f"{factor:.4f} × bore {fine(tight, system)}"
    wanted += _ROUNDING  # a least gap: half way between two figures is the greater
    gaps = build.mean("ring", "end gap", number)
    now = gaps and gaps.spots.get(("", ring, ""))
    lacking = _doubt(gaps if now else None, "gap", doubts)
    if lacking:
        return name, fine(wanted, system), "", "", f"{comes}; {lacking}"
    off = float(rings.ring_filing.kernel(wanted, now))
    filed = fine(off, system) if float(fine(off, system)) > 0 else "nothing"
    return name, fine(wanted, system), filed, "", f"{comes}; now {fine(now, system)}"
