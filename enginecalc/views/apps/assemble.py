"""Chapter 08: put the engine together, one cylinder after the other, and feel after each."""

import ipywidgets as widgets

from enginecalc.records.assembly import ENGINE, Assembly
from enginecalc.records.orientation import orientation
from enginecalc.views import assembly_words as words
from enginecalc.views import figures, tables, torque_words
from enginecalc.views.assembly_prints import AssemblyPrintForm
from enginecalc.views.build_page import BuildPage, titled
from enginecalc.views.orientation_figures import OrientationFigure
from enginecalc.views.ring_rules_form import RingRulesForm
from enginecalc.views.step_form import StepForm
from enginecalc.views.torque_figures import TorqueSteps
from enginecalc.views.trace_form import TraceForm
from enginecalc.views.wrench_form import WrenchForm

_OUT = "Take this piston out again"
_SURE = "Press again: take the piston out"


class AssembleChapter(BuildPage):
    """One screen for each cylinder: what to do now, how it goes, what was logged, what binds.

    Attributes
    ----------
    now : Dropdown
        The section of the work on the page.
    steps : StepForm
        Where answers are typed.
    """

    def page(self):
        self.assembly, self._offering = None, False
        self.now = widgets.Dropdown(description="at", layout={"width": "auto"})
        self.steps = StepForm(self.later, self._next)
        self.take_out = widgets.Button(
            description=_OUT, layout={"width": "auto", "align_self": "flex-start"}
        )
        self.taken, self._shown = widgets.HTML(), None
        self.orientation, self.bars = OrientationFigure(), figures.new_figure(7, 2.6)
        self.log_picture = TorqueSteps(self.bars.subplots())
        self.view, self.torque = widgets.HTML(), widgets.HTML()
        for picture in (self.view, self.torque):
            picture.add_class("enginecalc-picture")
        texts = [widgets.HTML() for _ in range(6)]
        self.wrongs, self.facts, self.table, self.left, self.log_words, self.bolts = texts
        for text in texts:
            text.add_class("enginecalc-numbers")
        self.trace = TraceForm(self._for_trace, self.refresh)
        self.wrench = WrenchForm(lambda: self.ask_build().engine)
        self.rules = RingRulesForm(self.ask_build)
        self.prints = AssemblyPrintForm(self._for_prints)
        row = widgets.Layout(flex_flow="row wrap")
        self.work = widgets.Box(
            [
                titled("what to do now", self.now, self.steps),
                titled("how it goes", self.view, self.facts),
                titled("what was entered", self.table, self.take_out, self.taken, self.left),
            ],
            layout=widgets.Layout(display="grid"),
        )
        self.work.add_class("enginecalc-work")
        self.body.children = [
            self.wrongs,
            self.work,
            titled("turning torque", self.torque, self.log_words),
            titled("a trace after this piston", self.trace),
            titled("rod bolts by their lengths", self.bolts),
            widgets.HBox(
                [
                    titled("ring gaps by rules", self.rules, grow="1 1 26em"),
                    titled("a wrench with an adaptor", self.wrench, grow="1 1 26em"),
                    titled("for the bench, on paper", self.prints, grow="1 1 26em"),
                ],
                layout=row,
            ),
        ]  # fmt: skip
        self.now.observe(self._chosen, "value")
        self.take_out.on_click(self._taken_out)
        return []

    def stale(self):
        return [self.view, self.torque, self.facts, self.table]

    # --- what is on the page -------------------------------------------------------------------

    @property
    def section(self):
        """The `Section` on the page."""
        return next(each for each in self.assembly.sections() if each.title == self.now.value)

    def show(self, build, system):
        other = self.assembly is None or self.assembly.build is not build
        self.assembly = Assembly(build)
        self._offer(first=other)
        self.steps.show(self.assembly, self.section, system)
        self._draw(build, system)
        return self._answer()

    def _offer(self, first):
        """Offer the sections, each with what is left of it; choose the first open one at first."""
        sections = self.assembly.sections()
        labels = [(f"{each.title}{self._state(each)}", each.title) for each in sections]
        wanted = next((each.title for each in sections if not self.assembly.done(each)),
                      sections[-1].title)  # fmt: skip
        if not first:
            wanted = self.now.value
        self._offering = True
        try:
            self.now.options = labels
            self.now.value = wanted
        finally:
            self._offering = False

    def _state(self, section):
        left = len(self.assembly.open_steps(section))
        found = (self.assembly.entry(section.place, step.name) for step in section.steps)
        if any(entry is not None and entry.wrong for entry in found):
            return ": does not hold"
        if not left:
            return ": done"
        return "" if left == len(section.steps) else f": {left} of {len(section.steps)} left"

    def _draw(self, build, system):
        section, picture = self.section, ""
        if section.place != ENGINE:
            number = build.cylinder(section.place)
            said = self.orientation.place(
                build.engine, orientation(build.engine, number), words.ring_gaps(build),
                words.tang_side(build, number), system, words.pocket_side(build),
            )  # fmt: skip
            picture = figures.svg(self.orientation.figure, said)
            facts = words.facts(build, number, system)
        else:
            facts = words.engine_facts(build, system)
        self.view.value, self.facts.value = picture, facts
        if self._shown != build.folder:  # what was said of another build
            self._shown, self.taken.value = build.folder, ""
            self.wrench.clear()
        inside = any(self.assembly.entry(section.place, step.name) for step in section.steps
                     if step.stage != "rings" and step.scope == "cylinder")  # fmt: skip
        self.take_out.layout.display = None if inside else "none"
        rows, log = torque_words.log_bars(build, system)
        self.torque.layout.display = None if rows else "none"
        self.torque.value = figures.svg(self.bars, self.log_picture.place(
            rows, *torque_words.torque_unit(system)))  # fmt: skip
        self.log_words.value = torque_words.log_words(build, log)
        self.table.value = words.steps_table(self.assembly, section, system)
        self.left.value = tables.paragraphs(words.left_words(self.assembly))
        self.wrongs.value = words.wrong_list(self.assembly)
        self.trace.show(build, section.place, system)
        self.bolts.value = words.stretch_table(build, system)

    def _answer(self):
        """Return where the work stands, what does not hold, and what comes next."""
        assembly, section = self.assembly, self.section
        left, fitted = len(assembly.open_steps(section)), assembly.fitted()
        pistons = f"{len(fitted)} of {len(assembly.build.cylinders)} pistons are in"
        said = f"{assembly.build.name}, {section.title}: "
        said += f"{left} of {len(section.steps)} steps are open" if left else "every step is done"
        wrong = len({entry.wrong for entry in assembly.wrong()})
        if wrong:
            said += f". {wrong} entr{'y does' if wrong == 1 else 'ies do'} not hold, see below"
        following = assembly.next_cylinder()
        if following is None:
            return f"{said}. {pistons}."
        number, angle = following
        return (f"{said}. {pistons}; the pin that comes next is cylinder {number}'s, with the crank"
                f" at {angle.m_as('deg'):g}° from cylinder {assembly.build.cylinders[0]} at its"
                " top.")  # fmt: skip

    # --- what a person does --------------------------------------------------------------------

    def _chosen(self, _):
        if not self._offering and self.build is not None:
            self.taken.value, self.take_out.description = "", _OUT
            self.refresh()

    def _next(self):
        """Go to the next section with an open step; ValueError when there is none."""
        sections = self.assembly.sections()
        at = [each.title for each in sections].index(self.now.value) + 1
        order = sections[at:] + sections[:at]
        following = next((each for each in order if not self.assembly.done(each)), None)
        if following is None:
            raise ValueError("every step of this build is done")
        self.now.value = following.title

    def _taken_out(self, _):
        """Take a piston out at the second press, so that a slip of the hand takes nothing."""
        place = self.section.place
        if self.take_out.description == _OUT:
            self.take_out.description = _SURE
            return
        self.take_out.description = _OUT
        try:
            count = self.assembly.take_out(place, by=self.steps.by.value, note="piston taken out")
        except ValueError as fault:
            self.taken.value = tables.note(str(fault))
            return
        self.taken.value = tables.note(
            f"cylinder {place}: {count} row{'s' * (count > 1)} taken back, from its piston to its"
            " turning torque, the lengths of its bolts as tightened, and what was checked after it"
        )
        self.steps.show(self.assembly, self.section, self.system.value, anew=True)
        self.refresh()

    def _for_trace(self):
        return self.ask_build(), self.section.place, self.system.value, self.steps.by.value

    def _for_prints(self):
        build, place = self.ask_build(), self.section.place
        number = None if place == ENGINE else build.cylinder(place)
        return build, number, self.system.value
