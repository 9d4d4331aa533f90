"""The form that matches parts: worked answers, what is said of them, and refusals in words."""

import html
import re
import shutil

import pytest

from enginecalc.records.build import load_build
from enginecalc.records.places import boxes, measurement
from enginecalc.units import Q
from enginecalc.views import matching_form
from enginecalc.views.matching_form import DECKS, PISTONS, RODS, SHELLS, MatchingForm
from tests.builds import DEMO, bore, build_of, pistons
from tests.chapters import plain, table

V8 = load_build(DEMO)
STOCK = "0.0950 in: 4; 0.0955 in: 10; 0.0960 in: 4"


def form(what, build=V8, **texts):
    """Return a form after its button was pressed."""
    made = MatchingForm(lambda: build)
    made.what.value = what
    for name, text in texts.items():
        getattr(made, name).value = text
    made.find.click()
    return made


def orders(made):
    return [html.unescape(each) for each in re.findall("<li>(.*?)</li>", made.answer.value)]


def corrected(folder):
    """Return a copy of the demo's build without its planted exchange."""
    shutil.copytree(DEMO, folder / "build")
    build = load_build(folder / "build")
    for row, value in ((21, "4.1101"), (51, "4.1058")):
        cells = build.readings.rows().iloc[row].to_dict()
        del cells["line"], cells["time"], cells["value"]
        build.readings.append(value, **cells)
    return build


# --- worked answers -----------------------------------------------------------------------------


def test_rods_go_to_the_worked_pins():
    # rods 1-4 stay, 5 to 8, 6 to 5, 7 to 6, 8 to 7
    made = form(RODS, target="0.0024 in")
    assert orders(made) == [
        "put rod 6 in cylinder 5's pin",
        "put rod 7 in cylinder 6's pin",
        "put rod 8 in cylinder 7's pin",
        "put rod 5 in cylinder 8's pin",
    ]
    assert "0.0023 to 0.0025 in instead of 0.0021 to 0.0028 in" in plain(made.answer)
    assert "at most 0.00010 in off what is wanted instead of 0.00040; 4 parts moved" in plain(
        made.answer
    )
    assert "8 answers are as good; this one moves the fewest parts" in plain(made.numbers)
    cells = table(made)
    assert [cells[f"cylinder {at}"][0] for at in range(1, 9)] == [
        f"rod {at}" for at in (1, 2, 3, 4, 6, 7, 8, 5)
    ]
    assert cells["cylinder 8"] == ["rod 5", "0.0021", "0.0024", "0"]


def test_a_blank_target_is_the_middle_of_the_limits():
    made = form(RODS)
    assert "middle of the limits" in made.target.placeholder
    assert table(made)["cylinder 1"][3] == "-0.00005", "0.0024 against 0.00245"


def test_main_shells_from_the_worked_stock():
    made = form(SHELLS, target="0.0025 in", stock=STOCK, step="0.0005 in")
    cells = table(made)
    assert [cells[f"main {at}"][2] for at in range(1, 6)] == [
        "0.0025", "0.0026", "0.0023", "0.0024", "0.0027"
    ]  # fmt: skip
    assert cells["main 4"][0] == "upper 0.0955, lower 0.0960"
    assert cells["main 5"][0] == "upper 0.0950, lower 0.0955"
    assert orders(made)[3] == "main 4: upper 0.0955 in, lower 0.0960 in"
    assert "instead of 0.0022 to 0.0029 in" in plain(made.answer)


def test_decks_are_evened_and_pistons_that_change_banks_are_named():
    made = form(DECKS)
    assert "Deck clearance 0.0148 to 0.0152 in instead of 0.0141 to 0.0157 in" in plain(made.answer)
    said = plain(made.numbers)
    banks = {number: number % 2 for number in range(1, 9)}
    over = [each for each in table(made).items()
            if banks[int(each[0][-1])] != banks[int(each[1][0][-1])]]  # fmt: skip
    assert ("Over to the other bank would go piston" in said) == bool(over)


# --- pistons --------------------------------------------------------------------------------------


def test_pistons_that_cannot_be_are_refused_in_a_sentence():
    made = form(PISTONS)
    assert "cylinder 7: piston 4.1101 in is not less than bore 4.1058 in: swapped?" in plain(
        made.answer
    )
    assert made.picture.value == made.numbers.value == ""


@pytest.mark.parametrize("by_bank", [True, False])
def test_pistons_stay_in_their_bank_unless_they_may_change(tmp_path, by_bank):
    made = form(PISTONS, corrected(tmp_path), by_bank=by_bank)
    over = [place for place, cells in table(made).items()
            if int(place[-1]) % 2 != int(cells[0][-1]) % 2]  # fmt: skip
    assert not (by_bank and over)
    assert ("Over to the other bank" in plain(made.numbers)) == bool(over)


def test_no_real_difference_is_said(tmp_path):
    # pistons and bores crossed by a tenth, read with a gauge of a thousandth
    sizes = [4.1058, 4.1057] * 4
    rows = [row for number in range(1, 9)
            for row in bore(str(number), 4.1100 + 0.0001 * (number in (4, 6)),
                            resolution="0.001 in")]  # fmt: skip
    made = form(PISTONS, build_of(tmp_path, [*rows, *pistons(sizes)]), by_bank=False)
    assert "No real difference" in plain(made.answer)
    assert orders(made)


def test_nothing_to_gain_is_said(tmp_path):
    rows = [row for number in range(1, 9) for row in bore(str(number), 4.1100)]
    made = form(PISTONS, build_of(tmp_path, [*rows, *pistons([4.1058] * 8)]))
    assert "Nothing is gained by a change: all stay" in plain(made.answer)
    assert "Leave all parts as they are" in plain(made.answer)


def test_a_doubtful_reading_is_to_be_taken_again_first(tmp_path):
    build = corrected(tmp_path)
    key = {"place": "5", "part": "piston", "feature": "diameter", "height": "gauge point"}
    build.readings.append(
        "4.1066 in", **key, repeat=2, temperature="20 degC", resolution="0.0001 in"
    )
    made = form(PISTONS, build)
    assert re.search(r"Measure again first: lines 52, \d{3}: 4.1056 in", plain(made.numbers))


# --- refusals and cautions ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "texts", "said"),
    [
        (RODS, {"target": "2.4"}, "clearance wanted: 2.4"),
        (RODS, {"target": "5 cc"}, "clearance wanted: 5 cc"),
        (SHELLS, {}, "shell stock: it is empty"),
        (RODS, {"target": "0.0025 mm"}, "target 0.0025 mm is 0.0001 in, far from the limits"
                                        " 0.0022 to 0.0027 in: inch meant?"),
        (RODS, {"target": "2.5 in"}, "target 2.5 in is far from the limits 0.0022 to 0.0027 in:"
                                     " thou meant?"),
        (SHELLS, {"stock": "0.0955 mm: 10"}, "shell stock: 0.0955 mm is 0.0038 in, far from the"
                                             " measured shells 0.0955 in: inch meant?"),
        (SHELLS, {"stock": "0.0950 in: 4, 0.0955 in: 10"}, "shell stock: put ; between entries"),
        (SHELLS, {"stock": "0.0955: 10"}, 'shell stock: in "0.0955: 10" 0.0955 has no unit; write'
                                          ' "0.0955 in: 10"'),
        (SHELLS, {"stock": "0.0955 in: 4; 95.5 thou: 4"}, "shell stock: 95.5 thou is listed twice"),
        (SHELLS, {"stock": "0.0990 in: 10"}, "no clearance is left: too thick in the stock:"
                                             " 0.0990 in"),
        (SHELLS, {"stock": "0.0955 in"}, "not a wall and a count"),
        (SHELLS, {"stock": "0.0955 in: 4"}, "the stock is too small"),
        (SHELLS, {"stock": STOCK, "step": ""}, "largest step in a pair: nothing was typed"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_or_found_is_a_sentence(what, texts, said):
    made = form(what, **texts)
    assert said in plain(made.answer)
    assert "choose_shells" not in plain(made.answer)
    assert made.picture.value == made.numbers.value == ""


@pytest.mark.parametrize(("limits", "target", "refused"), [
    ({"low": "0.0022 in", "high": "0.0027 in"}, "0.0030 in", False),
    ({"low": "0.0022 in", "high": "0.0027 in"}, "0.0034 in", True),
    ({"low": "0.0010 in", "high": "0.0040 in"}, "0.0001 in", True),
    ({"low": "0.0022 in"}, "0.0060 in", False),
    ({"low": "0.0022 in"}, "0.0025 mm", True),
])  # fmt: skip
def test_only_a_target_far_from_limits_or_mean_is_refused(limits, target, refused):
    build = load_build(DEMO)
    limits = {"rod_oil_clearance": {**limits, "source": "shell maker"}}
    build.engine = build.engine.altered({"limits": limits})
    made = form(RODS, build, target=target)
    assert ("far from the" in plain(made.answer)) == refused == (made.numbers.value == "")


def test_even_decks_say_what_they_rest_on_and_what_is_in_doubt():
    said = plain(form(DECKS).numbers)
    assert "worked out from deck height, throw, rod and piston" in said
    assert "cylinder 4 was read at 0.0178 in: measure it again first" in said
    assert "cylinder 3 was read" not in said
    assert "The diameter of piston 7 is in doubt" in said
    assert "Piston clearance and oil clearance are then to be worked out again" in said


def test_without_a_build_or_readings_that_is_said(tmp_path):
    def no_build():
        raise ValueError("no build is open <here>")

    made = MatchingForm(no_build)
    made.find.click()
    assert "no build is open &lt;here&gt;" in made.answer.value
    assert "not measured for cylinder 1" in plain(form(RODS, build_of(tmp_path)).answer)


def test_what_stays_outside_is_named_and_no_limit_is_widened():
    low = {"low": "0.0024 in", "high": "0.0025 in", "source": "shell maker"}
    build = load_build(DEMO)
    build.engine = build.engine.altered({"limits": {"rod_oil_clearance": low}})
    made = form(RODS, build)
    page = made.answer.value
    assert page.index("Not within limits: place") < page.index("<ul>")
    assert "No limit is widened" in plain(made.numbers)


@pytest.mark.parametrize(
    ("what", "cautions"),
    [
        (RODS, ("own cap", "chamfers face outward", "balance", "which part number", "limit")),
        (SHELLS, ("maker's word wins", "caps torqued", "which size went where", "limit")),
        (DECKS, ("own cap", "before matching rods", "balance", "which part number", "limit")),
    ],
)
def test_cautions_stand_with_every_answer(what, cautions):
    said = plain(form(what, stock=STOCK).numbers)
    assert [each for each in cautions if each not in said] == []


# --- the form itself ------------------------------------------------------------------------------


def test_only_what_a_choice_needs_is_asked():
    made, asked = MatchingForm(lambda: V8), {}
    for what in (RODS, PISTONS, SHELLS, DECKS):
        made.what.value = what
        asked[what] = [name for name in ("target", "stock", "step", "by_bank")
                       if getattr(made, name).layout.display != "none"]  # fmt: skip
    assert asked == {
        RODS: ["target"],
        PISTONS: ["target", "by_bank"],
        SHELLS: ["target", "stock", "step"],
        DECKS: ["by_bank"],
    }
    made.what.value = PISTONS
    assert "mean of those there are" in made.target.placeholder


def test_another_choice_takes_the_answer_away():
    made = form(RODS)
    assert made.picture.value.startswith("<svg")
    made.what.value = DECKS
    assert made.answer.value == made.picture.value == made.numbers.value == ""


def test_the_picture_says_before_and_after():
    made = form(RODS)
    label = re.search('aria-label="(.*?)"', made.picture.value)[1]
    assert label == ("rod oil clearance before: 0.0021 to 0.0028 in; after: 0.0023 to 0.0025 in")
    shown = {line.get_label(): line for line in made.figure.axes[0].lines}
    assert shown["before"].get_ydata() == pytest.approx(
        [0.0024, 0.0025, 0.0024, 0.0023, 0.0025, 0.0022, 0.0028, 0.0021], abs=1e-9
    )
    assert max(shown["after"].get_ydata()) == pytest.approx(0.0025, abs=1e-9)


def test_the_other_units_say_the_same():
    made = form(RODS)
    inches = table(made)
    made.system = "metric"
    assert "0.058 to 0.064 mm instead of 0.053 to 0.071 mm" in plain(made.answer)
    for place, cells in table(made).items():
        assert cells[0] == inches[place][0]
        size = Q(float(inches[place][2]), "inch").m_as("mm")
        assert float(cells[2]) == pytest.approx(size, abs=0.0006)
    made.system = "inch"
    assert table(made) == inches


def test_an_answer_of_other_readings_is_taken_away(tmp_path):
    build = corrected(tmp_path)
    made = form(RODS, build)
    made.system = "inch"
    assert made.answer.value
    (box, *_) = boxes(build.engine.layout, measurement("rod", "housing"))
    build.readings.append("2.3250 in", **box.key)
    made.system = "inch"
    assert made.answer.value == made.numbers.value == ""


def test_every_choice_has_its_words():
    for words in (matching_form._CLEARANCE, matching_form._READ, matching_form._CAUTIONS):
        assert list(words) == [RODS, PISTONS, SHELLS, DECKS]
