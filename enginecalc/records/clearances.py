"""An engine through the formulas of clearance: how near its parts come to one another."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pint

from enginecalc import valve_gaps
from enginecalc.records import block
from enginecalc.records.results import limits_of
from enginecalc.records.seats import seats_of
from enginecalc.units import Q, to_si, ureg

VALVES = ("intake", "exhaust")
_METER, _DEGREE = ureg.Unit("m"), ureg.Unit("deg")
_COLUMNS = ("pair", "cylinder", "clearance", "crank_angle", "feature", "limit", "grind")
_NO_ADVANCE = Q(0.0, "deg")
_TAKES = (
    "{}.lobe {}.centerline {}.valve_angle {}.drop_at_tdc {}_lift_ratio {}.lash"
    " crank.stroke rod.length pin_axis_offset"
)


@dataclass(frozen=True)
class ValveClearance:
    """Where a valve comes closest to its piston.

    `clearance` is along the valve, - where they meet; `crank_angle` counts after the true top dead
    center of overlap, - before; `per_degree` is the change of the clearance for one crank degree
    of cam advance. `minima` holds every local minimum as (crank_angle, clearance). `cylinder` is
    named where cylinders differ.
    """

    valve: str
    clearance: pint.Quantity
    crank_angle: pint.Quantity
    per_degree: pint.Quantity
    minima: tuple
    cylinder: object = None


@dataclass(frozen=True)
class PhaseMap:
    """Least clearances over cam advance (rows) and lobe separation (columns), as quantities."""

    advance: pint.Quantity
    lobe_separation: pint.Quantity
    intake: pint.Quantity
    exhaust: pint.Quantity


def least_piston_to_valve(engine, valve, cam_advance=_NO_ADVANCE, deck_clearances=None):
    """Return the `ValveClearance` of a valve, of the worst cylinder where decks differ.

    Parameters
    ----------
    engine : Engine
        With a lobe, valve angle and drop for this valve.
    valve : str
        "intake" or "exhaust".
    cam_advance : quantity
        From where the file has the cam, + earlier, in crank angle.
    deck_clearances : dict
        {cylinder: deck clearance} where they were measured one by one; the drop, taken at the
        file's deck clearance, is changed with each.

    Raises
    ------
    ValueError
        When a field is missing: names it, and says where to measure it.
    """
    lobe, center, train = valve_train(engine, valve)
    numbers = [None]
    if deck_clearances:
        numbers = list(deck_clearances)
        lower = np.array([to_si(each) for each in deck_clearances.values()])
        lower = (lower - engine.values["deck_clearance"]) * np.cos(train["valve_angle"])
        train = {**train, "drop_at_tdc": train["drop_at_tdc"] + lower}
    found = valve_gaps.gap_minima(lobe, center - to_si(cam_advance), **train)
    gap, angle, slope, gaps, angles = (
        np.reshape(each, (len(numbers), -1))
        for each in (found.gap, found.after_tdc, found.per_advance, found.gaps, found.angles)
    )
    worst = int(np.argmin(gap))
    return ValveClearance(
        valve,
        Q(float(gap[worst, 0]), "m"),
        Q(float(np.degrees(angle[worst, 0])), "deg"),
        Q(float(np.radians(slope[worst, 0])), "m/deg"),
        tuple(
            (Q(float(np.degrees(at)), "deg"), Q(float(each), "m"))
            for at, each in zip(angles[worst], gaps[worst], strict=True)
            if not np.isnan(each)
        ),
        numbers[worst],
    )


def advance_to_limit(engine, valve, limit):
    """Return the cam advance, - retard, at which a valve's least clearance is `limit`, or None.

    The nearest one within 60 degrees of where the file has the cam.
    """
    lobe, center, train = valve_train(engine, valve)
    advance = valve_gaps.limit_advance(to_si(limit), lobe, center, **train)
    return None if np.isnan(advance) else Q(float(np.degrees(advance)), "deg")


def clearance_by_advance(engine, valve, cam_advance):
    """Return the least clearance for an array of cam advances from the file's."""
    lobe, center, train = valve_train(engine, valve)
    return Q(valve_gaps.gap_minima(lobe, center - to_si(cam_advance), **train).gap, "m")


def phase_map(engine, advance, lobe_separation):
    """Return the `PhaseMap` of both valves.

    Parameters
    ----------
    engine : Engine
        With lobes, valve angles and drops for both valves.
    advance : quantity
        Array: lobe separation less intake centerline, the trade's installed advance, in crank
        degrees.
    lobe_separation : quantity
        Array, in cam degrees.

    Notes
    -----
    A valve's gap depends on its own centerline alone, so each centerline is worked out once.
    """
    made = {}
    for valve in VALVES:
        lobe, _, train = valve_train(engine, valve)
        phases = to_si(advance), to_si(lobe_separation)
        made[valve] = Q(valve_gaps.gap_map(valve, *phases, lobe, **train), "m")
    return PhaseMap(advance, lobe_separation, **made)


def block_clearances(engine, turned=()):
    """Return how near big end, beam, counterweight and chamfer come to what stands around them.

    Parameters
    ----------
    engine : Engine
        With rod outline, rails, camshaft and so on; what is missing leaves its pairs out.
    turned : collection
        Numbers of cylinders whose rod is fitted the other way round than the file says.

    Returns
    -------
    pandas.DataFrame
        A row per pair and cylinder. Columns: pair, cylinder, clearance, crank_angle, feature,
        limit, grind. Clearance, limit and grind, the length missing to the limit, are quantities;
        so is crank_angle, which counts after the cylinder's own true top dead center, for "true
        phase" after that of firing up to 720 degrees, and is nan for a gap that is the same all
        round. `.attrs["not_measured"]` is {pair: what it needs and where to measure it},
        `.attrs["sources"]` is {pair: who says the limit}.
    """
    table = {name: [] for name in _COLUMNS}
    absent, sources = {}, {}
    apart, places = seats_of(engine, turned)
    for name, pair in block.pairs(engine).items():
        lack = block.lacking(engine, pair)
        if lack:
            absent[name] = f"{name} {lack}"
            continue
        low, _, sources[name] = limits_of(engine, pair.limit, _METER)
        found, limit, unit = pair.least(apart), to_si(low), low.units
        grind = np.maximum(limit - found.gap, 0.0) if found.grind is None else found.grind
        scale = low.magnitude / limit if limit else 1 / to_si(Q(1.0, unit))
        shown = zip(found.gap * scale, np.degrees(found.angle), grind * scale, strict=True)
        rows = [
            (Q(float(gap), unit), Q(float(angle), _DEGREE), named, low, Q(float(missing), unit))
            for (gap, angle, missing), named in zip(shown, found.features, strict=True)
        ]
        for number, at in places.items():
            for column, value in zip(_COLUMNS, (name, number, *rows[at]), strict=True):
                table[column].append(value)
    made = pd.DataFrame(table, dtype=object)
    made.attrs = {"not_measured": absent, "sources": sources}
    return made


def valve_train(engine, valve):
    """Return lobe, center and the other arguments of `valve_gaps.gap_minima`, in SI."""
    if valve not in VALVES:
        raise ValueError(f'valve must be "intake" or "exhaust", got {valve!r}')
    values = engine.values
    lacking = [path for path in _TAKES.replace("{}", valve).split() if values[path] is None]
    if lacking:
        raise ValueError(f"{valve} piston to valve {engine.lacking(f'{valve}_piston_to_valve')}")
    return (
        values[f"{valve}.lobe"],
        values[f"{valve}_center"],
        {
            "valve_angle": values[f"{valve}.valve_angle"],
            "drop_at_tdc": values[f"{valve}.drop_at_tdc"],
            "stroke": values["crank.stroke"],
            "rod_length": values["rod.length"],
            "rocker_ratio": values[f"{valve}_lift_ratio"],
            "lash": values[f"{valve}.lash"],
            "pin_offset": values["pin_axis_offset"],
        },
    )
