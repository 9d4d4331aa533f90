"""The readings of turning torque in a build's ledger, and the order in which pistons went in."""

from dataclasses import dataclass
from types import SimpleNamespace

from enginecalc.records.ledger_rows import KEY, figure
from enginecalc.records.places import measurement, place_words
from enginecalc.units import read, short, to_si, ureg

WAYS = ("forward", "back")
TORQUE = ureg.Unit("N*m")


@dataclass(frozen=True)
class Fitting:
    """How pistons went in and came out again, by the lines of their turning torque in the ledger.

    Attributes
    ----------
    begun : dict
        {place: line from which on its torque counts}, in the order of fitting, the crank first.
    held : dict
        {place: the other places whose piston was in when its torque was begun}.
    stale : dict
        {place: (the piston that came out, line)} of a piston that is in, and whose torque was
        read while another was in that came out again.
    ended : dict
        {place: line up to which nothing that was read there counts}.
    """

    begun: dict
    held: dict
    stale: dict
    ended: dict

    def stale_words(self, place):
        """Return why the torque of a stale place does not count, and what to do."""
        out, line = self.stale[place]
        return (f"{place_words(place)} was logged while {place_words(out)} was in, which came out"
                f" again (line {line}): log it again")  # fmt: skip


def fitted(build):
    """Return the `Fitting` of a build.

    A piston is in from its first row on; it comes out where the last of its rows is withdrawn. A
    place that is no cylinder of the engine is no piston.
    """
    return build.kept("fitting", lambda: _fitting(build))


def _fitting(build):
    known = _known(build)
    inside, begun, held, stale, ended = {}, {}, {}, {}, {}
    for row in build.readings.history(part="crank", feature="turning torque").to_dict("records"):
        place, line = row["place"], row["line"]
        if place not in known:
            continue
        key = tuple(row[name] for name in KEY)
        if row["act"] == "reading":
            if place not in begun:
                begun[place], inside[place] = line, set()
                others = [each for each in inside if each not in ("engine", place)]
                held[place] = () if place == "engine" else tuple(others)
                stale.pop(place, None)
            inside[place].add(key)
        elif row["act"] == "withdrawn" and key in inside.get(place, ()):
            inside[place].remove(key)
            if inside[place]:
                continue
            for here in (inside, begun, stale):
                here.pop(place, None)
            ended[place] = line
            for other in [each for each in begun if place in held[each]]:
                del begun[other]
                stale[other], ended[other] = (place, line), line
    order = sorted(begun, key=lambda place: (place != "engine", begun[place]))
    return Fitting({place: begun[place] for place in order}, held, stale, ended)


def _known(build):
    """Return the places at which a torque can be read: "engine" and the cylinders."""
    return {"engine", *map(str, build.cylinders)}


def torque_readings(build, feature):
    """Return the readings of a feature of the crank that count, and what was left out.

    A reading has place, way, angle, size and resolution in N·m, unit and line; of what was left
    out there is a list of (place, sentence).
    """
    known, made, left_out, strange = _known(build), [], [], {}
    for row in build.readings.latest_cells():
        if (row["part"], row["feature"]) != ("crank", feature):
            continue
        if row["place"] not in known:
            strange.setdefault(row["place"], []).append(str(row["line"]))
            continue
        size, said = read(f"{row['value']} {row['unit']}"), f"{row['value']} {row['unit']}"
        wrong = ""
        if not size.is_compatible_with(TORQUE):
            wrong = f"{said} is no torque; write it like 4.5 lbf·ft"
        elif size.magnitude < 0:
            wrong = f"{said}: type a turning torque as positive, whichever way the crank turned"
        elif row["direction"] not in WAYS:
            wrong = f"direction must be forward or back, got {row['direction']!r}"
        if wrong:
            left_out.append((row["place"], f"line {row['line']}: {wrong}; left out"))
            continue
        made.append(
            SimpleNamespace(
                place=row["place"], way=row["direction"], angle=row["angle"], size=to_si(size),
                resolution=to_si(_resolution(row)), unit=size.units, line=row["line"],
            )
        )  # fmt: skip
    for place, lines in strange.items():
        said = f"line {', '.join(lines)}: {place} is no cylinder of this engine; left out"
        left_out.append((place, said))
    return sorted(made, key=lambda each: each.line), left_out


def unit_to_show(unit):
    """Return a unit of torque from its text or as it is, None from None."""
    if unit is None:
        return None
    found = read(f"1 {unit}").units if isinstance(unit, str) else ureg.Unit(unit)
    if not found.is_compatible_with(TORQUE):
        raise ValueError(f"unit must be one of torque, got {unit}; write lbf·ft or N·m")
    return found


def torque_text(torque, digits=1):
    """Return a torque in words: "4.1 lbf·ft"."""
    unit = short(torque).partition(" ")[2].replace("m·N", "N·m")
    return f"{torque.magnitude:.{digits}f} {unit}".replace("-", "−")


def _resolution(row):
    """Return the finest step a row was read to, or else that of the usual wrench."""
    if row["resolution"]:
        return read(row["resolution"])
    what = measurement("crank", "turning torque")
    metric = what.units["metric"]
    system = "metric" if row["unit"] == figure("1", metric)[1] else "inch"
    return read(f"{what.resolutions[system]} {what.units[system]}")
