"""Taper, out-of-round and ovals, held against outlines drawn point by point."""

import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.measured import fitted_ovality, out_of_round, plane_slopes, taper
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

# --- against the worked numbers of the invented engines ---------------------------------------

READ = WORKED["inputs"]["bore_readings"]
TABLE = np.array([READ["thrust_in"], READ["axial_in"]])  # directions by heights


def test_worked_bore():
    assert taper(Q(TABLE, "inch")).m_as("inch").max() == worked("fit.taper")
    assert out_of_round(Q(TABLE.T, "inch")).m_as("inch").max() == worked("fit.oor")


# --- against geometry and identities ----------------------------------------------------------


def width(direction, long, short, lies, lobes=0.0):
    """Return the width of an ellipse with three lobes on it, seen in a direction, by a caliper.

    Brute force: how far its outline reaches both ways, from 3600 points.
    """
    turn = np.radians(np.arange(0, 360, 0.1))
    x, y = long / 2 * np.cos(turn), short / 2 * np.sin(turn)
    bearing = np.arctan2(y, x)
    grown = 1 + lobes * np.cos(3 * bearing) / np.hypot(x, y)
    along = np.cos(np.subtract.outer(np.asarray(direction) - lies, bearing))
    reach = along * np.hypot(x, y) * grown
    return reach.max(axis=-1) - reach.min(axis=-1)


def deg(*angles):
    return Q(np.array(angles, float), "deg")


def test_an_oval_at_45_degrees_hides_from_thrust_and_axial():
    directions = deg(0, 90, 45)
    read = Q(width(directions.m_as("rad"), 4.1105, 4.1095, np.pi / 4), "inch")
    seen = out_of_round(read[:2]).m_as("inch")
    assert seen == worked("fit.oor_oval_0.001_at_45_two_directions")
    assert abs(seen) < 1e-9
    assert_allclose(out_of_round(read[1:]).m_as("inch"), 0.0005, rtol=1e-3)  # half of it
    assert_allclose(fitted_ovality(read, directions).m_as("inch"), 0.001, rtol=1e-3)


def test_three_lobes_show_in_no_diameter():
    directions = deg(*range(0, 180, 5))
    diameters = 83.5 + 0.02 * np.sum(
        [np.cos(3 * (directions.m_as("rad") + o)) for o in (0, np.pi)], 0
    )
    assert abs(out_of_round(Q(diameters, "mm")).m_as("mm")) < 1e-12
    assert abs(fitted_ovality(Q(diameters, "mm"), directions).m_as("mm")) < 1e-12


@pytest.mark.parametrize("seed", range(8))
def test_a_lower_bound_is_never_above_the_true_out_of_round(seed):
    draw = np.random.default_rng(seed)
    shape = 83.5 + draw.uniform(0, 0.05), 83.5, draw.uniform(0, np.pi), draw.uniform(0, 0.01)
    true = width(np.radians(np.arange(0, 180, 0.5)), *shape)
    read = width(draw.uniform(0, np.pi, draw.integers(2, 7)), *shape)
    seen = out_of_round(Q(read, "mm")).m_as("mm")
    assert 0 <= seen <= true.max() - true.min() + 1e-6


@pytest.mark.parametrize("lies", [0.0, 0.4, 1.1, 2.9])
@pytest.mark.parametrize("angles", [(0, 45, 90), (-30, 0, 30), (0, 60, 120), (3, 40, 95, 140, 170)])
def test_the_oval_is_found_however_it_lies(lies, angles):
    directions = deg(*angles)
    diameters = 83.5 + 0.011 * np.cos(2 * (directions.m_as("rad") - lies))
    found = fitted_ovality(Q(diameters, "mm"), directions)
    assert_allclose(found.m_as("mm"), 0.022, rtol=1e-9)


def test_the_oval_is_the_least_squares_of_a_library():
    draw = np.random.default_rng(5)
    angles = draw.uniform(0, np.pi, 9)
    diameters = 83.5 + 0.01 * np.sin(2 * angles) + draw.normal(0, 0.003, (4, 9))  # four heights
    matrix = np.stack([np.ones(9), np.cos(2 * angles), np.sin(2 * angles)], axis=1)
    fit = np.linalg.lstsq(matrix, diameters.T, rcond=None)[0]
    found = fitted_ovality(Q(diameters, "mm"), Q(angles, "rad")).m_as("mm")
    assert_allclose(found, 2 * np.hypot(fit[1], fit[2]), rtol=1e-8)


def test_a_cone_tapers_and_stays_round():
    heights = np.array([10.0, 60.0, 130.0])
    table = np.tile(83.5 - 0.0001 * heights, (2, 1))
    assert_allclose(taper(Q(table, "mm")).m_as("mm"), 0.012, rtol=1e-9)
    assert_allclose(out_of_round(Q(table.T, "mm")).m_as("mm"), 0, atol=1e-14)


def test_turning_or_flipping_the_bore_changes_nothing():
    bore = Q(TABLE, "inch")
    assert_allclose(taper(bore[:, ::-1]).m, taper(bore).m, rtol=1e-14)
    directions, read = deg(0, 45, 90), Q([83.51, 83.53, 83.5], "mm")
    turned = fitted_ovality(read, directions + Q(77, "deg"))
    mirrored = fitted_ovality(read, -directions)
    assert_allclose([turned.m, mirrored.m], fitted_ovality(read, directions).m, rtol=1e-9)


# --- behaviour --------------------------------------------------------------------------------


def test_a_table_gives_what_its_rows_give_and_a_lazy_one_stays_lazy():
    table = np.array([[83.51, 83.53, 83.50], [83.50, 83.50, 83.52]])
    directions = deg(0, 45, 90)
    for formula, more in ((taper, ()), (out_of_round, ()), (fitted_ovality, (directions,))):
        rows = [formula(Q(row, "mm"), *more).m for row in table]
        assert_allclose(formula(Q(table, "mm"), *more).m, rows, rtol=1e-12)
        angles = [each.m_as("rad") for each in more]
        lazy = formula.kernel(da.from_array(table / 1000, chunks=1), *angles)
        assert isinstance(lazy, da.Array)
        assert_allclose(lazy.compute(scheduler="sync"), rows, rtol=1e-9)


def test_inch_and_degrees_give_what_millimetre_and_radian_give():
    read, directions = Q([83.51, 83.53, 83.5], "mm"), deg(0, 45, 90)
    one = fitted_ovality(read.to("inch"), directions).m
    assert_allclose(one, fitted_ovality(read, directions.to("rad")).m, rtol=1e-9)


@pytest.mark.parametrize("formula", [taper, out_of_round])
def test_one_diameter_has_no_form(formula):
    for lone in (83.5, [83.5]):
        with pytest.raises(ValueError, match="diameters must hold 2 or more along the last axis"):
            formula(Q(lone, "mm"))
    with pytest.raises(ValueError, match=r"diameters must be greater than zero, got -0\.0835\.$"):
        formula(Q([83.5, -83.5], "mm"))
    with pytest.raises(UnitError, match=r"diameters needs a unit like m, got \[83\.5 83\.6\] deg"):
        formula(Q([83.5, 83.6], "deg"))


@pytest.mark.parametrize("angles", [(0, 90, 180), (10, 10, 10), (0, 90, 90.2), (0, 45, 225)])
def test_an_oval_needs_three_directions_that_differ(angles):
    read = Q([83.51, 83.53, 83.5], "mm")
    with pytest.raises(ValueError, match=r"^fitted_ovality: directions must be three or more "):
        fitted_ovality(read, deg(*angles))
    assert np.isnan(fitted_ovality.kernel(read.m_as("m"), np.radians(angles)))


def test_each_diameter_has_its_direction():
    read = Q([83.51, 83.53, 83.5], "mm")
    with pytest.raises(ValueError, match="diameters and directions must be as many, got 3 and 4"):
        fitted_ovality(read, deg(0, 45, 90, 135))
    with pytest.raises(
        ValueError, match="directions must hold 3 or more along the last axis, got 2"
    ):
        fitted_ovality(read, deg(0, 45))
    with pytest.raises(ValueError, match="directions must be finite, got nan"):
        fitted_ovality(read, deg(0, 45, np.nan))


def test_points_in_a_line_have_no_plane_and_no_warning():
    line = np.array([1.0, 2.0, 4.0])
    assert np.isnan(plane_slopes(line, 3 * line, line)).all()
    assert np.isnan(plane_slopes(0 * line, 0 * line, line)).all()
