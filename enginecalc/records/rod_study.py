"""What one rod length makes of an engine's piston motion and side load, for comparing rods.

The block is raised with the rod: the clearance volume is the engine's for every rod. Behind the
side load stands the test cycle of `enginecalc.gas`, not a measured pressure.
"""

from dataclasses import dataclass

import numpy as np
import pint

from enginecalc import crank, forces, gas, thrust
from enginecalc.units import Q, to_si

ORDERS = (1, 2, 4, 6)
_TURN = np.radians(np.arange(0.0, 361.0, 2.0))
_CYCLE = np.radians(np.arange(0.0, 721.0, 2.0))
_NEAR_TOP = 0.01  # of the stroke


@dataclass(frozen=True)
class Curves:
    """Motion over one turn, side load over two, by crank angle after true top dead center.

    `motion` is (position, velocity, acceleration), `simple` that of a plain sine over the same
    stroke; None stands for what is not known.
    """

    angle: pint.Quantity
    motion: tuple
    simple: tuple
    cycle_angle: pint.Quantity
    side_load: pint.Quantity | None


@dataclass(frozen=True)
class RodStudy:
    """The figures of one rod length; angles count from true top dead center.

    `acceleration_factor` is 1 + lambda, `peak_factor` the true greatest one, both in parts of
    r w^2, as are `orders` (1, 2, 4, 6; of a pin without offset). `side_load` is the greatest one
    of either wall, with its sign, after the firing top. `reasons` says why a figure is None.
    """

    rod_length: pint.Quantity
    rod_ratio: pint.Quantity
    radius_over_rod: pint.Quantity
    peak_speed: pint.Quantity | None
    peak_speed_angle: pint.Quantity
    acceleration_factor: pint.Quantity
    peak_factor: pint.Quantity
    peak_acceleration: pint.Quantity | None
    travel_at_quarter: pint.Quantity
    dwell: pint.Quantity
    travel_at_ten: pint.Quantity
    greatest_tilt: pint.Quantity
    side_load: pint.Quantity | None
    side_load_angle: pint.Quantity | None
    orders: pint.Quantity
    curves: Curves
    reasons: dict


def rod_study(engine, rod_length):
    """Return the `RodStudy` of an engine with rods of another length, in a block raised to fit.

    Raises
    ------
    ValueError
        When the crank cannot turn with that rod.
    """
    values = engine.values
    geometry = values["crank.stroke"], to_si(rod_length), values["pin_axis_offset"]
    crank.must_turn("rod_study", *geometry)
    stroke, rod, offset = geometry
    speed, top = values["running.engine_speed"], crank.tdc_angle.kernel(*geometry)
    travel = crank.piston_position.kernel(top + np.radians([90.0, 10.0]), *geometry)
    near = _NEAR_TOP * crank.true_stroke.kernel(*geometry)
    factor = crank.peak_piston_acceleration.kernel(stroke, rod, 1.0, offset) / (stroke / 2)
    load, reasons = _side_load(engine, geometry)
    side, at = _greatest(load, top) if load else (None, None)
    if speed is None:
        lacking = engine.lacking("peak_piston_speed")
        reasons |= dict.fromkeys(("peak_speed", "peak_acceleration"), lacking)
    return RodStudy(
        rod_length=rod_length,
        rod_ratio=Q(rod / stroke, ""),
        radius_over_rod=Q(stroke / 2 / rod, ""),
        peak_speed=_with(speed, crank.peak_piston_speed, stroke, rod, speed, offset),
        peak_speed_angle=Q(crank.peak_speed_angle.kernel(*geometry) - top, "rad"),
        acceleration_factor=Q(1 + stroke / 2 / rod, ""),
        peak_factor=Q(factor, ""),
        peak_acceleration=_with(speed, crank.peak_piston_acceleration, stroke, rod, speed, offset),
        travel_at_quarter=Q(travel[0], "m"),
        dwell=Q(crank.dwell_angle.kernel(near, *geometry), "rad"),
        travel_at_ten=Q(travel[1], "m"),
        greatest_tilt=Q(crank.greatest_rod_tilt.kernel(*geometry), "rad"),
        side_load=None if side is None else Q(side, "N"),
        side_load_angle=None if at is None else Q(at - top, "rad"),
        orders=Q(crank.acceleration_harmonics.kernel(stroke, rod, ORDERS), ""),
        curves=_curves(geometry, top, speed, load),
        reasons=reasons,
    )


def _with(speed, formula, *given):
    """Return a figure that needs the speed, None without it."""
    return None if speed is None else Q(formula.kernel(*given), formula.returns)


def _side_load(engine, geometry):
    """Return the side load as a function of the crank angle, None and {figure: reason} without."""
    values, (stroke, rod, offset) = engine.values, geometry
    bore, speed = values["block.bore"], values["running.engine_speed"]
    mass, volume = values["reciprocating_mass"], values["clearance_volume"]
    if None in (mass, speed, volume):
        name = "inertia_force" if None in (mass, speed) else "clearance_volume"
        return None, dict.fromkeys(("side_load", "side_load_angle"), engine.lacking(name))

    def load(angle):
        pressure = gas.cycle_pressure.kernel(angle, bore, stroke, rod, volume, offset)
        inertia = forces.reciprocating_force.kernel(angle, mass, stroke, rod, speed, offset)
        pin_load = thrust.pin_load.kernel(gas.gas_force.kernel(pressure, bore), inertia)
        return thrust.side_load.kernel(angle, stroke, rod, pin_load, offset)

    return load, {}


def _greatest(load, top):
    """Return the greatest side load of either wall and its crank angle: a scan, then polished."""
    at, step = top + _CYCLE, _CYCLE[1]
    for _ in range(4):
        found = at[np.argmax(abs(load(at)))]
        at, step = found + np.linspace(-step, step, 41), step / 20
    return float(load(found)), float(found)


def _curves(geometry, top, speed, load):
    """Return the `Curves` of one rod."""
    stroke, rod, offset = geometry
    rate, half = 1.0 if speed is None else speed, crank.true_stroke.kernel(*geometry) / 2
    exact = crank.motion(top + _TURN, stroke, rod, rate, offset)
    sin, cos = np.sin(_TURN), np.cos(_TURN)
    sine = half * (1 - cos), half * rate * sin, half * rate**2 * cos
    units = ("m", None, None) if speed is None else ("m", "m/s", "m/s**2")
    motion, simple = (
        tuple(unit and Q(each, unit) for each, unit in zip(some, units, strict=True))
        for some in (exact, sine)
    )
    side = None if load is None else Q(load(top + _CYCLE), "N")
    return Curves(Q(_TURN, "rad"), motion, simple, Q(_CYCLE, "rad"), side)
