"""The base of every chapter on screen: file, units, answer, picture, numbers, controls.

A chapter says what its controls are, what it works out, and how to draw it. The base does the
rest the same way everywhere: the typed text is the state, a refused value becomes a sentence on
the page while the last good picture greys out, and nothing that was typed is lost.
"""

import html
import re

import ipywidgets as widgets

from enginecalc.units import ureg
from enginecalc.views import build_words, figures
from enginecalc.views.controls import Field
from enginecalc.views.sources import build_of, engine_choices, engine_of
from enginecalc.views.style import KEYS, STYLE
from enginecalc.views.tables import SYSTEMS, note, refusal


class Chapter(widgets.VBox):
    """A chapter's page. Subclasses fill in the five methods that raise no error here.

    Attributes
    ----------
    fields : dict of str to Field
        By label.
    answer_line, error_line : str
        What the page says now, as plain text.
    """

    figure_sizes = ()  # (width, height) in inches for each picture
    wide_pictures = 0  # so many of them stand above the controls, as wide as the page

    def __init__(self, file="quarry-pump-v8"):
        super().__init__()
        self.add_class("enginecalc-page")
        self.fields, self.engine, self.answer_line, self.error_line = {}, None, "", ""
        self.base, self.opened_build, self._offering = None, None, False
        self._drafts = {}  # {opened: {path: text}}: what was typed stays when the file is changed
        names = engine_choices()
        self.file = widgets.Dropdown(
            options=names, value=file if file in names else names[0], description="engine file"
        )
        self.seen_as = widgets.Dropdown(description="seen as", layout={"display": "none"})
        self.again = widgets.Button(
            description="Refresh", tooltip="read the file and its readings again",
            layout={"width": "auto"},
        )  # fmt: skip
        self.system = widgets.ToggleButtons(
            options=SYSTEMS, tooltips=["inches", "millimetres"], style={"button_width": "5em"}
        )
        self.top = widgets.HBox(
            [self.file, self.seen_as, self.again, self.system],
            layout=widgets.Layout(flex_flow="row wrap"),
        )
        self.answer, self.error, self.numbers = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.doubts, self.measured = widgets.HTML(), widgets.HTML()
        self.measured.add_class("enginecalc-numbers")
        self.numbers.layout = widgets.Layout(width="auto", min_width="0", max_width="100%")
        self.numbers.add_class("enginecalc-numbers")
        self.beneath = widgets.VBox()  # under the pictures, beside the controls
        self.below = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))  # under both
        self.figures = [figures.new_figure(*size) for size in self.figure_sizes]
        self.pictures = [widgets.HTML() for _ in self.figures]
        self.under = [widgets.VBox() for _ in self.figures]  # each picture, for a chapter to fill
        for picture in self.pictures:
            picture.add_class("enginecalc-picture")
        controls = self.build()
        self._settled = False
        shown = [widgets.VBox(each) for each in zip(self.pictures, self.under, strict=True)]
        over, beside = shown[: self.wide_pictures], shown[self.wide_pictures :]
        wide = widgets.Layout(flex="1 1 25em", min_width="0", width="auto")
        wider = widgets.Layout(flex="2 1 34em", min_width="0", width="auto")
        self.children = [
            widgets.HTML(STYLE + KEYS),
            self.top,
            self.answer,
            self.error,
            self.doubts,
            *over,
            widgets.HBox(
                [
                    widgets.VBox([*beside, self.beneath], layout=wider),
                    widgets.VBox(controls, layout=wide),
                ],
                layout=widgets.Layout(flex_flow="row wrap", align_items="flex-start"),
            ),
            self.below,
            self.numbers,
            self.measured,
        ]
        self.file.observe(self._opened, "value")
        self.seen_as.observe(self._seen, "value")
        self.again.on_click(self._opened)
        self.system.observe(self._switched, "value")
        self._opened()

    # --- what a chapter says ---

    def build(self):
        """Make fields and artists; return the widgets of the control column, in order."""
        return []

    def results(self, engine):
        """Return what the chapter works out of an engine; ValueError becomes a sentence."""
        return engine

    def draw(self, found):
        """Move the artists and fill `numbers`; return the answer and the words of each picture."""
        return "", [""] * len(self.pictures)

    # --- what the base does ---

    def put_below(self, **forms):
        """Put forms side by side under pictures and controls, each under its title."""
        self.below.children = [
            widgets.VBox(
                [self.group(title.replace("_", " ")), *form],
                layout=widgets.Layout(flex="1 1 26em", min_width="0", margin="0 1em 0 0"),
            )
            for title, form in forms.items()
        ]

    def group(self, title):
        """Return a heading between controls."""
        return widgets.HTML(f'<div class="enginecalc-group">{html.escape(title)}</div>')

    def field(self, label, path, kind, low, high):
        """Return a `Field` that changes `path` of the engine; low, high are its slider's ends."""
        return self.add(Field(label, path, kind, low, high))

    def add(self, field):
        """Return a field, from now on one of the page's."""
        field.tell(self._changed)
        self.fields[field.label] = field
        return field

    def type(self, label, text):
        """Do as a person who types a text into a field and presses Enter."""
        self.fields[label].type(text)

    def typed(self):
        """Return {path: what its field means} of all that was changed in this file.

        None stands for a blank.
        """
        meanings = {field.path: field.meant for field in self.fields.values()}
        typed, wrong = {}, []
        for path, text in self.drafts().items():
            try:
                typed[path] = meanings[path](text)
            except ValueError as fault:
                wrong += [f"{path}: {line}" for line in str(fault).splitlines()]
        if wrong:
            raise ValueError("\n".join(wrong))
        return typed

    def drafts(self):
        """Return {path: text} as typed into this file so far."""
        return self._drafts.setdefault((self.file.value, self.seen_as.value), {})

    def base_engine(self):
        """Return the engine in the chosen file; ValueError when it could not be read."""
        if self.base is None:
            raise ValueError("no engine is open: choose another engine file")
        return self.base

    def offer(self):
        """Add what engine files and builds have come to the choice, without choosing one."""
        chosen = self.file.value
        self._offering = True
        try:
            self.file.options = engine_choices()
            self.file.value = chosen
        finally:
            self._offering = False

    def _opened(self, *_):
        """Read what is chosen and put it, with what was typed into it before, into the fields."""
        if self._offering:
            return
        self.base = self.opened_build = None
        try:
            self._read()
        except (ValueError, OSError) as fault:
            self._refuse(fault)
            return
        finally:
            for field in self.fields.values():
                field.lock(self.base is None)
        if self.engine is None and self.base.block.bore.units == ureg.Unit("mm"):
            self.system.value = "metric"  # the first engine opens in its own system
        self._settled = False
        self._switched()

    def _read(self):
        """Read the engine of the choice; of a build as planned, or as measured in a cylinder."""
        build = build_of(self.file.value)
        cylinders = [] if build is None else build.cylinders
        measured = [(f"cylinder {each}, as measured", each) for each in cylinders]
        self._offer_seen([("as planned", None), *measured])
        number, self.opened_build = self.seen_as.value, build
        self.base = engine_of(self.file.value) if number is None else build.measured(number)

    def _offer_seen(self, options):
        """Offer the cylinders of a build; nothing to choose for an engine file."""
        if self.seen_as.options != tuple(options):
            self._offering = True
            self.seen_as.options = options
            self._offering = False
        self.seen_as.layout.display = None if len(options) > 1 else "none"

    def _seen(self, *_):
        self._opened()

    def _switched(self, *_):
        """Show every field in the chosen unit system, and the results with it."""
        if self.base is None:
            return  # no engine is open, which the page says
        drafts = self.drafts()
        for field in self.fields.values():
            stated = field.stated(self.base.text_at(field.path))
            field.show(drafts.get(field.path, stated), self.system.value)
        build, system = self.opened_build, self.system.value
        self.measured.value = (
            "" if build is None else build_words.planned_beside_measured(build, system)
        )
        self.refresh()

    def _changed(self, field):
        self.drafts()[field.path] = field.text
        self.refresh()

    def engine_now(self):
        """Return the engine with what was typed into it; ValueError when that cannot be."""
        return self.base.altered(self.typed()) if self.typed() else self.base

    def refresh(self, *_):
        """Read, work out, draw; in that order."""
        if self.base is None:
            return
        try:
            self.engine = self.engine_now()
            found = self.results(self.engine)
        except ValueError as fault:
            self._refuse(fault)
            return
        self._say_error("")
        doubts = self.engine.remarks
        self.doubts.value = note("Look at this: " + "; ".join(doubts) + ".") if doubts else ""
        answer, words = self.draw(found)
        self._say_answer(answer)
        if not self._settled:
            for figure in self.figures:
                figures.settle(figure)
            self._settled = True
        for figure, picture, said in zip(self.figures, self.pictures, words, strict=True):
            picture.value = figures.svg(figure, said)
        self._grey(False)

    def _refuse(self, fault):
        """Say why, mark the fields it names, and grey the last good picture."""
        self._say_error(str(fault))
        self.doubts.value = ""
        self._say_answer("")
        self._grey(True)

    def _say_error(self, text):
        self.error_line = text
        for field in self.fields.values():
            field.mark(re.search(rf"\b{re.escape(field.path)}\b", text))
        self.error.value = refusal(
            text,
            "Not worked out:",
            "Picture and numbers are still those of the last figures that went together.",
        )

    def _say_answer(self, text):
        self.answer_line = text
        self.answer.value = (
            f'<p class="enginecalc-answer" role="status" aria-live="polite">{html.escape(text)}</p>'
        )

    def _grey(self, stale):
        for widget in (*self.pictures, self.numbers):
            (widget.add_class if stale else widget.remove_class)("enginecalc-stale")
