"""Which measured part goes in which place of a build: selections, with the words to act on."""

import re
from dataclasses import dataclass

import numpy as np

from enginecalc import selection
from enginecalc.choice import Choice
from enginecalc.records.fit_results import fit_results
from enginecalc.records.places import mains
from enginecalc.records.results import limits_of
from enginecalc.units import Q, read, to_si, ureg

_METER, _SLACK = ureg.Unit("m"), 1e-9
_NAMES = {ureg.Unit("inch"): "in", ureg.Unit("mm"): "mm", ureg.Unit("thou"): "thou",
          ureg.Unit("um"): "µm"}  # fmt: skip
_OTHER_WALL = to_si(Q(0.010, "inch"))  # farther from the measured shells is another bearing's
_WRITE = 'write "0.0955 in: 10"'


@dataclass(frozen=True)
class Matching:
    """A `Choice`, its places in words, and what to put where, one sentence each."""

    choice: Choice
    places: list
    orders: list
    unit: str  # "in" or "mm"
    low: float | None
    high: float | None


def match_rods(build, target=None):
    """Return the `Matching` of rods, with their caps and shells, to crank pins.

    Parameters
    ----------
    build : Build
        With readings of rod housings, rod shells and crank pins.
    target : quantity
        Oil clearance wanted; the middle between its limits when not given.

    Raises
    ------
    ValueError
        Names the readings that are missing or cannot be.
    """
    fits = _fits(build, "rod_oil_clearance")
    numbers = build.cylinders
    pins = [_largest(build, number) for number in numbers]
    parts = [to_si(fits[f"cylinder {number}"].value) + pin
             for number, pin in zip(numbers, pins, strict=True)]  # fmt: skip
    return _paired(
        build, fits, parts, pins, target, "rod_oil_clearance", "rod", "cylinder {}'s pin"
    )


def match_pistons(build, target=None, *, by_bank=True):
    """Return the `Matching` of pistons to bores, each bore at its tightest.

    Parameters
    ----------
    build : Build
        With readings of bores and pistons.
    target : quantity
        Least piston clearance wanted; when not given, the mean of those there are.
    by_bank : bool
        Left and right pistons, whose valve pockets differ, stay in their bank.

    Raises
    ------
    ValueError
        Names the readings that are missing or cannot be.
    """
    name, numbers = "least_piston_clearance", build.cylinders
    fits = _fits(build, name)
    pistons = [to_si(build.mean("piston", "diameter", number).value) for number in numbers]
    bores = [to_si(fits[f"cylinder {number}"].value) + piston
             for number, piston in zip(numbers, pistons, strict=True)]  # fmt: skip
    banned = _other_bank(build) if by_bank else None
    return _paired(build, fits, -np.array(pistons), -np.array(bores), target, name, "piston",
                   "bore {}", banned)  # fmt: skip


def _other_bank(build):
    """Return where a part (row) would leave its bank for a cylinder (column)."""
    sides = np.array([each.bank for each in build.engine.layout.cylinder])
    return sides[:, None] != sides


def _fits(build, name):
    """Return {place: Result} of a fit at all its places, or refuse what is missing."""
    found = {fit.place: fit.result for fit in fit_results(build) if fit.result.name == name}
    known = [f"cylinder {number}" for number in build.cylinders]
    if name.startswith("main"):
        known = [f"main {at}" for at in range(1, mains(build.engine.layout) + 1)]
    lacking = [place for place in known if place not in found]
    faults = [f"{place}: {found[place].reason}" for place in known
              if place in found and found[place].value is None]  # fmt: skip
    if lacking:
        faults.append(f"not measured for {', '.join(lacking)}")
    if faults:
        raise ValueError("\n".join(f"{name.replace('_', ' ')}: {fault}" for fault in faults))
    return found


def _largest(build, number):
    """Return the largest reading of a cylinder's own part of its crank pin."""
    seat = next(each for each in build.engine.layout.cylinder if each.number == number)
    half = build.own_half(number)
    spots = build.mean("crank pin", "diameter", f"pin {seat.pin}").spots
    return max([size for (_, end, _), size in spots.items() if half in ("", end)] or spots.values())


def _limits(build, name):
    low, high, _ = limits_of(build.engine, name, _METER)
    return tuple(None if each is None else to_si(each) for each in (low, high))


def _wanted(build, fits, name, target):
    """Return the target in SI: as given, else the middle of the limits, else the mean."""
    low, high = _limits(build, name)
    if target is not None:
        return _refuse_far_target(target, low, high, _mean(fits), _unit(fits))
    if None not in (low, high):
        return (low + high) / 2
    return _mean(fits)


def _mean(fits):
    return float(np.mean([to_si(each.value) for each in fits.values()]))


def _refuse_far_target(target, low, high, mean, unit):
    """Return a target in SI; refuse one so far from limits or mean that its unit must be wrong."""

    def odd(size, *sizes):
        return not any(each / 3 - _SLACK <= size <= 3 * each + _SLACK for each in sizes)

    def far(size):
        if None in (low, high):
            return odd(size, mean, *(each for each in (low, high) if each is not None))
        out = max(low - size, size - high) - _SLACK
        return out > 0 and (0 < high - low < out or odd(size, mean))

    known = _span((mean, mean) if None in (low, high) else (low, high), unit)
    named = "mean clearance" if None in (low, high) else "limits"
    return _refuse_far("target", target, far, f"the {named} {known}", unit)


def _refuse_far(what, typed, far, known, unit):
    """Return a typed length in SI, or refuse it by its size, with the unit that may be meant."""
    size, units = to_si(typed), typed.units
    if not far(size):
        return size
    name = _NAMES.get(units, f"{units:~P}")
    meant = [each for each in _NAMES if each != units and not far(to_si(Q(typed.m, each)))]
    ask = f": {_NAMES[meant[0]].replace('in', 'inch')} meant?" if meant else ""
    also = "" if name == unit else f" {_text(size, unit)} {unit},"
    raise ValueError(f"{what} {typed.m:g} {name} is{also} far from {known}{ask}")


def _text(size, unit):
    """Return an SI length as fine as a fit, without its unit."""
    digits, scale = (4, 0.0254) if unit == "in" else (3, 0.001)
    text = f"{round(size / scale, 9):.{digits}f}"
    return text if float(text) or not size else f"{size / scale:.1g}"


def _span(sizes, unit):
    least, most = (_text(pick(sizes), unit) for pick in (min, max))
    return f"{least} {unit}" if least == most else f"{least} to {most} {unit}"


def _choose(way, *sizes, **more):
    """Return the choice of a way of `selection`; its refusals lose the way's name in front."""
    try:
        return way(*sizes, **more)
    except ValueError as fault:
        raise ValueError(str(fault).removeprefix(f"{way.__name__}: ")) from None


def _unit(fits):
    unit = next(iter(fits.values())).value.units
    return "mm" if unit == ureg.Unit("mm") else "in"


def _doubt(fits):
    return max(to_si(each.u) for each in fits.values())


def _paired(build, fits, parts, places, target, name, part, place, banned=None):
    low, high = _limits(build, name)
    numbers = build.cylinders
    choice = _choose(
        selection.pair_off, np.array(parts), np.array(places),
        _wanted(build, fits, name, target), banned,
        low=low, high=high, uncertainty=_doubt(fits), part_numbers=numbers, place_numbers=numbers,
        unit=_unit(fits),
    )  # fmt: skip
    orders = [
        f"put {part} {numbers[source]} in {place.format(number)}"
        for number, source in zip(numbers, choice.order, strict=True)
        if numbers[source] != number
    ]
    where = [f"cylinder {number}" for number in numbers]
    return Matching(choice, where, orders, _unit(fits), low, high)


def read_stock(text):
    """Return {wall as typed: how many halves} from a text like "0.0950 in: 4; 0.0955 in: 10".

    Raises
    ------
    ValueError
        Names the entry that does not read.
    """
    stock, known = {}, set()
    for entry in filter(None, map(str.strip, text.replace("\n", ";").split(";"))):
        size, colon, count = (each.strip() for each in entry.rpartition(":"))
        if entry.count(":") > 1 or re.search(r":\s*\d+\s*,|,\s", entry):
            raise ValueError(f'shell stock: put ; between entries in "{entry}"')
        if not colon or not count.isdecimal():
            raise ValueError(f'shell stock: "{entry}" is not a wall and a count; {_WRITE}')
        try:
            wall = read(size, "length")
        except ValueError as fault:
            why = str(fault).partition("; write")[0]
            raise ValueError(f'shell stock: in "{entry}" {why}; {_WRITE}') from None
        if round(to_si(wall), 9) in known:
            raise ValueError(f"shell stock: {size} is listed twice; add the counts")
        known.add(round(to_si(wall), 9))
        stock[wall] = int(count)
    if not stock:
        raise ValueError('shell stock: it is empty; write it like "0.0950 in: 4; 0.0955 in: 10"')
    return stock


def _refuse_other_walls(stock, measured, unit):
    """Return {wall in SI: count}; refuse a wall far from those of the measured shells."""

    def far(size):
        return max(min(measured) - size, size - max(measured)) > _OTHER_WALL + _SLACK

    known = f"the measured shells {_span(measured, unit)}"
    return {_refuse_far("shell stock:", wall, far, known, unit): count
            for wall, count in stock.items()}  # fmt: skip


def choose_main_shells(build, stock, largest_step, target=None):
    """Return the `Matching` of half shells from a stock to the main bearings.

    The thicker half goes into the cap, which carries the load.

    Parameters
    ----------
    build : Build
        With readings of main housings, main shells and main journals.
    stock : dict
        From `read_stock`.
    largest_step : quantity
        Greatest difference between the halves of one bearing.
    target : quantity
        Oil clearance wanted; the middle between its limits when not given.

    Raises
    ------
    ValueError
        Names the readings that are missing, or the walls that cannot be or leave no clearance.
    """
    name = "main_oil_clearance"
    fits = _fits(build, name)
    unit = _unit(fits)
    places = list(fits)
    walls = [build.mean("main shell", "wall", place).spots for place in places]
    shells = [sum(spots.values()) * 2 / len(spots) for spots in walls]
    room = np.array([to_si(fits[place].value) for place in places]) + shells
    low, high = _limits(build, name)
    stock = _refuse_other_walls(stock, [size for spots in walls for size in spots.values()], unit)
    try:
        choice = _choose(
            selection.choose_shells, 1.0 + room, np.full(len(room), 1.0), stock,
            _wanted(build, fits, name, target), to_si(largest_step), "lower", low=low, high=high,
            uncertainty=_doubt(fits), unit=unit, standard=float(np.median(shells)) / 2,
            journal_numbers=[place.removeprefix("main ") for place in places],
        )  # fmt: skip
    except ValueError as fault:
        if not str(fault).startswith("no clearance is left"):
            raise
        thick = [wall for wall in sorted(stock) if 2 * wall > max(room) - _SLACK] or [max(stock)]
        named = ", ".join(f"{_text(wall, unit)} {unit}" for wall in thick)
        raise ValueError(f"no clearance is left: too thick in the stock: {named}") from None
    orders = [
        f"{place}: upper {_text(upper, unit)} {unit}, lower {_text(lower, unit)} {unit}"
        for place, upper, lower in zip(places, *choice.order, strict=True)
    ]
    return Matching(choice, places, orders, unit, low, high)


def even_decks(build, *, by_bank=True):
    """Return the `Matching` of rods and pistons that stand most evenly under the deck.

    Parameters
    ----------
    build : Build
        With readings of rod lengths and compression heights.
    by_bank : bool
        Left and right pistons, whose valve pockets differ, stay in their bank.

    Raises
    ------
    ValueError
        Names the readings that are missing.
    """
    numbers = build.cylinders
    lacking = [
        f"{what} of {number}"
        for number in numbers
        for what, key in (("rod length", ("rod", "length")),
                          ("compression height", ("piston", "compression height")))
        if build.mean(*key, number) is None
    ]  # fmt: skip
    if lacking:
        raise ValueError(f"even decks need readings of {', '.join(lacking)}")
    read_ = [[to_si(build.mean(*key, number).value) for number in numbers]
             for key in (("rod", "length"), ("piston", "compression height"))]  # fmt: skip
    decks, throws = zip(*(build.deck_and_throw(number) for number in numbers), strict=True)
    means = [build.mean("rod", "length", number) for number in numbers]
    unit = "mm" if means[0].value.units == ureg.Unit("mm") else "in"
    choice = _choose(
        selection.even_decks, np.array(decks), np.array(throws), *map(np.array, read_),
        banned_pistons=_other_bank(build) if by_bank else None,
        uncertainty=max(to_si(mean.u) for mean in means), cylinder_numbers=numbers,
        rod_numbers=numbers, piston_numbers=numbers, unit=unit,
    )  # fmt: skip
    orders = [
        f"cylinder {number}: rod {numbers[rod]}, piston {numbers[piston]}"
        for number, rod, piston in zip(numbers, *choice.order, strict=True)
        if (numbers[rod], numbers[piston]) != (number, number)
    ]
    return Matching(choice, [f"cylinder {number}" for number in numbers], orders, unit, None, None)
