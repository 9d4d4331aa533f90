"""Rules a machine keeps: imports point one way, docstrings tell the truth, chapters are thin."""

import ast
import csv
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

import enginecalc
from enginecalc.records import figures

ROOT = Path(__file__).parent.parent
MODULES = sorted(
    each.name for each in pkgutil.walk_packages(enginecalc.__path__, prefix="enginecalc.")
)
NOTEBOOKS = sorted((ROOT / "notebooks").rglob("*.ipynb"))
SOURCES = {
    row["key"]
    for row in csv.DictReader((ROOT / "data/reference/sources.csv").read_text().splitlines())
}

# A module may import those in lists before its own, and those before it in its own list.
RANKS = [
    ["units"],
    [
        "limits",
        "uncertainty",
        "crank",
        "lobes",
        "fits",
        "fillet",
        "bob_weight",
        "measured",
        "choice",
    ],
    [
        "selection",
        "balance",
        "cylinder",
        "camshaft",
        "forces",
        "envelope",
        "rings",
        "ring_gaps",
        "deck",
        "thrust",
        "fasteners",
        "turning_torque",
    ],
    ["valves", "gas", "cam_gap", "skirt", "bolted_joint", "engine_drag"],
    ["valve_gaps"],
    [
        "records.reference",
        "records.schema",
        "records.cams",
        "records.unread",
        "records.block_faults",
        "records.ledger_rows",
        "records.zip_file",
    ],
    [
        "records.layout",
        "records.figures",
        "records.places",
        "records.ledger_file",
        "records.bolt_faults",
        "records.work_order",
    ],
    ["records.faults", "records.readings", "records.bob_card", "records.ring_placement"],
    ["records.engine", "records.seats", "records.balance_of", "records.means"],
    ["records.results", "records.block", "records.drops"],
    ["records.build"],
    [
        "records.plan",
        "records.clearances",
        "records.torque_readings",
        "records.drag_causes",
        "records.archive",
    ],
    [
        "records.valve_timing",
        "records.orientation",
        "records.block_view",
        "records.fit_results",
        "records.hand_gaps",
        "records.decks",
        "records.torque_log",
        "records.contacts",
        "records.rod_study",
        "records.bolts",
    ],
    ["records.matching", "records.doubts", "records.torque_trace", "records.wrench"],
    ["records.entry_round", "records.results_csv", "records.bolt_stretch", "records.answers"],
    ["records.assembly"],
    ["records.step_round", "records.trace_entry", "records.hand_over"],
    ["records"],
    ["views"],
    [
        "views.tables",
        "views.saving",
        "views.figures",
        "views.exercise_list",
        "views.derivation",
        "views.worked",
    ],
    [
        "views.style",
        "views.sources",
        "views.exercises",
        "views.controls",
        "views.valve_figures",
        "views.balance_figures",
        "views.balance_study",
        "views.balance_words",
        "views.motion_figures",
        "views.rod_words",
        "views.two_terms",
        "views.schematic",
        "views.sheets",
        "views.block_plan",
        "views.build_map",
        "views.line_box",
        "views.place_table",
        "views.shop_words",
        "views.torque_figures",
        "views.torque_words",
    ],
    ["views.tiles"],
    [
        "views.pin_cut",
        "views.round_form",
        "views.prints",
        "views.rod_prints",
        "views.clock_print",
        "views.bob_print",
        "views.sheet_parts",
        "views.mass_field",
        "views.bench_sheets",
        "views.block_figures",
        "views.block_words",
        "views.build_figures",
        "views.build_words",
    ],
    [
        "views.orientation_figures",
        "views.sheet_sources",
        "views.sheet_readings",
        "views.finder",
        "views.readings_entry",
        "views.valve_words",
        "views.print_form",
        "views.matching_form",
        "views.entry_form",
        "views.step_form",
        "views.assembly_words",
        "views.wrench_form",
        "views.build_forms",
    ],
    [
        "views.chapter",
        "views.build_page",
        "views.gap_figures",
        "views.gap_words",
        "views.sheet_pictures",
    ],
    [
        "views.sheet_results",
        "views.sheet_torque",
        "views.sheet_assembly",
        "views.outline_field",
        "views.rod_print_form",
        "views.assembly_cards",
        "views.trace_form",
    ],
    ["views.sheet"],
    ["views.assembly_prints", "views.hand_over_forms", "views.ring_rules_form"],
    ["views.apps"],
    [
        f"views.apps.{name}"
        for name in (
            "start",
            "plan",
            "rod_ratio",
            "piston_to_valve",
            "block_clearance",
            "measure",
            "balance",
            "assemble",
            "hand_over",
        )
    ],
]
RANK = {f"enginecalc.{name}": at for at, names in enumerate(RANKS) for name in names}
FORMULAS = [name for name in MODULES if name.count(".") == 1 and name.split(".")[1] not in
            ("records", "views")]  # fmt: skip
ALLOWED = {  # beyond the standard library
    "formulas": {"numpy", "pint", "scipy"},
    "records": {"numpy", "pint", "scipy", "pandas", "pydantic", "tomlkit", "filelock"},
    "views": {"numpy", "pint", "pandas", "matplotlib", "ipywidgets", "jinja2", "sympy"},
}


def source_of(module):
    return Path(importlib.util.find_spec(module).origin).read_text()


def imports_of(module):
    """Return the full names that a module imports, `from enginecalc import x` included."""
    found = []
    for node in ast.walk(ast.parse(source_of(module))):
        if isinstance(node, ast.Import):
            found += [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module} imports relatively"
            for each in node.names:
                inner = f"{node.module}.{each.name}"
                found.append(inner if inner in MODULES else node.module)
    return found


def layer_of(module):
    part = module.split(".")[1]
    return part if part in ("records", "views") else "formulas"


@pytest.mark.parametrize("module", MODULES)
def test_every_module_has_a_rank_and_imports_only_to_its_left(module):
    assert module in RANK, "give the new module a rank"
    for other in imports_of(module):
        if other.startswith("enginecalc."):
            assert RANK[other] < RANK[module] or other == "enginecalc.units", f"imports {other}"


@pytest.mark.parametrize("module", MODULES)
def test_libraries_stay_in_their_layer(module):
    outside = {each.split(".")[0] for each in imports_of(module)}
    strange = outside - set(sys.stdlib_module_names) - {"enginecalc"} - ALLOWED[layer_of(module)]
    assert not strange
    assert "matplotlib.pyplot" not in imports_of(module)
    if layer_of(module) == "formulas":
        tree = ast.parse(source_of(module))
        tops = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
        assert not any("scipy" in ast.unparse(node) for node in tops), "scipy: inside the function"
        called = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
        assert "open" not in called, "formulas read no file"


def test_no_module_is_named_for_nothing():
    last = {name.rpartition(".")[2] for name in MODULES}
    assert not last & {"utils", "util", "helpers", "helper", "core", "common", "misc"}


def test_a_formula_module_pulls_in_nothing_heavy():
    report = "; import sys; print(*{m.split('.')[0] for m in sys.modules})"
    pint, ours = (
        subprocess.run([sys.executable, "-c", f"{code}{report}"], capture_output=True, text=True)
        for code in ("import pint; pint.UnitRegistry()", "import enginecalc.crank")
    )
    more = {*ours.stdout.split()} - {*pint.stdout.split()}  # pint loads dask where it finds it
    assert "enginecalc" in more
    assert not {"pandas", "matplotlib", "ipywidgets", "pydantic", "scipy", "tomlkit"} & more


def formulas():
    """Return the decorated public formulas of all formula modules."""
    for module in FORMULAS:
        for name, each in vars(importlib.import_module(module)).items():
            if hasattr(each, "kernel") and each.__module__ == module and not name.startswith("_"):
                yield pytest.param(each, id=f"{module.rpartition('.')[2]}.{name}")


@pytest.mark.parametrize("formula", list(formulas()))
def test_a_docstring_says_what_the_decorator_does(formula):
    doc = inspect.getdoc(formula)
    assert doc.partition("\n")[0].startswith("Return ")
    assert doc.partition("\n")[0].endswith(".")
    described = section(doc, "Parameters")
    names, units = [], {}
    for head, text in re.findall(r"^(\*{0,2}\w[\w, *]*) : .*\n((?:    .*\n?)+)", described, re.M):
        for name in head.split(", "):
            names.append(name.strip("*"))
            found = re.findall(r"\[([^\]]+)\]", text)
            units[names[-1]] = found[-1] if found else None
    assert names == list(inspect.signature(formula).parameters), "describe each parameter, in order"
    for name in names:
        assert units[name] == formula.takes.get(name), f"the unit of {name}"
    returned = re.findall(r"\[([^\]]+)\]", section(doc, "Returns"))
    assert returned[-1:] == [formula.returns]
    assert "UnitError" in section(doc, "Raises")


def section(doc, title):
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", doc, re.M | re.S)
    assert found, f"no section {title}"
    return found[1]


@pytest.mark.parametrize("module", MODULES)
def test_source_keys_resolve(module):
    keys = re.findall(r"\[([a-z][a-z0-9_]{2,})\]", "\n".join(sources_sections(module)))
    assert not [key for key in keys if key not in SOURCES]


def sources_sections(module):
    for doc in re.findall(r'"""(.*?)"""', source_of(module), re.S):
        _, mark, after = doc.partition("Sources")
        if mark:
            yield after


LOGIC = (ast.FunctionDef, ast.ClassDef, ast.Lambda, ast.For, ast.While, ast.If, ast.Try, ast.With)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_chapter_is_thin_and_clean(path):
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    assert book.metadata.kernelspec.name == "python3"
    assert book.cells[0].cell_type == "markdown", "open with a title and a purpose"
    assert book.cells[0].source.startswith("# ")
    assert len({cell.id for cell in book.cells}) == len(book.cells)
    for cell in (each for each in book.cells if each.cell_type == "code"):
        assert not [n for n in ast.walk(ast.parse(cell.source)) if isinstance(n, LOGIC)]
        assert len(cell.source.splitlines()) <= 8
        if path.parent.name == "worked":
            assert not cell.outputs or "nbval-check-output" in cell.metadata.get("tags", [])
        else:
            assert not cell.outputs, "strip outputs"
            assert cell.execution_count is None, "strip outputs"
            shown = "exercise" in cell.metadata.get("tags", [])  # there a reader types
            assert shown or cell.metadata.jupyter.source_hidden


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_chapter_links_only_what_exists(path):
    cells = nbformat.read(path, as_version=4).cells
    for link in re.findall(r"\]\(([^)#]+)\)", "\n".join(cell.source for cell in cells)):
        assert (path.parent / link).exists(), link


def test_the_glossary_holds_every_name_a_reader_meets():
    glossary = (ROOT / "data/reference/glossary.csv").read_text(encoding="utf-8").splitlines()
    known = {row["name"] for row in csv.DictReader(glossary)}
    met = {each.values[0].__name__ for each in formulas()} | {*figures.RESULTS}
    for each in formulas():
        met |= {*inspect.signature(each.values[0]).parameters}
    assert sorted(met - known) == []
