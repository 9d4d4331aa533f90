"""A typed field with a slider: the text is the state, and nothing but a person changes it."""

import itertools
import math

import pytest

from enginecalc.units import Q, read, read_typed
from enginecalc.views.controls import Field
from tests.chapters import slide

LOW, HIGH = Q(2.5, "inch"), Q(4.75, "inch")
TYPED = (
    "3.640 ± 0.0017 in",
    "3.640 in",
    "3.64in",
    "3 7/8 in",
    "3640 thou",
    "86,5 mm",
    "8.65 cm",
    "92.46 ± 0.02 mm",
    "4.110 +0.001/-0.0005 in",
    "104.4 +0.02/-0 mm",
    "-0.6 mm",
    "0 in",
    "12 in",
)
REFUSED = ("", "banana", "86.5", "1,500 in", "83.5 deg", "± 2 in", "<b>3 in</b>")


def field(text="", system="inch", kind="length", low=LOW, high=HIGH):
    """Return a field that shows `text`, and the list of what it tells."""
    made, told = Field("stroke", "crank.stroke", kind, low, high), []
    made.tell(lambda who: told.append(who.text))
    made.show(text, system)
    return made, told


def place(made):
    """Return how far along its length the slider stands, from 0 to 1."""
    slider = made.slider
    return (slider.value - slider.min) / (slider.max - slider.min)


def inches(made):
    """Return the size a field's text says, in inches."""
    return read(made.text, "length").m_as("inch")


# --- typing ------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", TYPED)
@pytest.mark.parametrize("system", ["inch", "metric"])
def test_what_was_typed_is_the_state(text, system):
    made, told = field("3.5 in", system)
    made.type(f"  {text} ")
    assert made.text == text
    assert told == [text]


@pytest.mark.parametrize("text", [*TYPED, *REFUSED])
def test_showing_tells_nobody(text):
    made, told = field(text)
    made.show(text, "metric")
    assert (made.text, told) == (text, [])


def test_one_change_is_told_once_to_everybody_and_no_change_to_nobody():
    made, told = field("3.640 in")
    others = []
    made.tell(others.append)
    made.type("3.640 in")
    assert (told, others) == ([], [])
    made.type("3.840 in")
    assert (told, others) == (["3.840 in"], [made])
    assert made.box.value == "3.840 in"


@pytest.mark.parametrize("text", REFUSED[1:])
@pytest.mark.parametrize("system", ["inch", "metric"])
def test_refused_text_stays_in_the_box(text, system):
    made, told = field("3.640 in", system)
    made.type(text)
    assert (made.text, made.box.value, told) == (text, text, [text])
    made.show(text, "metric")
    made.show(text, "inch")
    assert made.box.value == text


def test_a_blank_is_kept_and_the_slider_rests_at_its_low_end():
    made, told = field("3.640 in")
    made.type("   ")
    assert (made.text, made.box.value, told) == ("", "", [""])
    assert place(made) == 0


def test_a_mark_comes_and_goes():
    made, _ = field("3.640 in")
    made.mark(True)
    made.mark(True)
    assert "enginecalc-wrong" in made.box._dom_classes
    made.mark(False)
    assert "enginecalc-wrong" not in made.box._dom_classes


# --- the slider --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "system", "millimetres"),
    [
        ("86,5 mm", "inch", 86.5),
        ("86,5 mm", "metric", 86.5),
        ("3 7/8 in", "metric", 98.425),
        ("3640 thou", "inch", 92.456),
    ],
)
def test_the_slider_follows_the_text(text, system, millimetres):
    made, _ = field(text, system)
    low, high = LOW.m_as("mm"), HIGH.m_as("mm")
    assert place(made) == pytest.approx((millimetres - low) / (high - low), abs=0.001)


@pytest.mark.parametrize(
    ("text", "system", "slid"),
    [
        ("3.640 in", "inch", "3.625 in"),
        ("3.640 ± 0.0017 in", "inch", "3.625 ± 0.0017 in"),
        ("3.640 in ± 2 thou", "inch", "3.625 ± 0.002 in"),
        ("3.640 +0.001/-0.0005 in", "inch", "3.625 +0.001/-0.0005 in"),
        ("92.46 mm", "metric", "92.08 mm"),
        ("92.46 ± 0.02 mm", "metric", "92.08 ± 0.02 mm"),
        ("92.46 ± 0.0254 mm", "inch", "3.625 ± 0.001 in"),
        ("3.640 +0.001/-0 in", "metric", "92.08 +0.0254/-0 mm"),
        ("banana", "inch", "3.625 in"),
        ("", "metric", "92.08 mm"),
    ],
)
def test_sliding_writes_the_text_and_keeps_the_limits_beside_it(text, system, slid):
    made, told = field(text, system)
    slide(made, 0.5)  # 3.625 in is half way between the ends
    if text == "3.640 in":
        assert made.box.value == made.text
    assert inches(made) == pytest.approx(3.625, abs=0.0006)
    assert made.text.partition(" ")[2] == slid.partition(" ")[2]
    assert len(made.text.partition(" ")[0]) == len(slid.partition(" ")[0])
    assert told == [made.text]


@pytest.mark.parametrize(
    ("kind", "low", "high", "slid"),
    [
        ("volume", Q(20, "cc"), Q(120, "cc"), "70.0 cc"),
        ("angle", Q(95, "deg"), Q(115, "deg"), "105.0 deg"),
        ("turning speed", Q(1000, "rpm"), Q(9000, "rpm"), "5000 rpm"),
    ],
)
def test_other_kinds_slide_in_one_unit(kind, low, high, slid):
    for system in ("inch", "metric"):
        made, _ = field("", system, kind, low, high)
        slide(made, 0.5)
        assert made.text == slid


def test_a_size_beyond_the_slider_widens_it_and_is_not_clamped():
    made, told = field("3.640 in")
    made.type("6.000 in")
    assert (made.text, made.box.value, told) == ("6.000 in", "6.000 in", ["6.000 in"])
    assert place(made) == 1
    slide(made, 0.5)
    slide(made, 1)
    assert inches(made) == pytest.approx(6.0)
    made.type("1.000 in")
    assert (made.text, place(made)) == ("1.000 in", 0)
    made.show("1.000 in", "metric")
    assert (made.text, place(made)) == ("1.000 in", 0)
    made.type("3.625 in")
    assert place(made) == pytest.approx(2.625 / 5, abs=0.001)  # it stays as wide as it was made


def test_sliding_through_zero_never_writes_a_minus_zero():
    made, _ = field("5.5 cc", "inch", "volume", Q(-30, "cc"), Q(40, "cc"))
    slide(made, 30 / 70)
    assert read(made.text, "volume").m_as("cc") == pytest.approx(0, abs=0.05)
    assert not made.text.startswith("-0.0 ")


# --- unit systems ------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [*TYPED, *REFUSED])
def test_switching_units_to_and_fro_changes_nothing(text):
    made, told = field(text)
    before = made.box.value, place(made)
    for system in ("metric", "inch", "metric", "inch"):
        made.show(made.text, system)
        assert made.text == text
    assert (made.box.value, place(made)) == before
    assert told == []


@pytest.mark.parametrize(
    ("text", "system", "unit", "shown_to"),
    [(text, "inch", "in", 0.0001) for text in TYPED if "m" in text.replace("thou", "")]
    + [(text, "metric", "mm", 0.001) for text in TYPED if "m" not in text],
)
def test_the_other_system_shows_the_same_length(text, system, unit, shown_to):
    made, _ = field(text, system)
    asked, shown = read_typed(text, "length"), read_typed(made.box.value, "length")
    assert made.box.value.endswith(f" {unit}")
    assert shown.value.m_as("mm") == pytest.approx(
        asked.value.m_as("mm"), abs=0.51 * read(f"{shown_to} {unit}").m_as("mm")
    )
    for one, other in ((asked.plus, shown.plus), (asked.minus, shown.minus)):
        assert (one is None) == (other is None)
        if one is not None:
            assert other.m_as("mm") == pytest.approx(one.m_as("mm"), rel=1e-3)


@pytest.mark.parametrize("text", ["105 deg", "70.0 ± 0.5 cc", "6200 rpm", "-3 cc"])
def test_what_has_one_unit_in_both_systems_stays_as_it_is(text):
    kind = {"deg": "angle", "cc": "volume", "rpm": "turning speed"}[text.split()[-1]]
    unit = text.split()[-1]
    made, _ = field(text, "metric", kind, Q(1, unit), Q(9000, unit))
    assert made.box.value == text


# What a browser does: told a new position, it answers with that position on its own grid of steps;
# told new ends, it first answers with the old position forced between them.


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_a_slider_that_answers_on_its_own_grid_changes_nothing(system):
    for text in TYPED:
        made, told = field(text, system)
        slider = made.slider
        steps = round((slider.value - slider.min) / slider.step)
        answer = round(slider.min + steps * slider.step, 9)
        slider.set_state({"value": type(slider.value)(answer)})
        assert (made.text, told) == (text, [])


def test_showing_a_field_moves_no_end_of_its_slider():
    made, _ = field("3.640 in")
    moved = []
    made.slider.observe(lambda change: moved.append(change["name"]), ["min", "max", "step"])
    for text, system in itertools.product(("3.640 in", "86,5 mm", "4.500 in"), ("metric", "inch")):
        made.show(text, system)
    assert moved == []


def test_typing_beyond_the_slider_moves_no_end_of_it_either():
    made, _ = field("5.5 cc", "inch", "volume", Q(-30, "cc"), Q(40, "cc"))
    moved = []
    made.slider.observe(lambda change: moved.append(change["name"]), ["min", "max", "step"])
    for text in ("-45 cc", "5.5 cc", "150 cc"):
        made.type(text)
        assert made.text == text
    assert moved == []


@pytest.mark.parametrize("text", ["inf", "nan"])
def test_a_ratio_that_is_no_number_does_not_reach_the_slider(text):
    made, _ = field("1.55", "inch", "ratio", Q(1.0, ""), Q(2.0, ""))
    made.type(text)
    assert (made.text, made.box.value) == (text, text)
    assert all(math.isfinite(each) for each in (made.slider.max, made.slider.value))
