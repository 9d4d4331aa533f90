"""A torque wrench with an adaptor: what to set it to, by whole lengths, and what is refused."""

from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from enginecalc.records import load_engine
from enginecalc.records.wrench import wrench_setting
from enginecalc.units import Q

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
FOUR = load_engine(ENGINES / "ferry-four.toml")


# --- against geometry and identities ----------------------------------------------------------


@pytest.mark.parametrize(
    ("angle", "setting", "why"),
    [  # a 10 in wrench and a 4 in adaptor: 10/14, 10/10, 10/6 of 42 lbf·ft
        (0, 30, "makes the wrench longer"),
        (90, 42, "makes the wrench no longer"),
        (180, 70, "folded back it makes the wrench shorter"),
    ],
)
def test_what_to_set_a_wrench_with_an_adaptor_to(angle, setting, why):
    asked = {"reach": Q(10, "inch"), "adaptor": Q(4, "inch"), "angle": Q(angle, "deg")}
    found = wrench_setting(V8, Q(42, "lbf*ft"), **asked)
    assert_allclose(found.setting.m_as("lbf*ft"), setting, rtol=1e-12)
    assert found.sentence.startswith(f"set {setting} lbf·ft ")
    assert why in found.sentence
    assert_allclose(
        wrench_setting(V8, **asked).setting.m_as("lbf*ft"), 45 / 42 * setting, rtol=1e-12
    )


# --- behaviour --------------------------------------------------------------------------------


def test_a_wrench_needs_a_torque_and_a_shorter_adaptor():
    asked = {"reach": Q(10, "inch"), "adaptor": Q(4, "inch"), "angle": Q(0, "deg")}
    with pytest.raises(ValueError, match=r"^wrench setting needs rod_bolt\.torque: from the bolt"):
        wrench_setting(FOUR, **asked)
    with pytest.raises(ValueError, match=r"adaptor_length must be less than wrench_length"):
        wrench_setting(V8, **{**asked, "adaptor": Q(12, "inch")})
