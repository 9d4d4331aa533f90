"""What the comparison of two rods says: its sentence, its table, and what it leaves out."""

from enginecalc.records.rod_study import ORDERS
from enginecalc.views import tables

_PLAIN, _DEGREES = ("", ""), ("deg", "deg")
# what a row says, its figure, its unit and decimals where the page speaks inch and where metric
_ROWS = (
    ("rod ratio", "rod_ratio", _PLAIN, (3, 3)),
    ("λ = r / L", "radius_over_rod", _PLAIN, (4, 4)),
    ("peak speed", "peak_speed", ("m/s", "m/s"), (2, 2)),
    ("fastest at", "peak_speed_angle", _DEGREES, (2, 2)),
    ("1 + λ", "acceleration_factor", _PLAIN, (4, 4)),
    ("peak over r ω²", "peak_factor", _PLAIN, (4, 4)),
    ("acceleration", "peak_acceleration", ("m/s²", "m/s²"), (-1, -1)),
    ("travel at 90°", "travel_at_quarter", ("in", "mm"), (4, 3)),
    ("dwell", "dwell", _DEGREES, (3, 3)),
    ("travel at 10°", "travel_at_ten", ("in", "mm"), (5, 4)),
    ("tilt", "greatest_tilt", _DEGREES, (2, 2)),
    ("side load", "side_load", ("N", "N"), (0, 0)),
    ("side load at", "side_load_angle", _DEGREES, (1, 1)),
    *((f"A{order}", order, _PLAIN, (digits, digits))
      for order, digits in zip(ORDERS[1:], (4, 5, 5), strict=True)),
)  # fmt: skip
_UNITS = tables.UNITS | {"N": "N"}
_CAPTION = (
    "two rods; angles after top dead center; speed, acceleration, tilt and side load at their"
    " greatest; dwell within 1 % of the top"
)
_NOTES = (
    "The block is raised with rod and stroke, so the clearance volume stays as in the file. The"
    " side load belongs to a stated test cycle, not to a measured one: compare with it, order"
    " nothing by it. Digits are enough to tell two rods apart, and more than a rod is measured to."
)


def written(rod, system):
    """Return a rod length with no more zeros than needed, "5.70 in", "143 mm"."""
    if system == "inch":
        return f"{rod.m_as('inch'):.3f}".removesuffix("0") + " in"
    return f"{rod.m_as('mm'):.2f}".rstrip("0").rstrip(".") + " mm"


def answer(first, second, system):
    """Return what the second rod changes, in one sentence."""
    one, other = (written(each.rod_length, system) for each in (first, second))
    if one == other:
        return f"Both rods are {one} long: nothing changes."
    peak = _change(first.peak_factor, second.peak_factor)
    said = f"the piston's acceleration at the top {peak}, the side load"
    if first.side_load is None:
        said += " is not known"
    else:
        load = _change(abs(first.side_load), abs(second.side_load))
        said += " " + (load.partition(" ")[2] if load.split()[0] == peak.split()[0] else load)
    moved = abs(second.peak_speed_angle - first.peak_speed_angle)
    return (
        f"From {one.partition(' ')[0]} to {other} of rod {said}; the angle of peak speed moves by"
        f" {_number(moved, 'deg', 1)}°."
    )


def _change(before, after):
    """Return by how many percent something rises or falls."""
    percent = 100 * (float((after / before).m_as("")) - 1)
    return f"{'falls' if percent < 0 else 'rises'} by {abs(percent):.1f} %"


def greatest_side_load(study):
    """Return a short label of the greatest side load, and a sentence that says the same."""
    if study.side_load is None:
        return "not worked out: see below the table", "The side load is not known."
    wall = "major" if study.side_load.m >= 0 else "minor"
    size, at = _number(abs(study.side_load), "N", 0), _number(study.side_load_angle, "deg", 1)
    return (
        f"{size} N at {at}°, {wall} thrust wall",
        f"The side load is greatest {at}° after the firing top: {size} N on the {wall} thrust"
        " wall.",
    )


def second_orders(first, second):
    """Return the second order of both rods in a sentence."""
    one, other = (_number(each.orders[1], "", 4) for each in (first, second))
    return f"Second order of the acceleration, in parts of r ω²: {one} and {other}."


def numbers(found, offset, system):
    """Return the table of two or three studies, and what is not known or must be said with it."""
    metric = system == "metric"
    rows = []
    for label, name, units, decimals in _ROWS:
        unit, digits = units[metric], decimals[metric]
        sizes = [
            each.orders[ORDERS.index(name)] if name in ORDERS else getattr(each, name)
            for each in found
        ]
        said = ["not known" if size is None else _number(size, unit, digits) for size in sizes]
        change = "" if None in sizes else _number(sizes[1] - sizes[0], unit, digits, True)
        rows.append((f"{label} [{unit}]" if unit else label, *said[:2], change, *said[2:]))
    names = [written(each.rod_length, system) for each in found]
    heads = ["", *names[:2], "change"]
    heads += [f"file {names[2]}"] if len(names) > 2 else []
    return tables.html_table(heads, rows, _CAPTION) + tables.paragraphs(
        *_not_worked_out(found[0]),
        "The orders are those of a pin without offset." if offset else "",
        _NOTES,
    )


def _not_worked_out(study):
    """Return a sentence for each reason why figures are not known."""
    for reason in dict.fromkeys(study.reasons.values()):
        lacking = {name for name, why in study.reasons.items() if why == reason}
        labels = ", ".join(label for label, name, *_ in _ROWS if name in lacking)
        yield f"Not worked out: {labels}, which {reason}."


def _number(quantity, unit, decimals, signed=False):
    return tables.number(float(quantity.m_as(_UNITS[unit])), decimals, signed)
