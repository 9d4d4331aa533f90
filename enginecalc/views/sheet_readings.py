"""Who and what on the hand-over sheet: the engine, its parts, the readings behind its results."""

import functools
import math
import tomllib
from collections import defaultdict

from enginecalc.records.assembly import WHAT
from enginecalc.records.places import place_words
from enginecalc.records.work_order import PISTON_HOME, order_of_work
from enginecalc.units import read, size_in, to_si
from enginecalc.views import tables
from enginecalc.views.sheet_parts import (
    BLANK,
    FACTS,
    Section,
    Table,
    Text,
    cells,
    first_figure,
    from_ledger,
    runs,
)

_PARTS = ("engine and owner", "block and caps", "crank", "rods", "pistons and pins", "rings",
          "main shells", "rod shells", "rod bolts", "main and head bolts", "camshaft and its drive",
          "lifters, pushrods, rockers", "heads, valves, springs", "gaskets", "oil pump",
          "flywheel and damper")  # fmt: skip
_BY_HAND = ("part", "maker and part number", "number stamped on it")
_MEANT = (
    "Sizes hold at 20 °C where a temperature stands with them. u is one standard uncertainty, of"
    " repeats and the instrument's finest digit; n is how many readings. An empty box was not read."
)
_SERIES = 12  # spots of one dimension from which they stand by themselves
_KEPT = ("name", "layout", "limits")  # of the file, shown elsewhere
_NO_READINGS = "Nothing has been read on this engine yet: every size here is a planned one."


# --- the engine ---------------------------------------------------------------------------------


def identity_section(found):
    """Return the section that says which engine this is and what it is made of."""
    layout = found.engine.layout
    banks = "" if layout.bank_angle is None else f"{layout.bank_angle.m_as('deg'):g}° "
    way = {1: "clockwise", -1: "anticlockwise"}[layout.turn]
    facts = [
        ("layout", f"{banks}{layout.kind}, {len(layout.numbers)} cylinders"),
        ("firing order", " ".join(map(str, layout.firing_order))),
        ("rotation", f"{layout.rotation}: {way} seen from the front"),
        (
            "crank pins lead pin 1 by",
            ", ".join(f"{each.m_as('deg'):g}°" for each in layout.crank_pins),
        ),
    ]
    seats = [cells(str(each.number), each.bank, str(each.pin), each.chamfer)
             for each in layout.cylinder]  # fmt: skip
    parts = [(table.replace("_", " "), _fields(some)) for table, some in _tables(found.engine)]
    blank = [(part, BLANK, BLANK) for part in _PARTS]
    return Section("Which engine this is", [
        Table("", ("", ""), facts, FACTS),
        Table("Cylinders", ("cylinder", "bank", "crank pin", "chamfer to cheek"), seats),
        Table("Parts and materials, as the engine file has them", ("", "as planned"), parts,
              (28, 154)),
        Table("Identity of the parts, to fill in by hand", _BY_HAND, blank, (42, 80, 60),
              "by-hand"),
    ])  # fmt: skip


def _tables(engine):
    """Yield the tables of an engine file and what stands in each, as typed."""
    for name, some in tomllib.loads(engine.text()).items():
        if name not in _KEPT and isinstance(some, dict):
            yield name, some


def _fields(some):
    """Return what stands in a table of an engine file, "bore 4.110 in; material iron"."""
    return "; ".join(f"{name.replace('_', ' ')} {_typed(value)}" for name, value in some.items())


def _typed(value):
    if isinstance(value, dict):
        return "(" + ", ".join(f"{name} {_typed(each)}" for name, each in value.items()) + ")"
    if isinstance(value, list):
        return " ".join(map(_typed, value))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


# --- the readings -------------------------------------------------------------------------------


def reading_section(found, system):
    """Return the section of the readings: who took them with what, and one row for each mean."""
    rows = found.build.readings.latest()
    if rows.empty:
        return Section("Readings", [Text(_NO_READINGS)])
    days = sorted(each[:10] for each in rows["time"] if each)
    kept = len(found.build.readings.rows())
    facts = [
        ("readings that count", f"{len(rows)}, of {kept} rows that the ledger keeps"),
        cells("taken", " to ".join(dict.fromkeys([*days[:1], *days[-1:]]))),
        cells("by", _listed(rows["by"])),
        cells("instruments", _listed(rows["instrument"])),
        cells("temperatures", _listed(map(from_ledger, rows["temperature"]))),
    ]
    sizes, singles, series = _taken(found, system)
    parts = [Table("", ("", ""), facts, FACTS), Text(_MEANT)]
    last = ("u", "n", "instrument", "date", "by")
    if sizes:
        heads = ("", "mean", "least to greatest", *last)
        parts.append(Table("Sizes", heads, sizes, (28, 18, 36, 17, 8, 37, 20, 18), "dense"))
    if singles:
        title = "Readings that have no mean: rings, angles, directions, each bolt"
        heads = ("", "as read", *last)
        parts.append(Table(title, heads, singles, (22, 66, 14, 8, 34, 20, 18), "dense"))
    if series:
        heads = ("", "as read", "how")
        parts.append(Table("Readings by angle", heads, series, (22, 126, 34), "dense"))
    return Section("Readings", parts)


def _listed(column):
    return ", ".join(dict.fromkeys(filter(None, column)))


def _taken(found, system):
    """Return the rows of what has a mean, of what has none, and of whole series by angle.

    Each stand below the name they are of.
    """
    by_line = {row["line"]: row for row in found.build.readings.latest_cells()}
    means = defaultdict(list)
    for (part, feature, place), mean in found.build.means().items():
        means[f"{part} {feature}"].append((place, mean))
    unread, known = {each.name: each for each in found.unread}, {**WHAT}
    made = [], [], []
    for name in dict.fromkeys([*known, *means]):
        what, read_ = known.get(name), means.get(name, ())
        alone = any(len(mean.spots) > 1 for _, mean in read_) and not (what and what.field)
        unit = what.units[system] if what else ""
        many = alone and max(len(mean.spots) for _, mean in read_) > _SERIES
        into = made[alone + many]
        into.append(f"{name} [{unit}]" if unit else name)
        for place, mean in read_:
            some = [by_line[line] for line in mean.lines]
            own, decimals = _shown(what, some, system)
            told = [_each(mean, own, decimals)] if alone else [
                _size(mean.value, own, decimals), _span(mean, own, decimals)]  # fmt: skip
            if own != unit:
                told[0] += f" [{from_ledger(own)}]"
            instrument, by = (_listed(row[each] for row in some) for each in ("instrument", "by"))
            u = first_figure(size_in(mean.u, read(f"1 {own}").units))
            last = (u, str(mean.count), instrument, mean.date, by)
            if many:
                u, count = u and f"u {u}", f"{mean.count} readings"
                last = ("\n".join(filter(None, (u, count, *last[2:]))),)
            into.append(cells(place_words(place), *told, *last))
        if name in unread:
            into.append((_places(unread[name]), *[BLANK] * (2 if many else 6 if alone else 7)))
    return made


def _places(unread):
    if unread.blank == unread.count and unread.count > 1:
        return f"none of {unread.count} read"
    numbers = [int(each) if each.isdigit() else each for each in unread.places]
    return f"{runs(numbers)}: {unread.blank} of {unread.count} not read"


def _shown(what, some, system):
    """Return the unit a mean is shown in, and its decimals: as fine as it was read at least."""
    unit = some[0]["unit"] if what is None else what.units[system]
    finest = some[0]["value"] if what is None else what.resolutions[system]
    if what is not None and not read(f"1 {unit}").is_compatible_with(read(f"1 {some[0]['unit']}")):
        unit, finest = some[0]["unit"], some[0]["value"]
    typed = ((len(row["value"].partition(".")[2]), _in_si(row["unit"])) for row in some)
    step = min(10.0**-digits * size for digits, size in typed) / _in_si(unit)
    return unit, max(len(finest.partition(".")[2]), math.ceil(-math.log10(step) - 1e-9))


def _size(quantity, unit, decimals):
    return tables.number(size_in(quantity, read(f"1 {unit}").units), decimals)


@functools.cache
def _in_si(unit):
    return to_si(read(f"1 {unit}"))


def _span(mean, unit, decimals):
    """Return the least and the greatest of a dimension's spots, or that there is one only."""
    sizes = [_spot(size, unit, decimals) for size in sorted(mean.spots.values())]
    if sizes[0] == sizes[-1]:
        return "alike" if sizes[1:] else "–"
    return f"{sizes[0]} to {sizes[-1]}"


def _each(mean, unit, decimals):
    """Return every spot of what has no mean, those of one direction or height together."""
    groups = defaultdict(list)
    for (way, end, angle), size in mean.spots.items():
        at = f"{angle.removesuffix('deg').strip()}°: ".replace("-", "−") if angle else ""
        groups[" ".join(filter(None, (way, end)))].append(at + _spot(size, unit, decimals))
    return "; ".join(f"{where} {', '.join(some)}".strip() for where, some in groups.items())


def _spot(size, unit, decimals):
    """Return a spot's size, which a mean holds in SI, in the unit shown."""
    return tables.number(size / _in_si(unit), decimals)


def remark_section(found):
    """Return the section of remarks in the ledger and notes beside its readings."""
    rows = found.build.readings.rows()
    answer = (rows["act"] == "step") & (rows["value"] == "")  # it stands with its step
    answer &= rows["feature"].isin([each.name for each in order_of_work()])
    back = rows["act"] == "withdrawn"
    several = rows["time"].where(back).duplicated(keep=False)  # what is taken back at once
    out = back & several & (rows["feature"] == PISTON_HOME)
    with_it = back & rows["time"].isin(rows["time"][out])  # one row tells of all that goes with it
    noted = rows[((rows["note"] != "") & ~answer & ~with_it) | out]
    items = [
        (f"line {row['line']}", row["time"][:10], row["by"], row["act"],
         " ".join(filter(None, (place_words(row["place"]), row["part"], row["feature"]))),
         row["note"] or "the piston came out again")
        for row in noted.to_dict("records")
    ]  # fmt: skip
    if not items:
        return Section("Remarks", [Text("No remark or note stands in the ledger.")])
    heads = ("", "date", "by", "row", "about", "note")
    made = [cells(*each) for each in items]
    return Section("Remarks", [Table("", heads, made, (17, 20, 20, 20, 38, 67))])
