"""A value held against its limits: the four words, at the edges and beside them."""

import math

import pytest

from enginecalc.limits import status

# --- against geometry and identities ----------------------------------------------------------

# the quench band of common practice, 0.035 to 0.045 in: a tenth of it is 0.001
BAND = {"low": 0.035, "high": 0.045}


@pytest.mark.parametrize(
    ("value", "word"),
    [
        (0.040, "within"),
        (0.0361, "within"),
        (0.0439, "within"),
        (0.0359, "close"),
        (0.0441, "close"),
        (0.035, "close"),
        (0.045, "close"),
        (0.0349, "outside"),
        (0.0451, "outside"),
        (-0.040, "outside"),
    ],
)
def test_a_band(value, word):
    assert status(value, **BAND) == word


@pytest.mark.parametrize(
    ("value", "limits"),
    [
        (0.1 + 0.2, {"high": 0.3}),  # 0.30000000000000004
        (9.17 - 7.78 - 1.375, {"low": 0.015}),
        (0.043 + 0.002, BAND),
        (0.045 - 0.010, BAND),
    ],
)
def test_limits_hold_at_the_noise_of_floats(value, limits):
    assert status(value, **limits) == "close"


@pytest.mark.parametrize("value", [0.036, 0.044, 0.035 + 0.001, 0.045 - 0.001])
def test_a_tenth_of_the_band_away_is_no_longer_close(value):
    assert status(value, **BAND) == "within"


@pytest.mark.parametrize(
    ("value", "word"), [(0.0599, "outside"), (0.060, "close"), (0.0659, "close"), (0.067, "within")]
)
def test_one_low_limit_is_close_within_a_tenth_of_itself(value, word):
    assert status(value, low=0.060) == word


@pytest.mark.parametrize(
    ("value", "word"), [(25.1, "outside"), (25.0, "close"), (22.6, "close"), (22.4, "within")]
)
def test_one_high_limit_is_close_within_a_tenth_of_itself(value, word):
    assert status(value, high=25.0) == word


@pytest.mark.parametrize(
    ("value", "word"), [(-0.183, "within"), (-0.499, "close"), (-0.51, "outside")]
)
def test_limits_may_be_negative(value, word):
    assert status(value, low=-0.5, high=-0.1) == word


# --- behaviour --------------------------------------------------------------------------------


def test_nearer_than_its_uncertainty_is_close():
    assert status(0.038, **BAND, u=0.0029) == "within"
    assert status(0.038, **BAND, u=0.0031) == "close"
    assert status(0.0355, **BAND, u=0.0001) == "close"  # the tenth of the band still counts
    assert status(0.034, **BAND, u=0.0031) == "outside"


def test_nothing_measured_and_nothing_to_keep():
    assert status(None, **BAND) == "not measured"
    assert status(None) == "not measured"
    assert status(0.040) == "within"
    assert status(0.040, u=0.002) == "within"


def test_a_value_that_is_no_number_is_never_within():
    assert status(math.nan, **BAND) != "within"


def test_a_limit_of_zero_holds_at_the_noise_of_floats_too():
    assert status(9.17 - 7.78 - 1.39, low=0.0) != "outside"  # -2.2e-16 in
