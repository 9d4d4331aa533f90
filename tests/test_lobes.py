"""The lobe of one closed law, and the events it gives."""

import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.camshaft import intake_closing, seat_lobe_lift
from enginecalc.lobes import SmoothLobe
from enginecalc.units import Q
from tests.figures import worked

INCH, DEGREE = 0.0254, np.pi / 180
INTAKE = SmoothLobe(0.340 * INCH, 142 * DEGREE)
EXHAUST = SmoothLobe(0.345 * INCH, 146 * DEGREE)
CHECKING = 0.050 * INCH

# --- against the worked numbers of the invented engines ---------------------------------------

# Events at 0.050 in of lobe lift: intake centerline 105 after, exhaust 113 before the top.
EVENTS = {
    "dur_i": lambda i, e: 2 * i,
    "dur_e": lambda i, e: 2 * e,
    "ivo_btdc": lambda i, e: i - 105,
    "ivc_abdc": lambda i, e: intake_closing(Q(105, "deg"), Q(i, "deg")).m_as("deg"),
    "evo_bbdc": lambda i, e: 113 + e - 180,
    "evc_atdc": lambda i, e: e - 113,
    "overlap": lambda i, e: (i - 105) + (e - 113),
}


@pytest.mark.parametrize("event", EVENTS)
def test_events_at_fifty_thousandths(event):
    intake, exhaust = (lobe.closing(CHECKING) / DEGREE for lobe in (INTAKE, EXHAUST))
    assert EVENTS[event](intake, exhaust) == worked(f"v8.cam050.{event}")


def test_seat_lift_is_what_takes_up_the_lash():
    found = seat_lobe_lift(Q(0.016, "inch"), 1.55).m_as("inch")
    assert found == worked("v8.closing_lobe_lift")


def test_net_lift_at_the_nose():
    assert 1.55 * INTAKE.lift(0.0) / INCH - 0.016 == worked("v8.lift_i_net")
    assert 1.55 * EXHAUST.lift(0.0) / INCH - 0.018 == worked("v8.lift_e_net")


# --- against geometry and identities ----------------------------------------------------------


@pytest.mark.parametrize(("share", "rest"), [(1 / 2, 9 / 16), (1 / 3, 64 / 81), (2 / 3, 25 / 81)])
def test_lift_by_hand(share, rest):
    # (1 - (1/2)^2)^2 = 9/16 of the lobe's lift half way, and so on
    assert_allclose(INTAKE.lift(share * 142 * DEGREE), rest * 0.340 * INCH, rtol=1e-13)


def test_slope_is_the_rate_of_the_lift():
    angle, step = np.linspace(-141, 141, 95) * DEGREE, 1e-5
    rate = (INTAKE.lift(angle + step) - INTAKE.lift(angle - step)) / (2 * step)
    assert_allclose(INTAKE.slope(angle), rate, rtol=0, atol=1e-11)


def test_the_lobe_is_even_and_its_slope_odd():
    angle = np.linspace(3, 141, 47) * DEGREE
    assert_allclose(INTAKE.lift(-angle), INTAKE.lift(angle), rtol=1e-15)
    assert_allclose(INTAKE.slope(-angle), -INTAKE.slope(angle), rtol=1e-15)
    assert np.all(INTAKE.slope(angle) < 0)


def test_nothing_is_lifted_on_the_base_circle():
    angle = np.array([-360, -142, 142, 150, 218]) * DEGREE
    assert_allclose(INTAKE.lift(angle), 0, atol=1e-15)
    assert_allclose(INTAKE.slope(angle), 0, atol=1e-15)


def test_closing_angle_is_the_inverse_of_the_lift():
    lift = np.linspace(0.003, 0.339, 60) * INCH
    assert_allclose(INTAKE.lift(INTAKE.closing(lift)), lift, rtol=1e-12)
    angle = np.linspace(5, 141, 60) * DEGREE
    assert_allclose(INTAKE.closing(INTAKE.lift(angle)), angle, rtol=1e-12)


@pytest.mark.parametrize("lift", [0.006, 0.050, 0.200])
def test_a_lobe_through_one_of_its_own_figures_is_the_same_lobe(lift):
    duration = 2 * INTAKE.closing(lift * INCH)
    found = SmoothLobe.through(0.340 * INCH, duration, lift * INCH)
    assert_allclose(found.half_duration, INTAKE.half_duration, rtol=1e-13)


def test_advance_closes_the_intake_earlier():
    known = Q(105, "deg"), Q(122.23, "deg")
    late, early = (intake_closing(*known, Q(a, "deg")).m_as("deg") for a in (-3, 4))
    assert_allclose([late, early], [50.23, 43.23], rtol=1e-12)


# --- behaviour --------------------------------------------------------------------------------


def test_above_the_nose_there_is_no_closing_angle():
    angles = INTAKE.closing(np.array([0.100, 0.341]) * INCH)
    assert np.isnan(angles).tolist() == [False, True]


def test_lazy_angles_stay_lazy():
    angle = np.linspace(-100, 100, 7) * DEGREE
    for curve in (INTAKE.lift, INTAKE.slope):
        lazy = curve(da.from_array(angle, chunks=3))
        assert isinstance(lazy, da.Array)
        assert_allclose(lazy.compute(scheduler="sync"), curve(angle), rtol=1e-15)
