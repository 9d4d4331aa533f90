"""What the readings of a build come to: fits and forms place by place, held against limits."""

from dataclasses import dataclass

import numpy as np

from enginecalc import fits, measured
from enginecalc.records.figures import FITS
from enginecalc.records.places import mains
from enginecalc.records.results import Result, limits_of
from enginecalc.units import Q, size_in, to_si, ureg

_METER, _ONE_METER = ureg.Unit("m"), Q(1.0, "m")
_INCHES = (ureg.Unit("inch"), ureg.Unit("thou"))


@dataclass(frozen=True)
class Fit:
    """A result of what was measured at one place: "cylinder 3", "main 2", "pin 1", "engine".

    A result without a value says in its `reason` what is missing, or what cannot be.
    """

    place: str
    result: Result


def fit_results(build):
    """Return the list of `Fit` of everything of which a part was measured, in the order of `FITS`.

    It is worked out once for every state of the ledger.

    Parameters
    ----------
    build : Build
        Its readings are taken to 20 °C where a temperature stands with them.
    """
    return [*build.kept("fits", lambda: _fits(build))]


def _fits(build):
    made = []
    for number in build.cylinders:
        made += [*_piston(build, number), *_rod(build, number), *_rings(build, number)]
        made += _form(build, "bore", "diameter", number, f"cylinder {number}", "bore")
    for at in range(1, mains(build.engine.layout) + 1):
        place = f"main {at}"
        made.append(_bearing(build, "main", place, place, ""))
        made += _form(build, "main journal", "diameter", place, place, "journal")
    for at in range(1, len(build.engine.layout.crank_pins) + 1):
        place = f"pin {at}"
        made.append(_side_clearance(build, place, at))
        made += _form(build, "crank pin", "diameter", place, place, "pin")
    made.append(_plain(build, "crank_end_play", ("crank", "end play", "engine"), "engine"))
    order = {name: at for at, name in enumerate(FITS)}
    return sorted(filter(None, made), key=lambda fit: order[fit.result.name])


def worst_first(found):
    """Return fits sorted by how little room is left to a limit, those without value first.

    Room counts in parts of the distance between limits, or of the one limit there is.
    """

    def room(fit):
        result = fit.result
        if result.value is None:
            return -np.inf
        value, low, high = (
            None if each is None else to_si(each)
            for each in (result.value, result.low, result.high)
        )
        sides = [each for each in (low, high) if each is not None]
        if not sides:
            return np.inf
        wide = high - low if len(sides) == 2 else abs(sides[0])
        left = [np.inf if low is None else value - low, np.inf if high is None else high - value]
        return min(left) / (wide or 1.0)

    return sorted(found, key=room)


def _fit(build, name, place, value=None, u=None, reason=""):
    low, high, source = limits_of(build.engine, name, _METER)
    unit = low.units if low is not None else high.units if high is not None else _METER
    scale = size_in(_ONE_METER, unit)
    amount = None if value is None else Q(float(value) * scale, unit)
    doubt = None if u is None or value is None else Q(float(u) * scale, unit)
    return Fit(place, Result(name, amount, doubt, low, high, source, reason))


def _missing(name, lacking):
    """Return the reason of a fit of which some readings are missing."""
    return f"{name} needs readings of {', '.join(lacking)}"


def _sizes(mean):
    return np.array(list(mean.spots.values()))


def _u(*means):
    return np.sqrt(sum(to_si(each.u) ** 2 for each in means))


def _say(size, mean):
    unit = mean.value.units
    digits = 4 if unit in _INCHES else 3
    return f"{Q(float(size), 'm').m_as(unit):.{digits}f} {unit:~P}"


def _piston(build, number):
    """Yield the least and greatest clearance of a piston in its bore, at the gauge point."""
    bore, piston = (build.mean(each, "diameter", number) for each in ("bore", "piston"))
    if bore is None and piston is None:
        return
    place, names = f"cylinder {number}", ("least_piston_clearance", "greatest_piston_clearance")
    reason = ""
    if None in (bore, piston):
        reason = _missing("piston clearance", ["bore" if bore is None else "piston"])
    else:
        small, large = np.min(_sizes(bore)), to_si(piston.value)
        if large >= small:
            reason = f"piston {_say(large, piston)} is not less than bore {_say(small, bore)}:" \
                     " swapped?"  # fmt: skip
    for name, pick in zip(names, (np.min, np.max), strict=True):
        if reason:
            yield _fit(build, name, place, reason=reason)
        else:
            value = fits.piston_clearance.kernel(pick(_sizes(bore)), to_si(piston.value))
            yield _fit(build, name, place, value, _u(bore, piston))


def _rod(build, number):
    seat = next(each for each in build.engine.layout.cylinder if each.number == number)
    pin, half = f"pin {seat.pin}", build.own_half(number)
    yield _bearing(build, "rod", f"cylinder {number}", pin, half, housing_place=str(number))


def _bearing(build, kind, place, journal_place, half, housing_place=None):
    """Return a bearing's oil clearance: housing square to its parting line, journal at largest."""
    part = {"rod": ("rod", "housing"), "main": ("main housing", "diameter")}[kind]
    journal_part = {"rod": "crank pin", "main": "main journal"}[kind]
    shell_part = f"{kind} shell"
    housing_place = housing_place or place
    housing = build.mean(*part, housing_place)
    journal = build.mean(journal_part, "diameter", journal_place)
    shells = build.mean(shell_part, "wall", housing_place)
    parts = {"housing": housing, "journal": journal, "shells": shells}
    if all(each is None for each in parts.values()):
        return None
    name = f"{kind}_oil_clearance"
    lacking = [each for each, mean in parts.items() if mean is None]
    if lacking:
        return _fit(build, name, place, reason=_missing(name.replace("_", " "), lacking))
    upright = [size for (way, *_), size in housing.spots.items() if way == "vertical"]
    inside = upright[0] if upright else to_si(housing.value)
    walls = {way: size for (way, *_), size in shells.spots.items()}
    upper, lower = (walls.get(way, np.mean(list(walls.values()))) for way in ("upper", "lower"))
    here = [size for (_, end, _), size in journal.spots.items() if half in ("", end)]
    largest = max(here or _sizes(journal))
    gap = fits.oil_clearance.kernel(inside, largest, upper, lower)
    if gap < 0:
        reason = (f"housing {_say(inside, housing)} is less than journal {_say(largest, journal)}"
                  " and two shells together: swapped?")  # fmt: skip
        return _fit(build, name, place, reason=reason)
    return _fit(build, name, place, gap, _u(housing, journal, shells, shells))


def _side_clearance(build, pin, at):
    on_it = [each.number for each in build.engine.layout.cylinder if each.pin == at]
    width = build.mean("crank pin", "width", pin)
    rods = [build.mean("rod", "width", number) for number in on_it]
    if width is None and not any(rods):
        return None
    name = "rod_side_clearance"
    if width is None or None in rods:
        lacking = ["crank pin width"] if width is None else []
        lacking += [f"rod {number} width" for number, rod in zip(on_it, rods, strict=True)
                    if rod is None]  # fmt: skip
        return _fit(build, name, pin, reason=_missing("rod side clearance", lacking))
    gap = fits.rod_side_clearance.kernel(to_si(width.value), *(to_si(rod.value) for rod in rods))
    if gap < 0:
        return _fit(build, name, pin, reason="the rods are wider than their crank pin: misread?")
    return _fit(build, name, pin, gap, _u(width, *rods))


def _plain(build, name, key, place):
    mean = build.mean(*key)
    return None if mean is None else _fit(build, name, place, to_si(mean.value), _u(mean))


def _rings(build, number):
    """Yield gaps and side clearances as read, ring by ring."""
    for feature, named in (
        ("end gap", "{}_ring_gap"),
        ("side clearance", "{}_ring_side_clearance"),
    ):
        mean = build.mean("ring", feature, number)
        for (_, which, _), size in (mean.spots if mean else {}).items():
            if which in ("top", "second"):
                yield _fit(build, named.format(which), f"cylinder {number}", size, _u(mean))


def _form(build, part, feature, key, place, named):
    """Yield taper and out-of-round of a bore or journal; the latter a lower bound."""
    mean = build.mean(part, feature, key)
    if mean is None:
        return
    ways = sorted({way for way, *_ in mean.spots})
    ends = sorted({end for _, end, _ in mean.spots})
    table = np.full((len(ways), len(ends)), np.nan)
    for (way, end, _), size in mean.spots.items():
        table[ways.index(way), ends.index(end)] = size
    whole = ~np.isnan(table)
    along = [measured.taper.kernel(row[there]) for row, there in zip(table, whole, strict=True)
             if there.sum() > 1]  # fmt: skip
    across = [measured.out_of_round.kernel(row[there])
              for row, there in zip(table.T, whole.T, strict=True) if there.sum() > 1]  # fmt: skip
    for name, found in ((f"{named}_taper", along), (f"{named}_out_of_round", across)):
        if found:
            yield _fit(build, name, place, max(map(float, found)), np.sqrt(2) * to_si(mean.u))
