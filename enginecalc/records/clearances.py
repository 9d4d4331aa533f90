"""An engine through the formulas of clearance: how near its parts come to one another."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pint

from enginecalc import camshaft, valve_gaps
from enginecalc.units import Q, to_si

VALVES = ("intake", "exhaust")
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


def changes_tried(engine, attempts):
    """Return the least clearances of both valves for changes tried one by one.

    What brings the piston nearer to the head takes the same off both drops, times the cosine of
    the valve's angle: a thinner gasket, a longer stroke, a cut head.

    Parameters
    ----------
    engine : Engine
        As it is; the first row.
    attempts : dict
        {what it is called: (changes, head cut or None, cam advance or None)}, the changes as for
        `Engine.altered`.

    Returns
    -------
    pandas.DataFrame
        A row for each, indexed by what it is called; columns intake, exhaust, intake change,
        exhaust change, holding quantities.
    """
    attempts = {"as it is": ({}, None, None), **attempts}
    made = [engine.altered(changes) if changes else engine for changes, _, _ in attempts.values()]
    nearer = [
        engine.values["quench_distance"] - each.values["quench_distance"] + _si(cut)
        for each, (_, cut, _) in zip(made, attempts.values(), strict=True)
    ]
    advances = [_si(advance) for _, _, advance in attempts.values()]
    table = {valve: _each_tried(valve, made, nearer, advances) for valve in VALVES}
    for valve in VALVES:
        table[f"{valve} change"] = [each - table[valve][0] for each in table[valve]]
    return pd.DataFrame(table, index=pd.Index(attempts, name="tried"), dtype=object)


def _si(quantity):
    return 0.0 if quantity is None else to_si(quantity)


def _each_tried(valve, made, nearer, advances):
    """Return the least clearance of each engine, in one evaluation for those of one lobe."""
    by_lobe, least = {}, [None] * len(made)
    for at, each in enumerate(made):
        lobe, center, train = valve_train(each, valve)
        drop = train["drop_at_tdc"] - nearer[at] * np.cos(train["valve_angle"])
        row = {**train, "center": center - advances[at], "drop_at_tdc": drop}
        by_lobe.setdefault(lobe, []).append((at, row))
    for lobe, found in by_lobe.items():
        columns = {name: np.array([row[name] for _, row in found]) for name in found[0][1]}
        for (at, _), gap in zip(found, valve_gaps.gap_minima(lobe, **columns).gap, strict=True):
            least[at] = Q(float(gap), "m")
    return least


def events(engine, valve, at_lift):
    """Return a valve's opening and closing at a lobe lift, and its duration between them.

    Intake: before top and after bottom dead center; exhaust: before bottom and after top.

    Returns
    -------
    tuple of quantity
        Opening, closing, duration, in crank angle.
    """
    lobe, _, _ = valve_train(engine, valve)
    lift, centerline = to_si(at_lift), engine.values[f"{valve}.centerline"]
    opening, closing = {
        "intake": (camshaft.intake_opening, camshaft.intake_closing),
        "exhaust": (camshaft.exhaust_opening, camshaft.exhaust_closing),
    }[valve]
    return tuple(
        Q(float(np.degrees(each)), "deg")
        for each in (
            opening.kernel(centerline, lobe.opening(lift)),
            closing.kernel(centerline, lobe.closing(lift)),
            lobe.duration(lift),
        )
    )


def events_of_wheel(engine, at_lift, cam_advance=_NO_ADVANCE):
    """Return what a degree wheel shows: [(words, crank angle after overlap TDC)].

    Openings and closings at a lobe lift, both centerlines, both least gaps.
    """
    half, named = Q(180.0, "deg"), []
    for valve in VALVES:
        _, center, _ = valve_train(engine, valve)
        opening, closing, _ = events(engine, valve, at_lift)
        if valve == "intake":
            opens, closes = -opening, half + closing
        else:
            opens, closes = -half - opening, closing
        middle = Q(float(np.degrees(center)), "deg")
        named += [
            (f"{valve} opens", opens - cam_advance),
            (f"{valve} closes", closes - cam_advance),
            (f"{valve} centerline", middle - cam_advance),
            (f"{valve} least gap", least_piston_to_valve(engine, valve, cam_advance).crank_angle),
        ]
    return named


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
