"""The box for a trace of turning torque, and what it comes to."""

import ipywidgets as widgets

from enginecalc.records.places import place_words
from enginecalc.records.torque_readings import WAYS
from enginecalc.records.torque_trace import trace_of
from enginecalc.records.trace_entry import save_trace, withdraw_trace
from enginecalc.units import read
from enginecalc.views import figures
from enginecalc.views.tables import note, paragraphs, refusal
from enginecalc.views.torque_figures import TorqueTrace
from enginecalc.views.torque_words import causes_table, sentences, torque_in, torque_unit

_STYLE, _WIDE = {"description_width": "9em"}, {"width": "auto"}


class TraceForm(widgets.VBox):
    """Type a trace after a piston, see what kind of drag it added and where it touches.

    Parameters
    ----------
    ask : callable
        Returns the build, the place "engine" or a cylinder's number, the unit system and by whom;
        ValueError when there is none.
    told : callable
        Called after the ledger got rows.
    """

    def __init__(self, ask, told):
        self._ask, self._told = ask, told
        self._here = self._typed = None  # the place and unit shown, and those of what is typed
        self.way = widgets.Dropdown(options=WAYS, description="turned", style=_STYLE, layout=_WIDE)
        self.step = widgets.Text(
            "5 deg", description="step of the wheel", continuous_update=False, style=_STYLE,
            layout=_WIDE,
        )  # fmt: skip
        self.text = widgets.Textarea(
            description="torques", placeholder="0.50 0.45 0.60 …", rows=4,
            continuous_update=False, style=_STYLE, layout=_WIDE,
        )  # fmt: skip
        self.save = widgets.Button(description="Save the trace", layout=_WIDE)
        self.withdraw = widgets.Button(description="Withdraw this trace", layout=_WIDE)
        self.answer, self.picture, self.words = (widgets.HTML() for _ in range(3))
        self.picture.add_class("enginecalc-picture")
        self.words.add_class("enginecalc-numbers")
        self.figure = figures.new_figure(7, 2.6)
        self.drawing = TorqueTrace(self.figure.subplots())
        self.text.observe(self._entered, "value")
        self.save.on_click(self._saved)
        self.withdraw.on_click(self._withdrawn)
        buttons = widgets.HBox([self.save, self.withdraw], layout={"flex_flow": "row wrap"})
        super().__init__(
            [self.way, self.step, self.text, buttons, self.answer, self.picture, self.words]
        )

    def show(self, build, place, system):
        """Show the trace of a cylinder, or say what it needs."""
        unit = torque_unit(system)[0]
        if self._here != (build.folder, place, unit):
            self._here, self.answer.value = (build.folder, place, unit), ""
        self.text.description = f"torques [{unit}]"
        if place == "engine":
            self.picture.value = ""
            self.words.value = paragraphs("The crank alone: its trace is what the first piston's"
                                          " is held against.")  # fmt: skip
            return
        try:
            trace = trace_of(build, place, torque_unit(system)[0])
        except ValueError as fault:
            self.picture.value, self.words.value = "", paragraphs(sentences([str(fault)]))
            return
        sizes = (torque_in(each, system) for each in (trace.added, trace.fitted))
        said = self.drawing.place(
            trace.angles.m_as("deg"), *sizes, trace.contacts.m_as("deg"), torque_unit(system)[0],
            two_turns=trace.two_turns,
        )  # fmt: skip
        self.picture.value = figures.svg(self.figure, said)
        self.words.value = paragraphs(sentences(trace.words)) + (
            causes_table(trace.patterns) if trace.patterns else ""
        )

    def _entered(self, change):
        self._typed = self._here if change["new"] else None

    def _saved(self, _):
        try:
            if self._typed not in (None, self._here):
                _, place, unit = self._typed
                raise ValueError(f"trace: these figures were typed at {_where(place)} in {unit}:"
                                 " save them there, or type them again here")  # fmt: skip
            build, place, system, by = self._ask()
            step = read(self.step.value, "angle").m_as("deg")
            count = save_trace(
                build, place, self.way.value, self.text.value, torque_unit(system)[0], step, by=by
            )
        except ValueError as fault:
            self.answer.value = refusal(str(fault))
            return
        self.text.value = ""
        self._answer("saved", count, place)

    def _withdrawn(self, _):
        try:
            build, place, _, by = self._ask()
            count = withdraw_trace(build, place, self.way.value, by=by)
        except ValueError as fault:
            self.answer.value = refusal(str(fault))
            return
        self._answer("withdrawn", count, place)

    def _answer(self, done, count, place):
        self._told()
        self.answer.value = note(f"{done}: {count} figures, {_where(place)}, {self.way.value}")


def _where(place):
    return "the crank alone" if place == "engine" else place_words(place)
