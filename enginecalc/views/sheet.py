"""The hand-over sheet: one HTML file that says all of a build, and prints from any browser."""

import functools
import importlib.metadata
import re
from pathlib import Path

import jinja2

from enginecalc.records.assembly import ENGINE
from enginecalc.records.hand_over import HandOver
from enginecalc.records.work_order import BUILDER_SIGNS, SECOND_SIGNS
from enginecalc.views import tables
from enginecalc.views.orientation_figures import BANKS
from enginecalc.views.sheet_assembly import (
    bob_section,
    check_section,
    clock_section,
    matching_section,
    step_section,
)
from enginecalc.views.sheet_parts import (
    BLANK,
    BOX,
    TICKED,
    Listing,
    Section,
    Table,
    Text,
    from_ledger,
)
from enginecalc.views.sheet_readings import identity_section, reading_section, remark_section
from enginecalc.views.sheet_results import (
    block_section,
    deck_section,
    fit_section,
    result_section,
    valve_section,
)
from enginecalc.views.sheet_sources import source_section
from enginecalc.views.sheet_torque import bolt_section, torque_section
from enginecalc.views.torque_words import torque_unit

WRONG = 7, 85, 40, 50  # widths of a box, what is wrong, where, and who accepts it and why
OPEN = 7, 120, 55  # of a box, what is open and where
GUARANTEE = (
    "Computed by the formulas listed at its end, from what is written here; it is no guarantee."
)
NOTHING_WRONG = "Of what is known nothing is wrong, outside its limits or doubtful."
_HOW_TO_READ = (
    "Blank is not zero: an empty underlined box is a figure that is not known, an empty square a"
    " step that is not done, a ticked one a step that was entered and holds.",
    "± behind a dimension of a part is the room its drawing leaves; behind a result and under u it"
    " is one standard uncertainty.",
    "Signs: deck clearance is + with the piston below the deck; a clearance is + where there is a"
    " gap; dish is +, dome −. Oil and piston clearances are whole gaps, not per side.",
    f"Front is the end opposite the flywheel. {BANKS}",
    "Crank angles of events count from true top dead center; cam advance is in crank degrees.",
    "Within, close, outside: against the limit beside it. Close is nearer to a limit than one"
    " standard uncertainty, than a tenth of the room between limits, or, where there is one limit"
    " only, than a tenth of it.",
    "Who says a limit stands with it. Common practice is what many builders keep, without a"
    " published source; the figure of the part's maker goes before it.",
    "Running clearances and margins hold for the engine speed and the temperatures stated under"
    " running, and for rigid parts.",
    "A computed gap replaces no clay and no feeler check.",
)
_SIGNED = {"built by": BUILDER_SIGNS, "checked by": SECOND_SIGNS, "taken over by": ""}
_NOT_TEXT = re.compile("[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff]")
_ENVIRONMENT = jinja2.Environment(
    loader=jinja2.FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=jinja2.StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def hand_over_sheet(build, *, system="inch"):
    """Return the hand-over sheet of a build as the text of one HTML file.

    It holds its drawings, no script and no address of the web, and prints on A4 and Letter. What
    is not known prints as an empty box, whatever state the build is in.

    Parameters
    ----------
    build : Build
        With or without readings and steps.
    system : str
        "inch" or "metric".

    Raises
    ------
    ValueError
        When there is no such unit system.
    """
    if system not in tables.SYSTEMS:
        known = " or ".join(tables.SYSTEMS)
        raise ValueError(f"hand_over_sheet: system must be {known}, got {system!r}")
    found = HandOver(build, torque_unit(system)[0])
    sections = [
        *_open(found),
        Section("How to read this sheet", [Listing("", list(_HOW_TO_READ))]),
        identity_section(found),
        result_section(found, system),
        fit_section(found, system),
        deck_section(found, system),
        matching_section(found, system),
        block_section(found, system),
        valve_section(found, system),
        bolt_section(found, system),
        torque_section(found),
        clock_section(found, system),
        bob_section(found),
        step_section(found),
        check_section(found),
        reading_section(found, system),
        remark_section(found),
        source_section(found),
        _signatures(found),
    ]
    title = f"{build.engine.name} · build {build.name}"
    page = _ENVIRONMENT.get_template("sheet.html.jinja").render(
        title=title,
        in_css=_in_css(title),
        newest=_newest(build),
        mark=found.assembly.mark(),
        version=_version(),
        guarantee=GUARANTEE,
        sections=sections,
        BLANK=BLANK,
        BOX=BOX,
        TICKED=TICKED,
    )
    return _NOT_TEXT.sub("\ufffd", page)


def _open(found):
    """Yield the sections of what is wrong, and of what is not known or not done."""
    heads = ("", "what", "where")
    wrong = [(BOX, from_ledger(said), where, BLANK) for said, where in found.warnings]
    said = "" if wrong else NOTHING_WRONG
    yield Section(f"Open warnings: {len(wrong)}", [
        Text(said) if said else Table("", (*heads, "accepted by, and why"), wrong, WRONG),
    ])  # fmt: skip
    left = [(BOX, *each) for each in found.blanks]
    steps = [step for each in found.assembly.sections() for step in each.steps]
    done = sum(not each.wrong for each in found.assembly.entries().values())
    boxes = sum(each.blank for each in found.unread)
    count = (f"{len(steps) - done} of {len(steps)} steps are open and {boxes} places to read are"
             " blank.")  # fmt: skip
    parts = [Text(count), *([Table("", heads, left, OPEN)] if left else [])]
    yield Section("Not known or not done", parts)


def _signatures(found):
    papers, lines = [(BLANK, BLANK)] * 4, []
    for who, step in _SIGNED.items():
        entry = found.assembly.entry(ENGINE, step)
        name, date = (BLANK, BLANK) if entry is None else (from_ledger(entry.said), entry.time[:10])
        name = f"{name}: void, see the warnings" if entry and entry.wrong else name
        lines.append((who, name, BLANK, date))
    heads = ("", "name", "signature", "date")
    count = len(found.warnings)
    still = f"{count} warning{'s are' if count != 1 else ' is'} open at the head of this sheet."
    return Section("Papers and signatures", [
        Table("Photos, cards and papers that go with this sheet", ("what", "where it is"), papers,
              (1, 1), "by-hand"),
        Text(still if count else NOTHING_WRONG),
        Table("Signed", heads, lines, (30, 50, 62, 40), "by-hand"),
    ])  # fmt: skip


def _newest(build):
    """Return the date of the newest row of the ledger, `BLANK` without rows."""
    times = build.readings.rows()["time"]
    return max(times, default="")[:10] or BLANK


@functools.cache
def _version():
    try:
        return importlib.metadata.version("enginecalc")
    except importlib.metadata.PackageNotFoundError:
        return "not installed, version not known"


def _in_css(text):
    """Return a text as a string of a style sheet in which nothing can end it."""
    safe = "".join(each if each.isascii() and each.isalnum() else f"\\{ord(each):06x}"
                   for each in text)  # fmt: skip
    return f'"{safe}"'
