"""Chapter 03 driven without a browser: the student's questions, turning, refusals, no leaks."""

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import crank
from enginecalc.records import load_engine
from enginecalc.records.rod_study import rod_study
from enginecalc.units import Q
from enginecalc.views.apps import rod_ratio
from enginecalc.views.apps.rod_ratio import RodRatioChapter
from tests.chapters import ENGINES, FILES, FOUR, V8, own_engines, plain, slide, table
from tests.figures import WORKED, printed, worked

RODS = ("5.70", "5.96", "6.20")
# row of the table, worked number
ROWS = {
    "rod ratio": "rod_ratio",
    "λ = r / L": "lambda",
    "fastest at": "vmax_at",
    "peak speed": "vmax_m_s",
    "1 + λ": "acc_rel",
    "travel at 90°": "s90",
    "dwell": "dwell",
    "travel at 10°": "s10_in",
    "tilt": "tilt",
    "side load at": "at",
    "A2": "A2",
}


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    with pytest.MonkeyPatch.context() as monkeypatch:
        yield own_engines(tmp_path_factory.mktemp("shared"), monkeypatch)


@pytest.fixture(scope="module")
def opened(home):
    return RodRatioChapter()


@pytest.fixture
def page(opened):
    """Return the chapter as it opens; what a test does to it is put back after it."""
    yield opened
    opened.file.value, opened.system.value, opened.turn.value = V8, "inch", 45
    opened.drafts().clear()
    opened._switched()


def wrong_fields(page):
    return {label for label, field in page.fields.items()
            if "enginecalc-wrong" in field.box._dom_classes}  # fmt: skip


def engine_without(*fields, file=V8):
    engine = load_engine(ENGINES / f"{file}.toml")
    return engine.altered(dict.fromkeys(fields))


# --- against a source: the student's questions --------------------------------------------------


@pytest.mark.parametrize("length", RODS)
@pytest.mark.parametrize("row", ROWS)
def test_questions_one_to_nine_in_the_table(page, length, row):
    if page.fields["rod length"].text != "5.70 in":
        page.type("rod length", "5.70 in")
    first, second, change, own = table(page)[row]
    shown = dict(zip(RODS, (first, own, second), strict=True))
    assert WORKED[f"side.{length}.{ROWS[row]}"] == printed(shown[length])
    digits = len(change.partition(".")[2])
    assert float(change) == pytest.approx(float(second) - float(first), abs=1.01 * 10**-digits)


def test_question_eight_the_greatest_side_load(page):
    page.type("rod length", "5.70 in")
    first, second, _, own = (float(each.replace(",", "")) for each in table(page)["side load"])
    for length, load in zip(RODS, (first, own, second), strict=True):
        assert load == pytest.approx(WORKED[f"side.{length}.max_N"], abs=1)
    assert "3,890 N at 109.4°, major thrust wall" in page.side.word.get_text()


def test_the_answer_is_what_half_an_inch_of_rod_does(page):
    page.type("rod length", "5.70 in")
    page.type("second rod length", "6.20 in")
    assert page.answer_line == (
        "From 5.70 to 6.20 in of rod the piston's acceleration at the top falls by 2.0 %, the side"
        " load by 10.9 %; the angle of peak speed moves by 1.1°."
    )
    assert worked("side.acc_drop_5.70_to_6.20_percent") == 2.0


@pytest.mark.parametrize("length", RODS)
def test_the_study_by_itself(length):
    engine = load_engine(ENGINES / f"{V8}.toml")
    study = rod_study(engine, Q(float(length), "inch"))
    assert study.side_load.m_as("N") == pytest.approx(WORKED[f"side.{length}.max_N"], abs=0.6)
    assert study.side_load_angle.m_as("deg") == worked(f"side.{length}.at")
    assert study.travel_at_ten.m_as("inch") == worked(f"side.{length}.s10_in")
    assert study.orders[1].m_as("") == worked(f"side.{length}.A2")


# --- against geometry and identities ------------------------------------------------------------


def test_curves_agree_with_a_difference_quotient_and_with_the_table():
    study = rod_study(load_engine(ENGINES / f"{FOUR}.toml"), Q(150, "mm"))
    curves = study.curves
    angle, speed = curves.angle.m_as("rad"), Q(7000, "rpm").m_as("rad/s")
    position, velocity, acceleration = (each.to_base_units().m for each in curves.motion)
    step = angle[1] - angle[0]
    for lower, upper in ((position, velocity), (velocity, acceleration)):
        slope = speed * (lower[2:] - lower[:-2]) / (2 * step)
        assert_allclose(slope, upper[1:-1], atol=2e-3 * np.max(abs(upper)))
    assert_allclose(position[0], 0, atol=1e-12)
    assert position.max() == pytest.approx(curves.simple[0].m_as("m").max(), rel=1e-5)
    loads = abs(curves.side_load.m_as("N"))
    assert loads.max() == pytest.approx(abs(study.side_load.m_as("N")), rel=1e-3)
    assert loads.max() <= abs(study.side_load.m_as("N"))


def test_a_very_long_rod_moves_as_the_sine():
    study = rod_study(load_engine(ENGINES / f"{V8}.toml"), Q(500, "m"))
    for exact, simple in zip(study.curves.motion, study.curves.simple, strict=True):
        size = np.max(abs(simple.m))
        assert_allclose(exact.m, simple.m, atol=2e-4 * size)
    assert study.orders[1].m_as("") == pytest.approx(0, abs=1e-4)


def test_an_offset_counts_from_the_true_top(page):
    page.file.value, page.system.value = FOUR, "metric"
    page.turn.value = 0
    assert "0° after top dead center this piston is 0.00 mm down" in plain(page.now)
    assert "orders are those of a pin without offset" in page.numbers.value
    crank_pin = page.view.pins[1].center
    assert crank_pin[0] < 0, "the crank pin stands before its own top"
    assert np.hypot(*crank_pin) == pytest.approx(44.6)


def test_the_block_rises_with_rod_and_stroke(page):
    volume = page.base.values["clearance_volume"]
    for label, text in (("rod length", "6.35 in"), ("stroke", "3.2 in"), ("pin offset", "1.5 mm")):
        page.type(label, text)
        assert page.error_line == ""
        assert page.engine.values["clearance_volume"] == pytest.approx(volume, rel=1e-9)


def test_switching_units_changes_no_figure_and_no_byte(page, home):
    files = {path: path.read_bytes() for path in home.iterdir()}
    page.type("second rod length", "157,5 mm")
    was = page.answer_line, page.numbers.value, page.fields["second rod length"].text
    for system in ("metric", "inch", "metric", "inch"):
        page.system.value = system
    assert (page.answer_line, page.numbers.value, page.fields["second rod length"].text) == was
    assert page.engine.text().encode() == files[home / f"{V8}.toml"]
    assert {path: path.read_bytes() for path in home.iterdir()} == files


# --- behaviour ----------------------------------------------------------------------------------


@pytest.mark.parametrize("file", FILES)
def test_every_engine_opens_with_a_longer_rod_beside_its_own(page, file):
    page.file.value = file
    assert page.error_line == ""
    assert re.match(r"From \S+ to \S+ (in|mm) of rod .* falls by 1\.0 %|From .* 0\.9 %",
                    page.answer_line)  # fmt: skip
    assert len(table(page)["A2"]) == 3, "the file's own rod is the first: no fourth column"


def test_turning_the_crank_works_out_no_study(page, monkeypatch):
    studies, drawn = [], []
    study, svg = rod_ratio.rod_study, rod_ratio.figures.svg
    monkeypatch.setattr(rod_ratio, "rod_study", lambda *given: studies.append(1) or study(*given))
    monkeypatch.setattr(
        rod_ratio.figures, "svg", lambda *given: drawn.append(given[0]) or svg(*given)
    )
    still = page.pictures[1].value, page.spectrum.value, page.numbers.value, page.answer_line
    was = page.pictures[0].value
    page.play.value = 50
    assert page.turn.value == 50
    assert (studies, drawn) == ([], [page.figures[0]]), "one picture for one frame"
    assert page.pictures[0].value != was
    now = page.pictures[1].value, page.spectrum.value, page.numbers.value, page.answer_line
    assert now == still
    page.type("engine speed", "5000 rpm")
    assert len(studies) == 2
    assert page.play.interval >= 150


@pytest.mark.parametrize("angle", [0, 73, 90, 180, 251, 360])
def test_the_picture_stands_where_the_words_say(page, angle):
    page.turn.value = angle
    geometry = Q(3.64, "inch"), Q(5.96, "inch")
    depth = crank.piston_position(Q(angle, "deg"), *geometry).m_as("inch")
    said = re.search(r"piston is (\S+) in down, a plain sine's (\S+) in; its rod leans (\S+)°",
                     plain(page.now))  # fmt: skip
    assert depth == printed(said[1])
    assert 1.82 * (1 - np.cos(np.radians(angle))) == printed(said[2])
    tops = [each.get_y() + each.get_height() for each in (page.view.piston, page.view.ghost)]
    assert tops[1] - tops[0] == pytest.approx(25.4 * (float(said[1]) - float(said[2])), abs=0.03)
    mark = page.curves.now["position"].get_data()
    assert (mark[0][0], mark[1][0]) == (angle, pytest.approx(depth, abs=2e-3))
    assert np.hypot(*np.subtract(page.view.pins[1].center, page.view.pins[2].center)) == (
        pytest.approx(5.96 * 25.4)
    ), "the rod keeps its length"
    assert plain(page.now) in page.pictures[0].value.replace("&#x27;", "'")


def test_every_picture_says_what_it_shows(page):
    for picture in (*page.pictures, page.spectrum):
        assert picture.value.startswith('<svg role="img" aria-label="')
    assert page.answer_line in page.pictures[0].value.replace("&#x27;", "'")
    assert "greatest 110.2° after the firing top: 3,658 N on the major" in page.pictures[1].value
    assert "0.3128 and 0.3001" in page.spectrum.value


def test_a_shorter_rod_and_the_same_rod_have_their_own_words(page):
    page.type("second rod length", "5.70 in")
    assert "at the top rises by 1.1 %, the side load by 6.4 %" in page.answer_line
    page.type("second rod length", "5.960 in")
    assert page.answer_line == "Both rods are 5.96 in long: nothing changes."


REFUSED = [
    ("second rod length", "", "second_rod.length: nothing was typed"),
    ("second rod length", "6.2", "second_rod.length: 6.2 has no unit"),
    ("second rod length", "1.5 in", "second_rod.length: 1.5 in is not longer than half the stroke"),
    ("second rod length", "<i> in", r"second_rod.length: \"<i> in\" is not a number"),
    ("second rod length", "6 deg", "second_rod.length: 6 deg is not a length"),
    ("rod length", "1.5 in", r"^rod.length: 1.5 in is not longer than half the stroke"),
    ("rod length", "abc", "^rod.length: .* is not a number"),
    ("stroke", "0 in", "crank.stroke"),
    ("engine speed", "6200", "running.engine_speed: 6200 has no unit"),
]


@pytest.mark.parametrize(("label", "text", "said"), REFUSED)
def test_what_cannot_be_is_a_sentence_and_nothing_typed_is_lost(page, label, text, said):
    was = page.answer_line, page.numbers.value, page.fields[label].text
    page.type("pin offset", "0.5 mm")
    page.type(label, text)
    assert re.search(said, page.error_line)
    assert "<i>" not in page.error.value.replace("<i>Picture", "")
    assert wrong_fields(page) == {label}
    assert page.fields[label].text == text
    assert page.answer_line == ""
    for widget in (page.numbers, *page.pictures, page.spectrum):
        assert "enginecalc-stale" in widget._dom_classes
    page.turn.value = 46  # the last good crank still turns
    page.type("pin offset", "0 in")
    page.type(label, was[2])
    assert (page.error_line, page.answer_line, page.numbers.value) == ("", *was[:2])
    assert "enginecalc-stale" not in page.spectrum._dom_classes


LACKING = [
    ("piston.mass", "side load, side load at, which needs piston.mass", "is not known"),
    ("running.engine_speed", "needs running.engine_speed", "is not known"),
]


@pytest.mark.parametrize(("path", "told", "answer"), LACKING)
def test_what_is_missing_is_said_and_the_rest_is_there(home, path, told, answer):
    name, key = path.split(".")
    source = (home / f"{V8}.toml").read_text(encoding="utf-8")
    head, start, rest = source.partition(f"\n[{name}]")
    (home / "bare.toml").write_text(
        head + start + re.sub(rf"\n{key} = .*", "", rest, count=1), encoding="utf-8"
    )
    chapter = RodRatioChapter("bare")
    assert chapter.error_line == ""
    assert f"the side load {answer}" in chapter.answer_line
    rows = table(chapter)
    assert rows["side load"] == ["not known", "not known", ""]
    assert rows["A2"][0] == "0.3128"
    assert told in plain(chapter.numbers)
    assert "not worked out" in chapter.side.lacking.get_text()
    chapter.turn.value = 90
    assert "2.105 in down" in plain(chapter.now)
    (home / "bare.toml").unlink()


def test_a_study_says_why_a_figure_is_none():
    study = rod_study(engine_without("running.engine_speed"), Q(6, "inch"))
    for name in ("side_load", "side_load_angle", "peak_speed", "peak_acceleration"):
        assert getattr(study, name) is None
        assert study.reasons[name].startswith("needs running.engine_speed")
    assert study.curves.motion[1:] == (None, None)
    study = rod_study(engine_without("rod.mass_small_end"), Q(6, "inch"))
    assert study.peak_speed is not None
    assert study.reasons.keys() == {"side_load", "side_load_angle"}


def test_a_rod_too_short_is_refused():
    with pytest.raises(ValueError, match="rod_length must be longer than half the stroke"):
        rod_study(load_engine(ENGINES / f"{V8}.toml"), Q(40, "mm"))


def test_thirty_moves_leave_no_artists(page):
    def counts():
        return [len(ax.get_children()) for figure in (*page.figures, page.orders)
                for ax in figure.axes]  # fmt: skip

    was = counts()
    for at in range(15):
        page.turn.value = 17 * at
        slide(page.fields["second rod length"], (at % 7 + 2) / 10)
    assert counts() == was
