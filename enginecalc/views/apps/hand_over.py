"""Chapter 09: what is open, last checks and signatures, and the sheet that proves the build."""

import html

import ipywidgets as widgets

from enginecalc.records.assembly import ENGINE, Assembly
from enginecalc.records.hand_over import HandOver
from enginecalc.views import tables
from enginecalc.views.assembly_words import steps_table
from enginecalc.views.build_page import BuildPage, titled
from enginecalc.views.hand_over_forms import HandOverForm, TakeInForm
from enginecalc.views.sheet import NOTHING_WRONG
from enginecalc.views.step_form import StepForm
from enginecalc.views.torque_words import torque_unit

_STYLE = """
<style>
.enginecalc-sheet { width: 100%; height: 60em; border: 1px solid #BFBFBF; background: white; }
.enginecalc-open { padding-left: 1.4em; max-width: 62em; }
.enginecalc-open li { line-height: 1.4; margin: .25em 0; }
</style>
"""


class HandOverChapter(BuildPage):
    """What a build still lacks, its final checks and signatures, and the sheet to save.

    Attributes
    ----------
    steps : StepForm
        Where the final checks are answered.
    sheet : HandOverForm
        Makes the sheet, its preview and the files to save.
    """

    def page(self):
        self.steps = StepForm(self.later)
        self.warned, self.blanks, self.table = (widgets.HTML() for _ in range(3))
        for each in (self.warned, self.blanks, self.table):
            each.add_class("enginecalc-numbers")
        self.sheet = HandOverForm(lambda: (self.ask_build(), self.system.value))
        self.take_in = TakeInForm(self.offer_builds)
        self.body.children = [
            widgets.HTML(_STYLE),
            titled("what is open", self.warned),
            titled("what is missing, and where to do it", self.blanks),
            widgets.HBox(
                [
                    titled("final checks and signatures", self.steps, grow="1 1 30em"),
                    titled("what was entered", self.table, grow="1 1 30em"),
                ],
                layout=widgets.Layout(flex_flow="row wrap"),
            ),
            titled("the sheet", self.sheet),
        ]
        return [titled("open a build that came as a zip", self.take_in)]

    def stale(self):
        return [self.warned, self.blanks, self.table]

    def show(self, build, system):
        assembly, found = Assembly(build), HandOver(build, torque_unit(system)[0])
        section = assembly.section_of(ENGINE, final=True)
        self.steps.show(assembly, section, system)
        self.table.value = steps_table(assembly, section, system)
        warnings, blanks = found.warnings, found.blanks
        self.warned.value = _listed(warnings) or tables.paragraphs(NOTHING_WRONG)
        self.blanks.value = _folded(blanks) or tables.paragraphs("Nothing is missing.")
        self.sheet.clear()
        left = len(assembly.open_steps(section))
        ready = "" if warnings or blanks or left else ": the sheet is whole"
        return (
            f"{build.name}: {_count(warnings, 'open warning')}, {_count(blanks, 'blank')},"
            f" {left} of {len(section.steps)} final checks and signatures left{ready}."
        )


def _count(some, word):
    return f"{len(some)} {word}{'' if len(some) == 1 else 's'}"


def _listed(rows):
    items = "".join(
        f"<li>{html.escape(what)} <i>({html.escape(where)})</i></li>" for what, where in rows
    )
    return f'<ul class="enginecalc-open">{items}</ul>' if items else ""


def _folded(rows):
    """Return what is missing, folded by the chapter in which it is done."""
    by_place = {}
    for what, where in rows:
        by_place.setdefault(where, []).append((what, where))
    return "".join(
        f"<details><summary>{html.escape(where)}: {len(some)}</summary>"
        f'<ul class="enginecalc-open">'
        f"{''.join(f'<li>{html.escape(what)}</li>' for what, _ in some)}</ul></details>"
        for where, some in by_place.items()
    )
