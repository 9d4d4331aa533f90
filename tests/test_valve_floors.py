"""Floors a valve can meet, its room in a pocket and over its spring, and a manifold after a cut."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import valves
from enginecalc.crank import piston_position
from enginecalc.lobes import SmoothLobe
from enginecalc.units import Q
from enginecalc.valves import net_valve_lift
from tests.figures import WORKED, printed, worked

INCH, DEGREE = 0.0254, np.pi / 180
IN, MM = "inch", "mm"


def deg(value):
    return Q(value, "deg")


# --- against the worked numbers of the invented V8 --------------------------------------------


def test_floors_of_other_shapes():
    tilt = 2 * DEGREE  # pocket cut 2 deg off the valve's angle, 0.110 at the center
    rim = valves.rim_gap(
        Q(np.array([0, 0.110, 0]), IN),
        np.array([0.0, 2.0, 0.0]),
        Q(2.080, IN),
        Q(np.zeros(3), IN),
        np.array([np.sin(tilt), np.cos(tilt), 0.0]),
    )
    assert rim.m_as(IN) == worked("v8.pocket_2deg_rim_gap")
    lobe = SmoothLobe(0.340 * INCH, 142 * DEGREE)
    lift = net_valve_lift(lobe, deg(10), deg(105), 1.55, Q(0.016, IN))
    down = piston_position(deg(10), Q(3.640, IN), Q(5.960, IN))
    crown = valves.flat_crown_gap(lift, down, Q(0.620, IN), Q(2.080, IN), deg(17))
    assert crown.m_as(IN) == worked("v8.flat_crown_gap_at10")
    for flat, key in ((False, "pocket"), (True, "crown")):
        drop = valves.drop_along_valve(Q(0.300, IN), deg(17), flat)
        assert drop.m_as(IN) == worked(f"v8.drop_from_vertical_0.300_{key}")
    axis = np.array([np.sin(17 * DEGREE), np.cos(17 * DEGREE), 0.0])
    shift = valves.side_shift(down, Q(np.zeros(2), IN), axis)
    assert shift.m_as(IN) == worked("v8.radial_side_shift_at10")
    gap = valves.radial_gap(shift, Q(2.080, IN), Q(2.220, IN))
    assert gap.m_as(IN) == worked("v8.radial_gap_at10")


def test_springs():
    gross = valves.gross_valve_lift(Q(0.340, IN), 1.55)
    assert gross.m_as(IN) == worked("spring.gross_lift_i")
    bind = valves.coil_bind_margin(Q(1.850, IN), Q(1.250, IN), gross)
    assert bind.m_as(IN) == worked("spring.bind_margin")
    assert_allclose(valves.retainer_margin(Q(0.6, IN), gross).m_as(IN), 0.073, rtol=1e-12)


def test_manifold_after_a_cut():
    cut, half = Q(0.020, IN), deg(45)
    drop, side = (f(cut, half, deg(55)) for f in (valves.manifold_drop, valves.manifold_side_cut))
    assert drop.m_as(IN) == worked("mill.drop")
    assert side.m_as(IN) == worked("mill.side_cut")
    ratios = [(each / cut).m_as("") for each in (side, drop)]
    assert ratios == [printed(f"{ratio:.3f}") for ratio in WORKED["mill.ratio"]]
    for face, ratio in WORKED["mill.c_over_d_at_tau"].items():
        found = valves.manifold_side_cut(cut, half, deg(float(face))) / cut
        assert found.m_as("") == printed(f"{ratio:.3f}")
    square = valves.manifold_drop(cut, half, half) / cut
    assert square.m_as("") == worked("mill.v_square_to_deck")


# --- against geometry and identities ----------------------------------------------------------


def test_the_rim_in_vectors_is_its_lowest_point_found_by_walking_round():
    draw = np.random.default_rng(2)
    axis, normal, center, floor = draw.normal(size=(4, 25, 3))
    across = np.cross(axis, [0.3, 0.2, 1.0])
    across /= np.linalg.norm(across, axis=-1, keepdims=True)
    other = np.cross(axis, across) / np.linalg.norm(axis, axis=-1, keepdims=True)
    turn = np.linspace(0, 2 * np.pi, 20001)[:, None, None]
    rim = center + 0.7 * (np.cos(turn) * across + np.sin(turn) * other)
    high = np.sum((rim - floor) * normal, axis=-1) / np.linalg.norm(normal, axis=-1)
    found = valves.rim_gap(Q(center, MM), axis, Q(1.4, MM), Q(floor, MM), normal)
    assert_allclose(found.m_as(MM), np.min(high, axis=0), atol=1e-7)


def test_a_flat_crown_is_a_floor_plane():
    lean, lift, down, height = 0.3, 4.0, 1.5, 9.0
    axis = np.array([np.sin(lean), np.cos(lean), 0])
    center, up = np.array([0, height + down, 0]) - lift * axis, np.array([0.0, 1.0, 0.0])
    rim = valves.rim_gap(Q(center, MM), axis, Q(30, MM), Q(np.zeros(3), MM), up)
    lengths = (Q(each, MM) for each in (lift, down, height, 30))
    found = valves.flat_crown_gap(*lengths, Q(lean, "rad"))
    assert_allclose(found.m_as(MM), rim.m_as(MM), rtol=1e-13)


def test_a_canted_valves_shift_is_the_distance_of_two_axes():
    axis, down = np.array([0.30, 0.93, -0.21]), np.array([0.0, 2.0, 7.0])
    fall = np.multiply.outer(down, [0.0, -1.0, 0.0])  # the pocket goes down with the piston
    apart = np.linalg.norm(np.cross(fall, axis), axis=-1) / np.linalg.norm(axis)
    found = valves.side_shift(Q(down, MM), Q(np.zeros(2), MM), axis)
    assert_allclose(found.m_as(MM), apart, rtol=1e-13)
    plane = np.array([0.6, 0.8, 0.0])  # offset and lean in one plane simply add
    lone = valves.side_shift(Q(5.0, MM), Q(np.array([-0.4, 0.0]), MM), plane)
    assert_allclose(lone.m_as(MM), 0.6 * 5 - 0.4, rtol=1e-13)


# --- behaviour --------------------------------------------------------------------------------


@pytest.mark.parametrize("cut", [valves.manifold_drop, valves.manifold_side_cut])
def test_a_face_that_lies_flat_is_refused(cut):
    with pytest.raises(ValueError, match=r"face_angle must be less than 80 deg .* got 80 deg"):
        cut(Q(0.5, MM), deg(45), deg(-80))
