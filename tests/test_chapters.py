"""Chapters driven without a browser: what the page answers, refuses, and does when moved."""

import html
import re
import sys
from collections import Counter

import numpy as np
import pytest

from enginecalc import units
from enginecalc.views.apps import plan
from enginecalc.views.apps.plan import PlanChapter
from enginecalc.views.apps.start import StartChapter
from tests.chapters import FILES, FOUR, own_engines, slide, table
from tests.figures import WORKED, printed


@pytest.fixture(autouse=True)
def engines(tmp_path, monkeypatch):
    return own_engines(tmp_path, monkeypatch)


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    with pytest.MonkeyPatch.context() as monkeypatch:
        own_engines(tmp_path_factory.mktemp("shared"), monkeypatch)
        return PlanChapter()


@pytest.fixture
def shared(opened):
    """Return the plan chapter as it opens; what a test does to it is put back after it."""
    texts = {label: field.text for label, field in opened.fields.items()}
    yield opened
    opened.system.value, opened.turn.value = "inch", 0
    for label, text in texts.items():
        opened.type(label, text)


def is_grey(chapter):
    greys = {"enginecalc-stale" in each._dom_classes for each in
             (*chapter.pictures, chapter.numbers)}  # fmt: skip
    assert len(greys) == 1, "all of them or none"
    return greys.pop()


def drawn(chapter):
    """Return the pictures, without the names that each drawing makes up anew."""
    return [re.sub(r"\b\w*[0-9a-f]{10}\b", "", each.value) for each in chapter.pictures]


def spoken(chapter):
    """Return what each picture says to those who cannot see it."""
    drawings = [each.value for each in chapter.pictures]
    assert all(each.startswith('<svg role="img" aria-label="') for each in drawings)
    return [html.unescape(re.search('aria-label="(.*?)"', each)[1]) for each in drawings]


# --- against a source: the worked numbers of the invented engines ------------------------------

ROWS = {
    "compression ratio": "cr",
    "effective compression ratio": "dcr",
    "swept volume": "swept",
    "clearance volume": "vc",
    "deck clearance": "deck",
    "quench distance": "quench",
    "rod ratio": "rod_ratio",
    "greatest rod tilt": "tilt_max_deg",
    "true stroke": "true_stroke",
    "mean piston speed": "mean_speed_m_s",
    "peak piston speed": "vmax_m_s",
    "peak piston acceleration": "acc_tdc_m_s2",
}


def same(cell, number):
    """Say whether a cell of the table is a worked number, rounded to the digits it shows."""
    text = cell.partition(" ± ")[0].replace(",", "")
    return number == (pytest.approx(float(text), abs=5) if number > 1e4 else printed(text))


def test_the_first_page_answers_a_stroker_planner(shared):
    rows = table(shared)
    assert rows["displacement"][:3] == ["386.3 ± 0.1", "407.6 ± 0.1", "+21.2"]
    for name, key in ROWS.items():
        assert same(rows[name][0], WORKED[f"v8.{key}"]), name
        assert same(rows[name][1], WORKED[f"v8s.{key}"]), name
    assert rows["compression ratio"][:2] == ["10.30 ± 0.06", "10.82 ± 0.06"]
    for said in ("0.015 in below the deck", "quench 0.043 in, within", "0.035 to 0.045 in", "10.8",
                 "9.32", "407.6 in³, +21.2 in³"):  # fmt: skip
        assert said in shared.answer_line
    assert "replaces no clay, wire or feeler check" in shared.numbers.value
    shared.system.value = "metric"
    sizes = [cell.partition(" ± ")[0] for cell in table(shared)["displacement"][:2]]
    assert sizes == ["6,331", "6,679"]
    shared.type("intake centerline", "101 deg")
    assert same(table(shared)["effective compression ratio"][1], WORKED["v8s.dcr_adv4"])


def test_the_ferry_four_in_millimetres():
    chapter = PlanChapter(FOUR, "the same file")
    chapter.system.value = "metric"
    rows = table(chapter)
    assert rows["displacement"][:3] == ["1,953.9", "1,953.9", "0"]
    for name, key in ROWS.items():
        assert same(rows[name][1], WORKED[f"i4.{key}"]), name
    assert rows["running quench"][:4] == ["not measured", "not measured", "", "not measured"]
    assert "Not worked out" in chapter.numbers.value
    assert "0.20 mm below the deck; quench 1.10 mm, within" in chapter.answer_line


# --- behaviour: every control moves the page ---------------------------------------------------

MOVES = {
    "bore": ("4.130 in", "displacement"),
    "deck height": ("9.175 in", "deck clearance"),
    "stroke": ("3.830 in", "true stroke"),
    "rod length": ("5.950 in", "rod ratio"),
    "compression height": ("1.270 in", "quench distance"),
    "dish + / dome −": ("-3 cc", "clearance volume"),
    "pin offset": ("0.060 in", "greatest rod tilt"),
    "gasket bore": ("4.250 in", "compression ratio"),
    "gasket thickness": ("0.041 in", "quench distance"),
    "chamber volume": ("66,0 cc", "compression ratio"),
    "intake centerline": ("101 deg", "effective compression ratio"),
    "engine speed": ("5800 rpm", "mean piston speed"),
}


def test_every_field_moves_its_result_by_text_and_by_slider(shared):
    assert MOVES.keys() == shared.fields.keys()
    for label, (text, row) in MOVES.items():
        field, before = shared.fields[label], table(shared)[row]
        was = field.text
        shared.type(label, text)
        assert (shared.error_line, field.text) == ("", text)
        assert table(shared)[row][0] == before[0], "plan A stays"
        assert table(shared)[row][1] != before[1]
        slide(field, 0.6)
        assert shared.error_line or table(shared)[row] != before
        shared.type(label, was)
        assert table(shared)[row] == before


def test_the_crank_turns_the_picture_and_leaves_the_numbers(shared):
    numbers, still = shared.numbers.value, drawn(shared)
    shared.turn.value = 46
    assert drawn(shared)[0] != still[0]
    assert "the crank 46 degrees after top dead center" in spoken(shared)[0]
    shared.turn.value = 0
    assert (shared.numbers.value, drawn(shared)) == (numbers, still)


def test_pictures_say_the_answer_in_words(shared):
    assert shared.answer_line in spoken(shared)[0]
    assert "plan B stands at" in spoken(shared)[1]
    chapter = StartChapter(FOUR)
    assert spoken(chapter) == [f"Front view of banks and crank pins. {chapter.answer_line}"]
    assert 'role="status" aria-live="polite"' in chapter.answer.value


# --- behaviour: refusals -----------------------------------------------------------------------

REFUSALS = [
    ("stroke", "3.84 deg", r"^crank\.stroke: 3\.84 deg is not a length"),
    ("stroke", "120 in", r"^crank\.stroke = 120 in is outside 1\.5\.\.6\.5 in - entered in mm\?"),
    ("stroke", "1,500 in", r"^crank\.stroke: .*read as 1\.500 in or as 1500 in"),
    ("stroke", "<script>", r"^crank\.stroke: \"<script>\" is not a number with a unit"),
    ("stroke", "3.84", r"^crank\.stroke: 3\.84 has no unit"),
    ("stroke", "", r"^crank\.stroke is not measured, and nothing works without it"),
    ("rod length", "1.9 in", r"^rod\.length: 1\.9 in is not longer than half .* cannot turn$"),
    ("dish + / dome −", "-80 cc", r"^clearance volume -0\.4 cc: look at the dish / dome sign"),
    ("gasket thickness", "0 in", r"^gasket\.thickness: must be greater than zero, got 0 in$"),
    ("compression height", "1.400 in", r"^quench -0\.0820: piston meets the head"),
    ("compression height", "1.314 in", r"^quench 0\.004 cold, -0\.006 running: piston meets"),
    ("chamber volume", "70 in", r"^head\.chamber_volume: 70 in is not a volume"),
    ("engine speed", "6200 Hz", r"^running\.engine_speed: .*not a unit known here"),
    ("intake centerline", "105 mm", r"^intake\.centerline: 105 mm is not an angle"),
]


@pytest.mark.parametrize(("label", "text", "match"), REFUSALS)
def test_a_refusal_is_a_sentence_and_the_page_recovers(shared, label, text, match):
    field, numbers, answer = shared.fields[label], shared.numbers.value, shared.answer_line
    was, pictures = field.text, drawn(shared)
    shared.type(label, text)
    assert re.search(match, shared.error_line)
    assert len(shared.error_line.splitlines()) == 1
    assert html.escape(shared.error_line) in shared.error.value
    assert 'role="alert"' in shared.error.value
    assert "<script>" not in shared.error.value
    assert (field.text, field.box.value, shared.answer_line) == (text, text, "")
    assert is_grey(shared)
    assert (shared.numbers.value, drawn(shared)) == (numbers, pictures)
    marked = [each.label for each in shared.fields.values()
              if "enginecalc-wrong" in each.box._dom_classes]  # fmt: skip
    named = [each.label for each in shared.fields.values() if each.path in shared.error_line]
    assert label in marked
    assert marked == named
    shared.type(label, was)
    assert (shared.error_line, shared.error.value, shared.answer_line) == ("", "", answer)
    assert not is_grey(shared)
    assert (shared.numbers.value, drawn(shared)) == (numbers, pictures)
    assert not any("enginecalc-wrong" in each.box._dom_classes for each in shared.fields.values())


def test_several_faults_come_at_once_and_go_one_by_one(shared):
    wrong = {"bore": "83.5 deg", "chamber volume": "lots", "gasket thickness": ""}
    was = {label: shared.fields[label].text for label in wrong}
    for count, (label, text) in enumerate(wrong.items(), 1):
        shared.type(label, text)
        assert len(shared.error_line.splitlines()) == count
    assert all(shared.fields[label].path in shared.error_line for label in wrong)
    for left, (label, text) in zip((2, 1, 0), was.items(), strict=True):
        shared.type(label, text)
        assert len(shared.error_line.splitlines()) == left
    assert shared.answer_line


def test_what_is_not_a_refusal_comes_to_the_surface(shared, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("a slip in the program")

    was = shared.fields["bore"].text
    with monkeypatch.context() as slip:
        slip.setattr(plan, "results", broken)
        with pytest.raises(ZeroDivisionError, match="a slip in the program"):
            shared.type("bore", "4.120 in")
    shared.type("bore", was)
    assert shared.answer_line


@pytest.mark.parametrize(
    ("label", "text"),
    [("rod length", "5.960 ± 7 in"), ("rod length", "1e300 in"), ("engine speed", "1e308 rpm")],
)
def test_absurd_figures_are_answered_or_refused(shared, label, text):
    shared.type(label, text)
    assert bool(shared.error_line) != bool(shared.answer_line)


def test_a_size_is_not_taken_in_the_unit_of_its_tolerance(shared):
    shared.type("stroke", "3.840 ± 2 thou")
    assert shared.error_line or table(shared)["true stroke"][1].startswith("3.840")


def test_the_answer_has_no_more_digits_than_the_table(shared):
    shared.system.value = "metric"
    assert table(shared)["displacement"][1] == "6,679 ± 2"
    assert "6,679 cc" in shared.answer_line


# --- behaviour: nothing leaks, nothing is worked out twice -------------------------------------


def test_sliding_leaves_no_artists_and_costs_few_conversions(shared, monkeypatch):
    calls, moves = Counter(), 50
    artists, to_si = [len(figure.findobj()) for figure in shared.figures], units.to_si

    def counted(convert):
        def converting(*given):
            calls[convert.__name__] += 1
            return convert(*given)

        return converting

    with monkeypatch.context() as watched:
        for name, module in list(sys.modules.items()):
            if name.startswith("enginecalc.") and hasattr(module, "to_si"):
                watched.setattr(module, "to_si", counted(to_si))
        watched.setattr(units.Q, "m_as", counted(units.Q.m_as))
        for part in np.linspace(0.40, 0.60, moves):
            slide(shared.fields["stroke"], part)
    assert [len(figure.findobj()) for figure in shared.figures] == artists
    assert moves < sum(calls.values()) <= 450 * moves


def test_a_random_walk_over_the_controls_never_raises():
    chapter, draw = PlanChapter(), np.random.default_rng(7)
    fields = list(chapter.fields.values())
    for step in range(30):
        slide(fields[draw.integers(len(fields))], draw.uniform(0.2, 0.8))
        if step % 10 == 0:
            chapter.system.value = draw.choice(["inch", "metric"])
            chapter.file.value = draw.choice(FILES)
        assert bool(chapter.error_line) != bool(chapter.answer_line)
        assert is_grey(chapter) == bool(chapter.error_line)
        assert chapter.error_line or "nan" not in chapter.numbers.value
