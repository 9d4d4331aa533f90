"""The cut along a crank pin: chamfers at the cheeks where the engine has them."""

import pytest

from enginecalc.records.layout import layout_table
from enginecalc.records.orientation import orientation
from enginecalc.views.figures import new_figure
from enginecalc.views.pin_cut import PinCut
from tests.test_orientation import I4, V8


def placed(engine, number):
    made = PinCut(new_figure(4, 2).subplots())
    return made, made.place(engine.layout, orientation(engine, number))


# --- against geometry: corners of the rods ------------------------------------------------------


def cuts(made):
    """Return at which end each rod's lower corner is cut off, front at the left."""
    found = {}
    for which, rod in made.rods.items():
        x, y = rod.get_xy().T
        foot = x[y == y.min()]
        ends = {"front": foot.min() > x.min() + 0.1, "rear": foot.max() < x.max() - 0.1}
        (found[which],) = (end for end, cut in ends.items() if cut)
    return found


@pytest.mark.parametrize("cylinder", range(1, 9))
def test_chamfers_face_the_cheeks(cylinder):
    made, said = placed(V8, cylinder)
    own, other = ("front", "rear") if cylinder % 2 else ("rear", "front")
    assert cuts(made) == {"own": own, "neighbor": other}
    middle = {which: rod.get_xy()[:, 0].mean() for which, rod in made.rods.items()}
    assert (middle["own"] < middle["neighbor"]) == (own == "front")
    assert f"chamfer to the {own} cheek" in said


def test_a_rod_that_the_file_turns_round_is_drawn_so():
    cylinders = layout_table("V8 90°, cross-plane")["cylinder"]
    cylinders[1]["chamfer"] = "front"
    wrong = V8.altered({"layout.cylinder": cylinders})
    for number in (1, 2):
        assert cuts(placed(wrong, number)[0]) == {"own": "front", "neighbor": "front"}


def test_a_rod_alone_on_its_pin_shows_no_chamfer():
    made, said = placed(I4, 2)
    assert len({*map(tuple, made.rods["own"].get_xy().round(6))}) == 4  # a plain rectangle
    assert not made.rods["neighbor"].get_visible()
    assert "its chamfer unknown" in said
    assert "look at its mark" in made.names["own"].get_text()
