"""Pressure of the gas by crank angle, from the stated cycle and from a table."""

import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.interpolate import CubicSpline

from enginecalc.crank import bdc_angle, tdc_angle
from enginecalc.cylinder import cylinder_volume
from enginecalc.gas import cycle_pressure, gas_force, table_pressure
from enginecalc.units import Q, UnitError
from tests.figures import printed, random_cranks

V8 = {
    "bore": Q(4.110, "inch"),
    "stroke": Q(3.640, "inch"),
    "rod_length": Q(5.960, "inch"),
    "clearance_volume": Q(85.058, "cm**3"),
}
FOUR = {
    "bore": Q(83.5, "mm"),
    "stroke": Q(89.2, "mm"),
    "rod_length": Q(143.0, "mm"),
    "clearance_volume": Q(52.2, "cm**3"),
    "pin_offset": Q(-6.0, "mm"),
}


def bar(angle, engine=V8, **more):
    """Return the cycle's pressure in bar at an angle in degrees."""
    return cycle_pressure(Q(angle, "deg"), **engine, **more).m_as("bar")


def volume(angle, engine=V8):
    """Return the volume over the piston in cc at an angle in degrees."""
    return cylinder_volume(Q(angle, "deg"), **engine).m_as("cm**3")


# --- against a source -------------------------------------------------------------------------


def test_rajput_3_9_end_of_compression():
    # [rajput_ice] Example 3.9, p. 98: ratio 8, from 1 bar, exponent 1.4: 18.38 bar
    swept = np.pi / 4 * V8["bore"] ** 2 * V8["stroke"]
    engine = V8 | {"clearance_volume": swept / 7}
    assert bar(720 - 1e-4, engine, compression_exponent=1.4) == printed("18.38")


def test_joel_5_11_expansion_to_four_times_the_volume():
    # [joel_thermo] Example 5.11, p. 119: 1.4 MPa, exponent 1.3, to 4 times the volume: 231 kPa
    angles = np.arange(0, 180, 0.001)
    there = angles[np.argmin(abs(volume(angles) - 4 * 85.058))]
    start = Q(1.4, "MPa")
    kilopascals = 100 * bar(there, peak_pressure=start, expansion_exponent=1.3)
    assert kilopascals == printed("231")


# --- against geometry and identities ----------------------------------------------------------


def test_the_cycle_as_it_is_stated():
    down, up = np.linspace(0, 179.9, 50), np.linspace(540, 719.9, 50)
    assert_allclose(bar(down), 70 * (85.058 / volume(down)) ** 1.28, rtol=1e-10)
    assert_allclose(bar(np.linspace(180, 539.9, 50)), 1.000, rtol=1e-12)
    assert_allclose(bar(up), (volume(180) / volume(up)) ** 1.32, rtol=1e-10)


def test_it_repeats_every_two_turns_and_begins_with_the_stroke():
    angles = np.linspace(-700, 1500, 400)
    assert_allclose(bar(angles), bar(angles + 720), rtol=1e-9)
    assert_allclose(bar([0, 720, -720]), 70, rtol=1e-12)
    assert_allclose(bar([180, 540]), 1, rtol=1e-12)


def test_with_an_offset_the_strokes_begin_at_the_true_dead_centers():
    crank = {name: FOUR[name] for name in ("stroke", "rod_length", "pin_offset")}
    top, bottom = (each(**crank).m_as("deg") for each in (tdc_angle, bdc_angle))
    assert top < -1
    assert bottom < 179
    assert_allclose(bar(top, FOUR), 70, rtol=1e-12)
    assert bar(top - 0.01, FOUR) < 25
    angles = np.linspace(top, bottom - 1e-6, 40)
    assert_allclose(bar(angles, FOUR), 70 * (52.2 / volume(angles, FOUR)) ** 1.28, rtol=1e-9)
    assert_allclose(bar([bottom, bottom + 359.999], FOUR), 1, rtol=1e-12)
    assert bar(bottom + 380, FOUR) > 1.01


def test_a_mirrored_engine_run_backwards_has_the_same_peak():
    mirrored = FOUR | {"pin_offset": -FOUR["pin_offset"]}
    angles = Q(np.linspace(-30, 30, 7), "deg")
    assert_allclose(
        cylinder_volume(angles, **FOUR).m, cylinder_volume(-angles, **mirrored).m, rtol=1e-12
    )
    peaks = [bar(np.arange(-9, 9, 0.001), engine).max() for engine in (FOUR, mirrored)]
    assert_allclose(peaks, 70, rtol=1e-4)


def test_the_ambient_pressure_scales_compression_and_not_power():
    thin = Q(0.8, "bar")
    assert_allclose(bar(650, ambient_pressure=thin), 0.8 * bar(650), rtol=1e-12)
    assert_allclose(bar(300, ambient_pressure=thin), 0.8, rtol=1e-12)
    assert_allclose(bar(60, ambient_pressure=thin), bar(60), rtol=1e-12)
    assert_allclose(bar(60, peak_pressure=Q(35, "bar")), bar(60) / 2, rtol=1e-12)


def test_the_force_is_the_gauge_pressure_on_the_disc():
    # a bore of 20 / sqrt(pi) mm has an area of 100 mm2
    bore = Q(20 / np.pi**0.5, "mm")
    assert_allclose(gas_force(Q(71, "bar"), bore).m_as("N"), 700, rtol=1e-12)
    assert_allclose(gas_force(Q(0.4, "bar"), bore).m_as("N"), -6, rtol=1e-12)
    at_height = gas_force(Q(0.8, "bar"), bore, ambient_pressure=Q(0.7, "bar"))
    assert_allclose(at_height.m_as("N"), 1, rtol=1e-12)


ROWS = Q(np.array([-20.0, 10, 95, 180, 360, 500, 700]), "deg")
PRESSURES = Q(np.array([14.0, 60, 8, 2, 1.1, 0.9, 14]), "bar")


def test_a_table_is_met_at_its_rows_and_halfway():
    at_rows = table_pressure(ROWS, ROWS, PRESSURES).m_as("bar")
    assert_allclose(at_rows, PRESSURES.m, rtol=1e-9)
    between = Q(np.array([-5.0, 52.5, 270]), "deg")
    assert_allclose(table_pressure(between, ROWS, PRESSURES).m_as("bar"), [37, 34, 1.55], rtol=1e-9)


def test_a_table_repeats_and_may_begin_anywhere():
    angles = Q(np.linspace(-1500, 1500, 301), "deg")
    once = table_pressure(angles, ROWS, PRESSURES)
    assert_allclose(table_pressure(angles + Q(720, "deg"), ROWS, PRESSURES).m, once.m, rtol=1e-9)
    order = [2, 3, 4, 5, 6, 7, 8]
    rows = np.append(ROWS.m, [10 + 720, 95 + 720])[order]
    pressures = np.append(PRESSURES.m, [60, 8])[order]
    later = table_pressure(angles, Q(rows, "deg"), Q(pressures, "bar"))
    assert_allclose(later.m, once.m, rtol=1e-9)


def test_a_fine_table_of_the_cycle_gives_the_cycle_back():
    rows = np.concatenate([np.arange(0, 720, 0.5), [180 - 1e-3, 720 - 1e-3, 720]])
    rows.sort()
    table = Q(rows, "deg"), Q(bar(rows), "bar")
    angles = np.linspace(3, 716, 977)
    angles = angles[abs(angles - 180) > 1]
    assert_allclose(table_pressure(Q(angles, "deg"), *table).m_as("bar"), bar(angles), rtol=2e-4)


def test_straight_lines_against_a_smooth_curve():
    rows = np.arange(0, 721, 2.0)
    pressures = 20 + 10 * np.cos(np.radians(rows / 2)) - 5 * np.sin(np.radians(rows))
    smooth = CubicSpline(rows, pressures, bc_type="periodic")
    angles = np.linspace(0, 720, 999)
    ours = table_pressure(Q(angles, "deg"), Q(rows, "deg"), Q(pressures, "bar")).m_as("bar")
    assert_allclose(ours, smooth(angles), atol=2e-3)  # h^2 / 8 times the curvature


# --- behaviour --------------------------------------------------------------------------------


def test_many_engines_at_once_are_a_loop():
    stroke, rod, offset = random_cranks(30)
    angles = np.linspace(0, 4 * np.pi, 30)
    kernel = cycle_pressure.kernel
    together = kernel(angles, stroke, stroke, rod, stroke**3 / 12, offset)
    cranks = zip(angles, stroke, rod, offset, strict=True)
    alone = [kernel(a, s, s, r, s**3 / 12, e) for a, s, r, e in cranks]
    assert_allclose(together, alone, rtol=1e-12)
    assert np.shape(alone[0]) == ()


def test_lazy_arrays_stay_lazy():
    angles = np.linspace(0, 12, 12)
    rest = 0.1, 0.09, 0.15, 8e-5, -0.002
    lazy = cycle_pressure.kernel(da.from_array(angles, chunks=5), *rest)
    assert isinstance(lazy, da.Array)
    eager = cycle_pressure.kernel(angles, *rest)
    assert_allclose(lazy.compute(scheduler="sync"), eager, rtol=1e-12)


def test_a_crank_that_cannot_turn_is_nan_in_a_sweep_and_refused_at_the_door():
    angles = np.linspace(0, 4 * np.pi, 9)
    assert np.all(np.isnan(cycle_pressure.kernel(angles, 0.1, 0.1, 0.04, 8e-5)))
    with pytest.raises(ValueError, match=r"^cycle_pressure: rod_length must be longer than half"):
        bar(10, V8 | {"rod_length": Q(1.8, "inch")})


def test_every_size_that_is_nothing_is_named():
    nothing = V8 | {"bore": Q(0.0, "inch"), "clearance_volume": Q(-1.0, "cm**3")}
    with pytest.raises(
        ValueError, match=r"bore must be greater.*clearance_volume must be.*peak_pressure must be"
    ):
        bar(10, nothing, peak_pressure=Q(0.0, "bar"))
    with pytest.raises(ValueError, match="compression_exponent must be greater than zero, got -1"):
        bar(10, compression_exponent=-1.32)


def test_a_vacuum_better_than_perfect_is_refused():
    with pytest.raises(ValueError, match=r"^gas_force: pressure must be greater than zero, got -3"):
        gas_force(Q(np.array([2.0, -0.3]), "bar"), Q(83.5, "mm"))


def test_units_that_are_not_of_the_kind():
    with pytest.raises(UnitError, match="pressure needs a unit like Pa, got the bare 71"):
        gas_force(71.0, Q(83.5, "mm"))
    with pytest.raises(UnitError, match="angles needs a unit like rad, got"):
        table_pressure(Q(5, "deg"), Q(ROWS.m, "mm"), PRESSURES)


@pytest.mark.parametrize(
    ("angles", "pressures", "says"),
    [
        ([0, 720], [1, 1], r"two columns of three rows or more, got 2 and 2 figures"),
        ([0, 90, 720], [1, 2, 3, 1], r"two columns .* got 3 and 4 figures"),
        ([[0, 90, 720]], [[1, 2, 1]], r"two columns of three rows"),
        ([0, np.nan, 720], [1, 2, 1], r"angles must be finite, got nan"),
        ([0, 90, 80, 720], [1, 2, 3, 1], r"rise .* got 80 deg after 90 deg in row 3\.$"),
        ([0, 90, 90, 720], [1, 2, 3, 1], r"rise .* got 90 deg after 90 deg in row 3\.$"),
        ([0, 90, 719], [1, 2, 1], r"over 720 deg .* got 0 deg to 719 deg\. Repeat the first row"),
        ([0, 90, 360], [1, 2, 1], r"over 720 deg .* got 0 deg to 360 deg"),
        ([0, 90, 720], [1, 2, 1.1], r"must end as they begin, got 1 bar first and 1\.1 bar last"),
        ([0, 90, 720], [1, -0.2, 1], r"must be absolute, above zero, got -0\.2 bar\. To a gauge"),
        ([0, 90, 720], [1, np.nan, 1], r"must be absolute, above zero, got nan bar"),
        ([0, 90, 700], [1, 2, 3], r"over 720 deg.*; pressures must end as they begin"),
    ],
)
def test_a_table_that_is_no_cycle_is_refused(angles, pressures, says):
    with pytest.raises(ValueError, match=rf"^table_pressure: .*{says}"):
        table_pressure(
            Q(5.0, "deg"), Q(np.array(angles, float), "deg"), Q(np.array(pressures, float), "bar")
        )
