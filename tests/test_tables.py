"""Figures as a person reads them: digits, limits, words, and tables nothing breaks out of."""

import html
import math
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from enginecalc.records import Result, load_engine, results
from enginecalc.records.figures import PLAN_RESULTS
from enginecalc.units import Q
from enginecalc.views import tables

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8, V8S, FOUR = (
    results(load_engine(ENGINES / f"{name}.toml"), PLAN_RESULTS)
    for name in ("quarry-pump-v8", "quarry-pump-v8-long-stroke", "ferry-four")
)
HOSTILE = "<script>alert(\"x\")</script> & 'quoted'"


class _Rows(HTMLParser):
    """Collect a table's rows as lists of texts, and every tag that was met."""

    def __init__(self, text):
        super().__init__()
        self.rows, self.tags, self._cell = [], [], None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self._cell = tag

    def handle_endtag(self, tag):
        if tag == self._cell:
            self._cell = None

    def handle_data(self, data):
        if self._cell:
            self.rows[-1][-1] += data


def decimals_in(text):
    """Return how many decimals a number in a text shows."""
    return len(text.partition(".")[2])


# --- against a source: the worked example --------------------------------------------------------


def test_causes_are_named_largest_first():
    # The variance of the V8's ratio by hand: chamber 33 %, gasket 19 %, dish 15 %.
    ratio = next(each for each in V8 if each.name == "compression_ratio")
    said = tables.main_causes(ratio)
    names, shares = zip(*re.findall(r"([a-z ]+) (\d+) %", said), strict=True)
    assert [name.strip() for name in names] == [
        "head chamber volume",
        "gasket thickness",
        "piston dish volume",
    ]
    assert [int(share) for share in shares] == pytest.approx([33, 19, 15], abs=1)
    assert tables.main_causes(ratio, count=1) == said.partition(",")[0]
    assert tables.main_causes(next(each for each in FOUR if each.name == "rod_ratio")) == ""


# --- against identities ------------------------------------------------------------------------


@given(st.floats(-1e7, 1e7), st.integers(-3, 4), st.booleans())
def test_a_number_is_near_its_value_and_never_a_minus_zero(value, decimals, signed):
    text = tables.number(value, decimals, signed)
    read = float(text.replace(",", ""))
    assert abs(read - value) <= 0.5 * 10.0**-decimals * (1 + 1e-9) + 1e-9
    assert decimals_in(text) == (0 if text == "0" else max(decimals, 0))
    if read == 0:
        assert not text.startswith(("-", "+"))


@given(st.floats(0.001, 10.0), st.floats(1e-5, 1.0))
def test_digits_shown_never_exceed_what_was_measured(size, spread):
    u = Q(spread, "inch")
    text = tables.say("deck_clearance", Q(size, "inch"), "inch", u, with_unit=False)
    value, _, beside = text.partition(" ± ")
    assert 0.5 * 10.0 ** -decimals_in(value) >= 0.049 * spread  # no digit below the first of u
    assert decimals_in(value) <= 3
    if beside:
        assert decimals_in(beside) == decimals_in(value)
        assert float(beside) == pytest.approx(spread, rel=0.5)
    else:
        assert spread < 0.001


# --- behaviour: numbers ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "decimals", "signed", "text"),
    [
        (-0.0004, 3, False, "0.000"),
        (-0.0004, 3, True, "0"),
        (0.0, 2, True, "0"),
        (-4.0, -1, False, "0"),
        (0.2, 3, True, "+0.200"),
        (-795.52, 1, True, "-795.5"),
        (1234567.8, 0, False, "1,234,568"),
        (27180.3, -1, False, "27,180"),
        (950.0, -3, False, "1,000"),
        (0.01475, 4, False, "0.0148"),  # half way as written, though a float lies below it
        (np.float64(0.01475), 4, False, "0.0148"),
        (0.01465, 4, False, "0.0146"),
        (0.3683 / 25.4, 3, False, "0.014"),  # 0.0145, and a float above it
        (math.inf, 2, False, "inf"),
        (math.nan, 2, False, "nan"),
    ],
)
def test_numbers(value, decimals, signed, text):
    assert tables.number(value, decimals, signed) == text


@pytest.mark.parametrize(
    ("u", "most", "decimals"),
    [(None, 3, 3), (0.0, 3, 3), (0.0013, 3, 3), (0.0096, 3, 2), (0.57, 2, 1), (0.0004, 3, 3),
     (1.4, 1, 0), (25.0, 1, -1), (960.0, 1, -3)],
)  # fmt: skip
def test_decimals_follow_the_first_digit_of_the_uncertainty(u, most, decimals):
    assert tables.decimals_for(u, most) == decimals


@pytest.mark.parametrize(
    ("name", "value", "u", "system", "text"),
    [
        ("quench_distance", Q(0.0432, "inch"), Q(0.0017, "inch"), "inch", "0.043 ± 0.002 in"),
        ("quench_distance", Q(0.0432, "inch"), Q(0.0017, "inch"), "metric", "1.10 ± 0.04 mm"),
        ("quench_distance", Q(1.097, "mm"), Q(0.508, "mm"), "inch", "0.04 ± 0.02 in"),
        ("quench_distance", Q(0.0432, "inch"), Q(0.0002, "inch"), "inch", "0.043 in"),
        ("quench_distance", Q(-0.0001, "inch"), None, "inch", "0.000 in"),
        ("compression_ratio", Q(10.304, ""), Q(0.057, ""), "inch", "10.30 ± 0.06"),
        ("displacement", Q(6330.9, "cc"), Q(1.6, "cc"), "metric", "6,331 ± 2 cc"),
        ("peak_piston_acceleration", Q(25438.0, "m/s**2"), Q(612.0, "m/s**2"), "inch",
         "25,400 ± 600 m/s²"),
        ("peak_piston_acceleration", Q(25438.0, "m/s**2"), None, "metric", "25,440 m/s²"),
    ],
)  # fmt: skip
def test_a_result_in_digits_and_unit(name, value, u, system, text):
    assert tables.say(name, value, system, u) == text
    unit = tables.SHOWN[name][system][0]
    bare = tables.say(name, value, system, u, with_unit=False)
    assert bare == text.removesuffix(unit).rstrip()


def test_what_is_not_known_is_said_as_nothing():
    assert tables.say("rod_ratio", None, "inch") == ""
    assert tables.say_result(Result("rod_ratio", None), "metric") == ""


def test_every_result_of_a_plan_can_be_shown_in_both_systems():
    for each in (*V8, *FOUR):
        for system in tables.SYSTEMS:
            assert bool(tables.say_result(each, system)) == (each.value is not None)


# --- behaviour: limits and words ---------------------------------------------------------------


def quench(value=0.040, low=0.035, high=0.045, u=None, source="part maker"):
    """Return a quench distance with its limits, in inches; None leaves a part out."""
    inches = [None if each is None else Q(each, "inch") for each in (value, u, low, high)]
    return Result("quench_distance", *inches, source)


@pytest.mark.parametrize(
    ("low", "high", "system", "text"),
    [
        (0.035, 0.045, "inch", "0.035 to 0.045 in"),
        (0.035, 0.045, "metric", "0.89 to 1.14 mm"),
        (0.035, None, "inch", "at least 0.035 in"),
        (None, 0.045, "metric", "at most 1.14 mm"),
    ],
)
def test_limits_name_their_source(low, high, system, text):
    result = quench(low=low, high=high)
    assert tables.say_limits(result, system) == f"{text} · part maker"
    assert tables.say_limits(result, system, with_source=False) == text
    bare = tables.say_limits(result, system, with_unit=False, with_source=False)
    assert bare == text.rpartition(" ")[0]


def test_no_limits_are_no_words():
    assert tables.say_limits(quench(low=None, high=None), "inch") == ""
    assert tables.say_limits(quench(source=""), "inch") == "0.035 to 0.045 in"


@pytest.mark.parametrize(
    ("result", "word"),
    [
        (quench(), "within"),
        (quench(0.0442), "close"),
        (quench(0.043, u=0.003), "close"),
        (quench(0.046), "outside"),
        (quench(None), "not measured"),
        (quench(None, None, None), "not measured"),
        (quench(0.5, None, None), "no limit"),
    ],
)
def test_a_status_is_a_word(result, word):
    assert tables.say_status(result) == word


# --- behaviour: tables -------------------------------------------------------------------------


def test_a_table_escapes_every_cell():
    made = tables.html_table(
        ("", HOSTILE), [(HOSTILE, HOSTILE), ("second", 3)], HOSTILE, words=True
    )
    seen = _Rows(made)
    assert "script" not in seen.tags
    assert seen.rows == [["", HOSTILE], [HOSTILE, HOSTILE], ["second", "3"]]
    assert html.escape(HOSTILE) in re.search("<caption>(.*?)</caption>", made)[1]
    assert made.count('<th scope="col">') == 2
    assert made.count('<th scope="row">') == 2
    assert "enginecalc-words" in made
    assert "enginecalc-words" not in tables.html_table(("a",), [], "b")


def test_sentences_are_escaped_and_spoken():
    assert tables.paragraphs("", HOSTILE, "") == f"<p>{html.escape(HOSTILE)}</p>"
    assert html.escape(HOSTILE) in tables.note(HOSTILE)
    assert 'role="status"' in tables.note("Saved.")
    assert tables.refusal("") == tables.refusal("", "Not saved:", "Type it anew.") == ""
    assert tables.refusal(HOSTILE, HOSTILE, HOSTILE).count(html.escape(HOSTILE)) == 3
    assert tables.refusal("no < 1", "Not saved:", "Type it anew.") == (
        '<div class="enginecalc-error" role="alert"><b>Not saved:</b>\nno &lt; 1\n'
        "<i>Type it anew.</i></div>"
    )


def test_a_comparison_has_a_row_for_each_result_and_its_limit():
    rows = _Rows(tables.comparison_table(V8, V8S, "inch")).rows
    assert rows[0] == ["", "plan A", "plan B", "difference", "is", "should be · says who"]
    assert len(rows) == 1 + len(V8)
    assert {len(row) for row in rows} == {6}
    by_name = {row[0]: row[1:] for row in rows}
    assert by_name["rod ratio"][:4] == ["1.637", "1.552", "-0.085", "within"]
    assert by_name["quench distance [in]"][:4] == ["0.043 ± 0.002", "0.043 ± 0.002", "0", "within"]
    assert by_name["quench distance [in]"][4].startswith("0.035 to 0.045 · common practice")
    assert by_name["true stroke [in]"][3:] == ["no limit", ""]


def test_a_comparison_says_not_measured_and_gives_no_difference():
    rows = {row[0]: row for row in _Rows(tables.comparison_table(V8, FOUR, "metric")).rows}
    assert rows["running quench [mm]"][2:5] == ["not measured", "", "within → not measured"]
    both = {row[0]: row for row in _Rows(tables.comparison_table(FOUR, FOUR, "metric")).rows}
    assert both["running quench [mm]"][1:5] == ["not measured", "not measured", "", "not measured"]


def test_a_comparison_takes_its_heads_from_anybody():
    seen = _Rows(tables.comparison_table(V8, V8S, "inch", (HOSTILE, "b")))
    assert seen.rows[0][1:3] == [HOSTILE, "b"]
    assert "script" not in seen.tags


@pytest.mark.parametrize(
    "system",
    [
        "inch",
        "metric",
    ],
)
def test_a_difference_has_no_more_digits_than_its_plans(system):
    for row in _Rows(tables.comparison_table(V8, V8S, system)).rows[1:]:
        a, b = (decimals_in(each.partition(" ± ")[0]) for each in row[1:3])
        assert decimals_in(row[3]) <= min(a, b), row


def test_a_limit_has_the_digits_of_its_result():
    assert tables.say_limits(quench(low=0.020, high=None, source=""), "inch") == "at least 0.020 in"
