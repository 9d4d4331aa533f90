"""What one trace of the finished engine can tell: how many directions, how an error grows."""

import numpy as np
import pytest

from enginecalc.engine_drag import drag_condition, drag_directions
from enginecalc.turning_torque import drag_shape
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

GIVEN = WORKED["inputs"]["torque"]
STROKE = Q(GIVEN["torque_trace_cylinder_stroke_in"], "inch")
ROD = Q(GIVEN["torque_trace_rod_in"], "inch")


def deg(*angles):
    return Q(np.array(angles, float), "deg")


# --- against a source -------------------------------------------------------------------------

# crank pins in order from cylinder 1 and banks, common practice, no source
TOPS = {
    "trq.rank": deg(0, 270, 270, 180, 90, 0, 180, 90),  # the V8's phase.tdc
    "trq.rank_i4": deg(0, 180, 180, 0),
    "trq.rank_i6": deg(0, 240, 120, 120, 240, 0),
}


@pytest.mark.parametrize("key", TOPS)
def test_worked_number_of_directions(key):
    assert drag_directions(TOPS[key], STROKE, ROD).m == WORKED[key]


def test_the_worked_condition_of_the_v8():
    tops = Q(np.array(list(WORKED["phase.tdc"].values())), "deg")
    assert drag_condition(tops, STROKE, ROD).m == worked("trq.condition_with_constant")


# --- against geometry and identities ----------------------------------------------------------


def test_companions_add_no_direction_and_each_top_adds_one():
    alone = [drag_directions(deg(*tops), STROKE, ROD).m for tops in ([0], [0, 0], [0, 360, 720])]
    assert alone == [1, 1, 1]
    assert drag_directions(deg(0, 120, 240), STROKE, ROD).m == 3
    # with a rod so long that the piston swings evenly, tops half a turn apart look alike
    assert drag_directions(deg(0, 180), STROKE, 1e15 * ROD).m == 1


def test_the_condition_is_that_of_the_normal_equations():
    # second method: the root of the greatest over the least eigenvalue of A' A, at another step
    at = np.radians(np.arange(0, 360, 0.5))
    after = Q(at[:, None] - np.radians([0, 90, 180, 270]), "rad")
    columns = np.c_[np.ones(len(at)), 2 * drag_shape(after, STROKE, ROD).m]
    values = np.linalg.eigvalsh(columns.T @ columns)
    found = drag_condition(TOPS["trq.rank"], STROKE, ROD).m
    assert found == pytest.approx(np.sqrt(values[-1] / values[0]), rel=2e-3)


# --- behaviour --------------------------------------------------------------------------------

REFUSED = [
    (drag_directions, deg(), "tdc_angles must hold 1 or more"),
    (drag_condition, deg(0, np.nan), "tdc_angles must be finite"),
]


@pytest.mark.parametrize(("formula", "tops", "message"), REFUSED)
def test_what_cannot_be_is_refused(formula, tops, message):
    with pytest.raises(ValueError, match=message):
        formula(tops, STROKE, ROD)


def test_a_top_says_what_turns():
    with pytest.raises(UnitError, match="tdc_angles needs a unit like rad"):
        drag_directions(np.array([0.0, 90]), STROKE, ROD)
