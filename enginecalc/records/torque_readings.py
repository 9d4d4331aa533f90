"""The readings of turning torque in a build's ledger, and the order in which pistons went in."""

from types import SimpleNamespace

from enginecalc.records.ledger_rows import KEY, figure, newest
from enginecalc.records.places import measurement
from enginecalc.units import read, short, to_si, ureg

WAYS = ("forward", "back")
TORQUE = ureg.Unit("N*m")


def fitted(build):
    """Return {place: line where its log begins}, in the order of fitting, and what was taken out.

    The second is {place: (line where its log began, line where it was withdrawn)}.
    """
    alive, begun, taken_out = {}, {}, {}
    for row in build.readings.history(part="crank", feature="turning torque").to_dict("records"):
        place, key = row["place"], tuple(row[name] for name in KEY)
        mine = alive.setdefault(place, set())
        if row["act"] == "reading":
            if not mine:
                begun[place] = row["line"]
            mine.add(key)
        elif row["act"] == "withdrawn" and key in mine:
            mine.remove(key)
            if not mine:
                taken_out[place] = begun.pop(place), row["line"]
    order = sorted(begun, key=lambda place: (place != "engine", begun[place]))
    return {place: begun[place] for place in order}, taken_out


def torque_readings(build, feature):
    """Return the readings of a feature of the crank that count, and a sentence for each left out.

    A reading has place, way, angle, size and resolution in N·m, unit and line.
    """
    rows = build.readings.history(part="crank", feature=feature)
    made, left_out = [], []
    for row in newest(rows, "reading").to_dict("records"):
        size, said = read(f"{row['value']} {row['unit']}"), f"{row['value']} {row['unit']}"
        wrong = ""
        if not size.is_compatible_with(TORQUE):
            wrong = f"{said} is no torque; write it like 4.5 lbf·ft"
        elif size.magnitude < 0:
            wrong = f"{said}: type a turning torque as positive, whichever way the crank turned"
        elif row["direction"] not in WAYS:
            wrong = f"direction must be forward or back, got {row['direction']!r}"
        if wrong:
            left_out.append(f"line {row['line']}: {wrong}; left out")
            continue
        made.append(
            SimpleNamespace(
                place=row["place"], way=row["direction"], angle=row["angle"], size=to_si(size),
                resolution=to_si(_resolution(row)), unit=size.units, line=row["line"],
            )
        )  # fmt: skip
    return sorted(made, key=lambda each: each.line), left_out


def torque_text(torque, digits=1):
    """Return a torque in words: "4.1 lbf·ft"."""
    unit = short(torque).partition(" ")[2]
    return f"{torque.magnitude:.{digits}f} {unit}".replace("-", "−")


def _resolution(row):
    """Return the finest step a row was read to, or else that of the usual wrench."""
    if row["resolution"]:
        return read(row["resolution"])
    what = measurement("crank", "turning torque")
    metric = what.units["metric"]
    system = "metric" if row["unit"] == figure("1", metric)[1] else "inch"
    return read(f"{what.resolutions[system]} {what.units[system]}")
