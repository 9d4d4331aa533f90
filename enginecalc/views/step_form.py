"""The box in which the steps of an assembly are answered, one by one, by keyboard alone."""

import html

import ipywidgets as widgets

from enginecalc.records.answers import answers_to, numbered
from enginecalc.records.places import place_words
from enginecalc.records.step_round import StepRound
from enginecalc.views.line_box import LineBox
from enginecalc.views.place_table import ENTRY_STYLE
from enginecalc.views.round_form import RoundForm
from enginecalc.views.tables import upper

_WIDE, _LABEL = {"width": "auto"}, {"description_width": "7em"}
_WORDS = {"Skip": "skip", "Back": "back", "Withdraw last": "withdraw", "Next part": "next"}
_STYLE = """
<style>
.enginecalc-step { font-size: 1.6em; line-height: 1.3; font-weight: 600; margin: .2em 0; }
.enginecalc-caution { border: 2px solid black; padding: .3em .6em; font-size: 1.15em;
  line-height: 1.35; margin: .3em 0; }
.enginecalc-caution b { font-weight: 700; }
.enginecalc-bench :is(input, textarea) { font-size: 1.3em !important; }
</style>
"""


class StepForm(RoundForm):
    """What to do now, what it can hurt, and a box for what was found.

    Parameters
    ----------
    told : callable
        Called after the ledger got a row.
    leave : callable
        Called to go to the next part of the work, ValueError when there is none; None where the
        page has only one.
    """

    def __init__(self, told=lambda: None, leave=None):
        self._leave, self._system = leave, "inch"
        self._drafts = {}  # {part of the work: what stood in the box}
        super().__init__(
            LineBox(self._entered, description="answer", layout={"flex": "1 1 16em"}, style=_LABEL),
            widgets.Dropdown(description="go to step", style=_LABEL, layout=_WIDE),
            {label: word for label, word in _WORDS.items() if leave or word != "next"},
            told,
        )
        self.by = widgets.Text(
            description="by whom", placeholder="name or initials", continuous_update=False,
            style=_LABEL, layout=_WIDE,
        )  # fmt: skip
        self.hint = widgets.HTML()
        row = widgets.Layout(flex_flow="row wrap", align_items="center")
        self.children = [
            widgets.HTML(ENTRY_STYLE + _STYLE),
            self.asked,
            self.by,
            widgets.HBox([self.box, self.hint], layout=row),
            self.refusal,
            self.saved,
            widgets.HBox([*self.buttons.values()], layout=row),
            self.go,
        ]
        self.add_class("enginecalc-bench")

    @property
    def round(self):
        """The `StepRound` under way."""
        return self._round

    def show(self, assembly, section, system, *, anew=False):
        """Ask for the steps of a section; a round of the same section goes on, unless `anew`."""
        before, self._system = self._round, system
        same = before is not None and _part(before.assembly, before.section)
        if same == _part(assembly, section) and not anew:
            before.assembly = assembly
            if before.asked is None:
                before.skip()  # what held may hold no more
        else:
            self._round = StepRound(assembly, section)
            if before is not None:
                line = self.box.line
                self._drafts[same] = "" if line.strip().lower() in _WORDS.values() else line
                self.box.put(self._drafts.pop(_part(assembly, section), ""))
            self.saved.value = ""
            self._refuse("")
        steps = [(_head(step), step.name) for step in section.steps]
        self._quietly(self.go, options=steps, value=None)
        self.draw()

    # --- what is entered -----------------------------------------------------------------------

    def words(self):
        made = {"skip": self._skip, "back": self._round.back, "withdraw": self._withdraw}
        return made | ({"next": self._leave} if self._leave else {})

    def save(self, text):
        cells = {}
        if self._round.asked and self._round.asked[1] is not None:
            instrument, finest, unit = self._round.usual(self._system)
            cells = {"instrument": instrument, "resolution": finest, "unit": unit}
        step, box, said, odd, holds = self._round.save(text, by=self.by.value, **cells)
        where = box.words if box else f"{self._round.section.title}, {step.name}"
        held = "It is saved: go back and type over it if it is wrong." if holds else ""
        odd += "." if odd and odd[-1] not in ".?" else ""
        words = f"{odd} {held}" if holds else f"It does not hold, and stays open. {odd}"
        self._say(f"saved: {where}: {said}", odd and words)
        self._told()

    def _skip(self):
        before = self._round.asked
        self._round.skip()
        left = before is not None and self._round.is_open(*before)
        self._say(f"left open: {before[0].name}" if left else "")

    def _withdraw(self):
        step, box = self._round.withdraw(by=self.by.value)
        self._say(f"withdrawn: {box.words if box else step.name}: nothing stands there now")
        self._told()

    def choose(self, choice):
        self._round.ask({each.name: each for each in self._round.section.steps}[choice])

    # --- what is said --------------------------------------------------------------------------

    def _refuse(self, text):
        if text:
            self._say("")  # what was saved before is no answer to this line
        super()._refuse(text)

    def draw(self):
        asked, section = self._round.asked, self._round.section
        if asked is None:
            self.asked.value = (
                '<p class="enginecalc-step" role="status">'
                f"{html.escape(upper(section.title))}: every step is done."
                f"{' Type next.' if self._leave else ''}</p>"
            )
            self.hint.value = ""
        else:
            step, box = asked
            at = section.steps.index(step) + 1
            seen = self._round.seen()
            head = f"Step {at} of {len(section.steps)}, {_head(step)}"
            caution = (
                f'<div class="enginecalc-caution"><b>Caution</b> {html.escape(step.caution)}</div>'
                if step.caution
                else ""
            )
            self.asked.value = (
                f'<p>{html.escape(head)}</p><p class="enginecalc-step" role="status">'
                f"{html.escape(step.words)}</p>{self._choices(step)}{caution}"
            )
            hint = self._hint(step, box) + (f"; {seen} stands there" if seen else "")
            self.hint.value = html.escape(hint)
        self._quietly(self.go, value=asked and asked[0].name)

    def _hint(self, step, box):
        """Return what to type."""
        if box is not None:
            unit, here = self._round.usual(self._system)[2], self._round.section.place
            where = "" if box.place == here else place_words(box.place)
            return f"{', '.join(filter(None, (where, box.direction, box.height)))} [{unit}]".strip()
        if step.kind == "figure":
            return f"with its unit, like {_EXAMPLES[step.asks][self._system]}"
        answers = answers_to(self._round.assembly.build, step)
        if numbered(answers):
            return "type its number"
        return f"type {' or '.join(answers)}" if answers else "in words"

    def _choices(self, step):
        """Return answers that are too long for a hint as a numbered list."""
        answers = answers_to(self._round.assembly.build, step)
        if not numbered(answers):
            return ""
        items = "".join(f"<li>{html.escape(each)}</li>" for each in answers)
        return f'<ol class="enginecalc-choices">{items}</ol>'


_EXAMPLES = {
    "torque": {"inch": "45 lb-ft", "metric": "61 Nm"},
    "length": {"inch": "0.006 in", "metric": "0.15 mm"},
    "angle": {"inch": "105 deg", "metric": "105 deg"},
}


def _part(assembly, section):
    """Return what tells a part of the work from others: its build, and its title."""
    return assembly.build.folder, section.title


def _head(step):
    return f"{step.stage}: {step.name}"
