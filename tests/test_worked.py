"""Published problems worked again: they keep their outputs, and the run of them is a real check."""

import csv
import os
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from enginecalc.units import Q
from enginecalc.views.worked import compare_with_print, text_table

ROOT = Path(__file__).parent.parent
BOOKS = sorted((ROOT / "notebooks/worked").glob("*.ipynb"))
SUBJECTS = {"kinematics", "volumes", "bearings", "fits", "balance", "bolts", "heat"}
SOURCES = {
    row["key"]: row
    for row in csv.DictReader((ROOT / "data/reference/sources.csv").read_text().splitlines())
}
a_book = pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)


def code_of(path):
    """Return a notebook's code cells."""
    return [each for each in nbformat.read(path, 4).cells if each.cell_type == "code"]


# --- the notebooks -----------------------------------------------------------------------------


def test_every_subject_has_its_problems():
    assert len(BOOKS) >= 8
    assert {path.stem.partition("_")[0] for path in BOOKS} == SUBJECTS


@a_book
def test_it_keeps_outputs_of_text_that_the_run_compares(path):
    cells = code_of(path)
    for cell in cells:
        for output in cell.outputs:
            assert output.output_type == "execute_result"
            assert {*output.data} == {"text/plain"}
            assert "Quantity" not in output.data["text/plain"], "pint's own words differ"
        assert bool(cell.outputs) == ("nbval-check-output" in cell.metadata.get("tags", []))
    assert [cell.execution_count for cell in cells] == [*range(1, len(cells) + 1)]


@a_book
def test_it_ends_in_one_table_that_holds_the_printed_figures(path):
    *before, last = code_of(path)
    assert not any(cell.outputs for cell in before)
    assert "".join(cell.source for cell in (*before, last)).count("compare_with_print(") == 1
    (output,) = last.outputs
    head, *rows = output.data["text/plain"].splitlines()
    assert " ".join(head.split()) == "what printed ours unit differs by may differ by"
    printed = [re.split(r" {2,}", row)[1] for row in rows]
    assert printed
    assert [figure for figure in printed if f'", "{figure}", ' not in last.source] == []


@a_book
def test_it_says_where_the_problem_stands_and_how_that_is_known(path):
    problem = nbformat.read(path, 4).cells[0].source
    assert "**Problem.**" in problem
    _, mark, source = problem.partition("**Source.**")
    assert mark
    keys = re.findall(r"\[([a-z][a-z0-9_]+)\]", source)
    assert keys
    assert [key for key in keys if key not in SOURCES] == []
    assert SOURCES[keys[0]]["how_known"] in source
    assert SOURCES[keys[0]]["title"] in source


@a_book
@pytest.mark.parametrize("page", ["notebooks/00_start_here.ipynb", "README.md"])
def test_a_reader_finds_it(path, page):
    text = (ROOT / page).read_text(encoding="utf-8")
    assert f"worked/{path.name})" in text


def test_the_run_goes_red_when_one_digit_of_an_output_changes(tmp_path):
    book = nbformat.read(BOOKS[0], 4)
    nbformat.write(book, tmp_path / "kept.ipynb")
    at, cell = next((at, each) for at, each in enumerate(book.cells) if each.get("outputs"))
    data = cell.outputs[0].data
    digit = re.search(r"\d(?=\D*$)", data["text/plain"])
    data["text/plain"] = (
        data["text/plain"][: digit.start()]
        + str((int(digit[0]) + 1) % 10)
        + data["text/plain"][digit.end() :]
    )
    nbformat.write(book, tmp_path / "changed.ipynb")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "--nbval-lax", "--nbval-current-env", "-rA", "--tb=no",
         "-p", "no:cacheprovider", "--rootdir", tmp_path, tmp_path],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
    )  # fmt: skip
    code = sum(each.cell_type == "code" for each in book.cells)
    at = [each.cell_type for each in book.cells[:at]].count("code")
    assert done.returncode == 1, done.stdout
    assert re.findall(r"^FAILED (\S+)::Cell (\d+)", done.stdout, re.M) == [
        ("changed.ipynb", str(at))
    ]
    assert len(re.findall(r"^PASSED kept.ipynb", done.stdout, re.M)) == code


def test_the_usual_run_takes_them_in():
    settings = (ROOT / "pyproject.toml").read_text()
    assert re.search(r'^testpaths = .*"notebooks"', settings, re.M)
    assert '"--nbval-lax"' in settings
    hooks = (ROOT / ".pre-commit-config.yaml").read_text()
    assert re.search(r"id: nbstripout\n +exclude: \^notebooks/worked/", hooks)


# --- the table ---------------------------------------------------------------------------------


def test_a_comparison_shows_itself_as_the_same_text():
    rows = [
        ("speed", "17.2", Q(62, "km/hour"), "m/s"),
        ("ratio", "8", 7.9992, ""),
        ("angle", "-0.5", Q(-1, "deg").to("rad"), "deg", "100 %"),
        ("torque", "3.31e3", Q(3312, "lbf*ft"), "lbf·ft"),
        ("nothing", "0.0", -1e-9, "mm"),
    ]
    assert repr(compare_with_print(rows)).splitlines() == [
        "what     printed     ours  unit    differs by  may differ by",
        "speed       17.2   17.222  m/s         +0.022           0.05",
        "ratio          8     8.00                0.00            0.5",
        "angle       -0.5   -1.000  deg         -0.500          100 %",
        "torque    3.31e3  3312.00  lbf·ft       +2.00              5",
        "nothing      0.0    0.000  mm           0.000           0.05",
    ]


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (
            ("speed", "6.54", Q(6.5617, "m/s"), "m/s"),
            "speed must agree with the printed 6.54 m/s to within 0.005, got 6.5617",
        ),
        (
            ("speed", "6.54", 6.5617, "m/s", "0.3 %"),
            "speed must agree with the printed 6.54 m/s to within 0.3 %, got 6.5617",
        ),
        (
            ("speed", "6.54", 6.5617, "m/s", "0.02"),
            "speed must agree with the printed 6.54 m/s to within 0.02, got 6.5617",
        ),
        (
            ("ratio", "8", float("nan"), ""),
            "ratio must agree with the printed 8 to within 0.5, got nan",
        ),
    ],
)
def test_a_figure_off_the_print_is_refused(row, sentence):
    with pytest.raises(ValueError, match=rf"^compare_with_print: {re.escape(sentence)}\.$"):
        compare_with_print([("good", "2.0", 2.04, ""), row])


def test_all_figures_off_the_print_are_named_at_once():
    with pytest.raises(ValueError, match=r"one must .*; two must "):
        compare_with_print([("one", "1.00", 1.01, ""), ("two", "2.00", 2.01, "")])


@pytest.mark.parametrize(("ours", "agrees"), [(318.75, True), (318.85, True), (318.851, False)])
def test_half_a_digit_is_rounding_and_more_is_not(ours, agrees):
    row = ("weight", "318.8", ours, "lb")
    if agrees:
        assert "318.8" in repr(compare_with_print([row]))
    else:
        with pytest.raises(ValueError, match="weight must agree"):
            compare_with_print([row])


def test_a_text_table_keeps_its_columns_and_no_blanks_at_the_end():
    table = text_table(("a", "long"), [("word", "1"), ("b", "")], left={0})
    assert table == "a     long\nword     1\nb"
