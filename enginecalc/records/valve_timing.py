"""A valve's events, and what changes tried one by one do to the least clearances."""

import numpy as np
import pandas as pd

from enginecalc import camshaft, valve_gaps
from enginecalc.records.clearances import VALVES, least_piston_to_valve, valve_train
from enginecalc.units import Q, to_si

_NO_ADVANCE = Q(0.0, "deg")


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
