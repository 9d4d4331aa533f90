"""Pressure of the gas over the piston through the four strokes, and its force on the piston.

All pressures are absolute. The crank angle counts from the crank pin's top of its own bore before
the power stroke, over two turns, and repeats. Atmosphere stands under the piston: 1.000 bar
where nothing else is given.
"""

import numpy as np

from enginecalc.crank import bdc_angle, must_turn, tdc_angle
from enginecalc.cylinder import cylinder_volume
from enginecalc.units import Q, above_zero, each_of, first_wrong, quantities

_BAR = 1e5
_TURN = 2 * np.pi
_TINY = 1e-9  # rad: at a dead center itself the stroke that begins counts


@quantities(
    returns="Pa",
    refuse=each_of(
        above_zero(
            "bore",
            "clearance_volume",
            "peak_pressure",
            "ambient_pressure",
            "expansion_exponent",
            "compression_exponent",
        ),
        must_turn,
    ),
    crank_angle="rad",
    bore="m",
    stroke="m",
    rod_length="m",
    clearance_volume="m**3",
    pin_offset="m",
    peak_pressure="Pa",
    ambient_pressure="Pa",
    expansion_exponent="1",
    compression_exponent="1",
)
def cycle_pressure(
    crank_angle,
    bore,
    stroke,
    rod_length,
    clearance_volume,
    pin_offset=0.0,
    *,
    peak_pressure=70 * _BAR,
    ambient_pressure=_BAR,
    expansion_exponent=1.28,
    compression_exponent=1.32,
):
    """Return the pressure over the piston in the stated test cycle, for comparing geometries.

    An assumed cycle, not a measured one: the charge burns at once at the top, the exhaust valve
    opens at the bottom, and while gas is exchanged the pressure stands at the ambient.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top before the power stroke. [rad]
    bore, stroke, rod_length : float or array
        As in `enginecalc.crank`. [m]
    clearance_volume : float or array
        Of one cylinder. [m**3]
    pin_offset : float or array
        As in `enginecalc.crank`. [m]
    peak_pressure, ambient_pressure : float or array
        At the start of the power stroke (7e6 when not given), and while gas is exchanged
        (1e5). [Pa]
    expansion_exponent, compression_exponent : float or array
        Polytropic, of power and compression stroke (1.28 and 1.32). [1]

    Returns
    -------
    float or array
        Absolute pressure. [Pa]

    Notes
    -----
    Power stroke: peak (V_c / V)^1.28. Exhaust and intake: ambient. Compression:
    ambient (V_max / V)^1.32. The strokes begin at the true dead centers, the top one first.

    Sources
    -------
    [rajput_ice] Example 3.9, p. 98 (compression); [joel_thermo] Example 5.11, p. 119 (expansion).
    """
    geometry = (stroke, rod_length, pin_offset)
    top, bottom = tdc_angle.kernel(*geometry), bdc_angle.kernel(*geometry)
    largest, volume = (
        cylinder_volume.kernel(angle, bore, stroke, rod_length, clearance_volume, pin_offset)
        for angle in (bottom, crank_angle)
    )
    since_firing = np.mod(crank_angle - top + _TINY, 2 * _TURN)
    power = peak_pressure * (clearance_volume / volume) ** expansion_exponent
    compression = ambient_pressure * (largest / volume) ** compression_exponent
    breathing = since_firing < bottom - top + _TURN
    later = np.where(breathing, ambient_pressure, compression)
    return np.where(since_firing < bottom - top, power, later)[()]


def must_close(title, angles, pressures, **_):
    """Raise ValueError where the rows of a pressure table do not make two whole turns.

    Takes SI floats in arrays of one dimension.
    """
    if np.ndim(angles) != 1 or np.shape(angles) != np.shape(pressures) or len(angles) < 3:
        raise ValueError(
            f"{title}: angles and pressures must be two columns of three rows or more, got"
            f" {np.size(angles)} and {np.size(pressures)} figures."
        )
    faults = []
    if not np.all(good := np.isfinite(angles)):
        faults.append(f"angles must be finite, got {first_wrong(angles, good):g}")
    elif not np.all(good := np.diff(angles) > 0):
        row = int(np.argmin(good))
        faults.append(
            f"angles must rise from row to row, got {_degrees(angles[row + 1])} after"
            f" {_degrees(angles[row])} in row {row + 2}"
        )
    elif abs(angles[-1] - angles[0] - 2 * _TURN) > 1e-6:
        faults.append(
            "angles must run over 720 deg from the first row to the last, got"
            f" {_degrees(angles[0])} to {_degrees(angles[-1])}. Repeat the first row 720 deg on"
        )
    if not np.all(good := (pressures > 0) & (pressures < np.inf)):
        faults.append(
            f"pressures must be absolute, above zero, got {_bar(first_wrong(pressures, good))}."
            " To a gauge's reading add the ambient pressure"
        )
    elif abs(pressures[-1] - pressures[0]) > 1e-6 * pressures[0]:
        faults.append(
            f"pressures must end as they begin, got {_bar(pressures[0])} first and"
            f" {_bar(pressures[-1])} last. Repeat the first row 720 deg on"
        )
    if faults:
        raise ValueError(f"{title}: {'; '.join(faults)}.")


must_close.when = (
    "the rows do not rise, do not run over 720 deg, do not end as they begin, or are not absolute"
)


def _degrees(angle):
    """Return an angle in rad as text in degrees."""
    return f"{np.degrees(angle):.6g} deg"


def _bar(pressure):
    """Return a pressure in Pa as text in bar."""
    return f"{Q(float(pressure), 'Pa').to('bar'):.6g~P}"


@quantities(returns="Pa", refuse=must_close, crank_angle="rad", angles="rad", pressures="Pa")
def table_pressure(crank_angle, angles, pressures):
    """Return the pressure over the piston from a table, in straight lines between its rows.

    Parameters
    ----------
    crank_angle : float or array
        From the crank pin's top before the power stroke. [rad]
    angles : array
        Of the rows, rising, the last two turns after the first. [rad]
    pressures : array
        Absolute, one for each of the angles, the last as the first. [Pa]

    Returns
    -------
    float or array
        Absolute pressure, of the shape of `crank_angle`; the table repeats. [Pa]

    Notes
    -----
    Linear interpolation: never outside the two rows around it. Wants its arrays in memory.
    """
    return np.interp(angles[0] + np.mod(crank_angle - angles[0], 2 * _TURN), angles, pressures)


@quantities(
    returns="N",
    refuse=above_zero("pressure", "bore", "ambient_pressure"),
    pressure="Pa",
    bore="m",
    ambient_pressure="Pa",
)
def gas_force(pressure, bore, *, ambient_pressure=_BAR):
    """Return the force of the gas on the piston, + towards the crank.

    Parameters
    ----------
    pressure : float or array
        Over the piston, absolute. [Pa]
    bore : float or array
        Diameter of the cylinder. [m]
    ambient_pressure : float or array
        Under the piston, absolute; 1e5 when not given. [Pa]

    Returns
    -------
    float or array
        Less than zero where the piston draws gas in against a vacuum. [N]

    Notes
    -----
    (p - p_ambient) pi/4 B^2: the gauge pressure on the bore's area.

    Sources
    -------
    [khurmi_tom] Example 15.9, p. 534.
    """
    return (pressure - ambient_pressure) * (np.pi / 4 * bore * bore)
