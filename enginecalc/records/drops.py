"""The drops of a cylinder's valves: as read there, or as planned and moved with its piston."""

import math

from enginecalc.records.means import text_of, where_from
from enginecalc.units import read_typed, to_si


def replaced_drops(build, cylinder, lower, u, source):
    """Return {field: (text for the engine file, where from)} of the drops at top dead center.

    A drop that was read there with the piston at its top counts. Else the file's, which belongs to
    the file's own deck clearance, moves with the piston.

    Parameters
    ----------
    build : Build
        With the readings.
    cylinder : int or str
        Its number.
    lower : float
        How much lower its piston stands at its top than planned, in SI.
    u : float
        Standard uncertainty of that.
    source : str
        Where that comes from.
    """
    made = {}
    for side in ("intake", "exhaust"):
        path, valve = f"{side}.drop_at_tdc", getattr(build.engine, side)
        mean = build.mean(f"{side} valve", "drop", cylinder)
        at_top = [size for (*_, angle), size in (mean.spots if mean else {}).items()
                  if degrees(angle) == 0]  # fmt: skip
        if at_top and mean.value.check("[length]"):
            text = text_of(at_top[0], to_si(mean.u), mean.value.units)
            made[path] = (text, f"{side} drop, {where_from([mean])}")
        elif lower and None not in (valve.drop_at_tdc, valve.valve_angle):
            along = math.cos(to_si(valve.valve_angle))
            own = read_typed(build.engine.text_at(path)).standard_uncertainty
            both = math.hypot(u * along, 0.0 if own is None else to_si(own))
            drop = to_si(valve.drop_at_tdc) + lower * along
            made[path] = (text_of(drop, both, valve.drop_at_tdc.units), source)
    return made


def degrees(text):
    """Return a crank angle of the ledger in degrees, None where it is none."""
    try:
        return float(text)
    except ValueError:
        return None
