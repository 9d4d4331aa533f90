"""Exercises: right in any unit, a hint at a slip, what does not read, and never the answer."""

import html
import re

import nbformat
import pytest

from enginecalc.units import Q
from enginecalc.views.exercise_list import EXERCISES
from enginecalc.views.exercises import ask, check
from tests.test_house_rules import ROOT

# what was worked out by hand or elsewhere, in a unit that the question does not use
BY_HAND = {
    "rod ratio": ("1.637", "1,637", Q(1.637, "")),
    "mean piston speed": ("3761 ft/min", "62.7 ft/s", "68.8 km/h", Q(19.1, "m/s")),
    "travel at a right angle": ("53.46 mm", "5.346 cm", "2.105 in", "2105 thou"),
    "travel at ten degrees": ("0.915 mm", "0,915 mm", "36.0 thou", Q(0.0915, "cm")),
    "greatest tilt": ("17.8 deg", "17,8°", "0.3103 rad", Q(0.3103, "rad")),
    "angle of peak speed": ("74.31 deg", "1.297 rad", "74.3°"),
    "peak acceleration": ("25438 m/s²", "25440 m/s^2", Q(25.44, "km/s**2")),
    "second order": ("0.313", "0,3128", 0.3128),
    "a shorter rod": ("1.99 %", "2", 1.99),
    "shaking of the four": ("15.7 kN", "15700 N", "3530 lbf"),
    "bob weight": ("1720 g", "1.72 kg", "60.67 oz"),
    "even firing": ("90 deg", Q(0.25, "turn")),
}  # fmt: skip
SLIPS = [
    pytest.param(name, hint, id=f"{name}-{at}")
    for name, each in EXERCISES.items()
    for at, hint in enumerate(each.slips)
]


def figures_in(text):
    return [float(each) for each in re.findall(r"\d+(?:\.\d+)?", text.replace(",", ""))]


# --- against a source: answers from the worked numbers, in other units ---------------------------


def test_every_exercise_has_answers_worked_elsewhere():
    assert BY_HAND.keys() == EXERCISES.keys()


@pytest.mark.parametrize(
    ("name", "answer"), [(name, each) for name, some in BY_HAND.items() for each in some]
)
def test_a_right_answer_is_right_in_any_unit(name, answer):
    assert check(name, answer) == "Right."


# --- behaviour ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "hint"), SLIPS)
def test_a_slip_gets_its_hint(name, hint):
    wrong = EXERCISES[name].slips[hint]()
    assert check(name, wrong).rstrip(".?") == f"Not yet: {hint}".rstrip(".?")


@pytest.mark.parametrize("name", EXERCISES)
def test_the_answer_is_never_given_away(name):
    right = EXERCISES[name].answer()
    tried = [
        None,
        "",
        "nonsense",
        "0 parsec",
        1.1 * right,
        0.9 * right,
        7 * right,
        "nan",
        True,
        [1],
    ]
    tried += [wrong() for wrong in EXERCISES[name].slips.values()]
    said = " ".join(check(name, each) for each in tried)
    assert "Right" not in said
    # no figure is near the answer in any unit it may be given in, but for those of the question
    units = ("", "m/s", "ft/min", "inch", "mm", "deg", "rad", "m/s**2", "kN", "N", "g", "kg")
    sizes = [right.m_as(unit) for unit in units if right.is_compatible_with(unit)]
    asked = figures_in(ask(name))
    for figure in figures_in(said):
        if figure not in asked and not (name == "even firing" and figure == 90):
            assert not [size for size in sizes if abs(figure - size) < 0.02 * abs(size)], figure
    for digits in {f"{size:.3g}" for size in sizes if size != round(size)}:
        assert digits not in said


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ("", r"^Type your answer between the quotes"),
        (None, r"reaches|How far|stand"),
        ("nonsense", r'^That does not read: "nonsense" is not a number with a unit'),
        ("53,459 mm", r"can be read as 53.459 mm or as 53459 mm"),
        ("54 deg", r"54 deg is not of the right kind: something in a unit like m is asked for"),
        ("2.1", r"not of the right kind"),
        ("inf mm", r"^That does not read"),
        ("-53.46 mm", r"^Not yet: too small"),
        ("80 mm", r"^Not yet: too large"),
        (True, r"True is not a figure"),
        ([53.4], r"is not a figure; write it in quotes"),
        (Q([1.0, 2.0], "mm"), r"one finite figure"),
    ],
)
def test_what_cannot_be_judged_is_said(answer, said):
    assert re.search(said, check("travel at a right angle", answer))


def test_a_name_that_is_not_there_is_refused_with_those_that_are():
    with pytest.raises(ValueError, match="there is no exercise 'rod'; there are rod ratio, mean"):
        check("rod", "2")


def test_a_sentence_is_shown_as_text():
    shown = check("rod ratio", "<b>2</b> mm")._repr_html_()
    assert "<b>" not in shown
    assert "&lt;b&gt;" in shown


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.stem)
def test_a_notebook_asks_what_its_cells_check(path):
    cells = nbformat.read(path, as_version=4).cells
    for at, cell in enumerate(cells):
        for name in re.findall(r'^check\("(.*?)", ""\)$', cell.source, re.M):
            assert cell.metadata.tags == ["exercise"]
            assert ask(name) in html.unescape(cells[at - 1].source)
            how = cells[at + 1].source
            assert how.startswith("<details><summary>")
            size = EXERCISES[name].answer().m
            assert f"{size:.3g}" not in how
            assert f"{size:.4g}" not in how
