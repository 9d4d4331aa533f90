"""Readings typed one after the other: the place asked for in large type, one box, Enter saves."""

import html
import re

import ipywidgets as widgets

from enginecalc.records.entry_round import EntryRound, say
from enginecalc.records.places import measurements
from enginecalc.units import read
from enginecalc.views.line_box import LineBox
from enginecalc.views.place_table import ENTRY_STYLE, places_table
from enginecalc.views.round_form import RoundForm

_WIDE, _STYLE = {"width": "auto"}, {"description_width": "9.5em"}
_WHAT = {each.name: each for each in measurements()}
_WORDS = {"Withdraw last": "withdraw", "Skip": "skip", "Back": "back", "Repeat": "again"}


class EntryForm(RoundForm):
    """Readings of one sort after the other, by the keyboard alone.

    A figure and Enter: saved, said so, and the next place without a reading is asked for. The
    words skip, back, again and withdraw do what the buttons do. Nothing is saved without Enter.

    Parameters
    ----------
    told : callable
        Called after the ledger got a row.
    typing : callable
        Called at each key.
    moved : callable
        Called after another place was asked for.
    """

    def __init__(self, told=lambda: None, typing=lambda: None, moved=lambda: None):
        box = LineBox(
            self._entered, typing, description="reading", layout={"width": "17em"},
            style={"description_width": "initial"},
        )  # fmt: skip
        go = widgets.Dropdown(description="go to", layout=_WIDE, style=_STYLE)
        super().__init__(box, go, _WORDS, told)
        self._moved, self._build, self._system = moved, None, "inch"
        self._own = {}  # {(box, measurement): what was typed over what is usual}
        self.what = widgets.Dropdown(
            options=list(_WHAT), description="measure", layout=_WIDE, style=_STYLE
        )
        self.instrument, self.finest = _text("instrument"), _text("finest digit")
        self.temperature = _text("part temperature", placeholder="like 20 °C or 68 °F")
        self.by = _text("by whom")
        self.unit, self.table = widgets.HTML(), widgets.HTML()
        self.refusal.layout = {"flex": "1 1 20em"}
        self.what.observe(self._chosen, "value")
        for each in (self.instrument, self.finest):
            each.observe(self._typed_over, "value")
        row = widgets.Layout(flex_flow="row wrap", align_items="center")
        self.children = [
            widgets.HTML(ENTRY_STYLE),
            self.what,
            widgets.HBox([self.instrument, self.finest], layout=row),
            widgets.HBox([self.temperature, self.by], layout=row),
            self.asked,
            widgets.HBox([self.box, self.unit, self.refusal], layout=row),
            self.saved,
            widgets.HBox([*self.buttons.values()], layout=row),
            self.go,
            self.table,
        ]

    @property
    def now(self):
        """The measurement that is taken, and the place asked for or None."""
        return self._what, self._round.asked

    def show(self, build, system):
        """Show a build in a unit system; a round under way goes on when the build is the same."""
        before = self._round and self._round.build
        same = before is not None and build.folder == before.folder
        same = same and build.engine.layout == before.engine.layout
        self._build, self._system = build, system
        if same:
            self._prefill()
            self._round.build = build
            self.draw()
        else:
            first = (each for each in measurements() if EntryRound(build, each).asked)
            self._quietly(self.what, value=next(first, _WHAT[self.what.value]).name)
            self._chosen()

    def _chosen(self, *_):
        """Begin a round of the chosen measurement; the focus stays, for keys step on from here."""
        if self._setting:
            return
        self._prefill()
        self._round = EntryRound(self._build, _WHAT[self.what.value])
        choices = [(_words(at), at) for at in self._round.places]
        self._quietly(self.go, options=choices, value=None)
        self.saved.value = ""
        self._refuse("")
        self.draw()

    # --- the boxes above ---

    def _prefill(self):
        """Put usual instrument and finest digit, or what was typed for this measurement."""
        what, system = _WHAT[self.what.value], self._system
        usual = f"{what.resolutions[system]} {what.units[system]}"
        for box, text in ((self.instrument, what.instrument), (self.finest, usual)):
            self._quietly(box, value=self._own.get((box, what.name), text))
        self.unit.value = f'<span class="enginecalc-unit">{html.escape(what.units[system])}</span>'

    def _typed_over(self, change):
        if not self._setting:
            self._own[change["owner"], self.what.value] = change["new"]

    def _cells(self):
        """Return the cells of a row that stand in the boxes above."""
        made = {"instrument": self.instrument.value, "by": self.by.value}
        kinds = (self.finest, "resolution", None), (self.temperature, *["temperature"] * 2)
        for box, name, kind in kinds:
            made[name] = box.value.strip()
            try:
                if made[name]:
                    read(made[name], kind)
            except ValueError as fault:
                raise ValueError(f"{box.description}: {fault}") from None
        return made

    # --- what is entered ---

    def words(self):
        return {"skip": self._round.skip, "back": self._round.back, "again": self._round.again,
                "withdraw": self._withdraw, "undo": _hint, "delete": _hint}  # fmt: skip

    def save(self, text):
        unit, place, repeat = self._what.units[self._system], self._round.asked, self._round.repeat
        row, old = self._round.save(text, unit, **self._cells())
        again = f", repeat {repeat}" if repeat > 1 else ""
        words = f"{_words(place)}{again}: {say(row)} (line {row['line']} of the ledger)"
        was = f"; it was {say(old)} (line {old['line']})" if old else ""
        words = f"{'corrected' if old else 'saved'}: {words}{was}"
        self._say(words)
        if doubt := self._round.doubt(row):
            doubt += "" if doubt.endswith("?") else "."
            self._say(words, f"{doubt} It is saved: go back and type over it if it is wrong.")
        self._told()

    def _withdraw(self):
        place, row, old = self._round.withdraw(self.by.value)
        blank = f"; the place is blank now; {say(old)} of line {old['line']} does not count" \
                " either: type it again if it was right" if old else ""  # fmt: skip
        self._say(f"withdrawn: {_words(place)}: {say(row)}, of line {row['line']}{blank}")
        self._told()

    # --- what is said ---

    @property
    def _what(self):
        return self._round.what

    def draw(self):
        """Show what is asked for now, and the table with it marked."""
        at, seen, words = self._round.asked, self._round.seen, "every place has a reading"
        if at is not None:
            words = _words(at).replace(", ", " · ")
            words += f" · repeat {self._round.repeat}" if self._round.repeat > 1 else ""
        more = f"; a figure corrects {say(seen)}" if seen else ""
        self.asked.value = (
            f'<p class="enginecalc-asked" role="status">{html.escape(words)}</p>'
            f"<p>{html.escape(self._what.how + more)}.</p>"
        )
        self._quietly(self.go, value=at)
        layout, found = self._build.engine.layout, self._round.found()
        self.table.value = places_table(layout, self._what, found, at, self._system)
        self._moved()


def _hint():
    raise ValueError("nothing was taken back: to take back what was saved last, type withdraw")


def _words(place):
    """Return a place in words, its angle with a minus sign and in degrees."""
    return re.sub(r"-(?=\d)", "−", place.words).replace(" deg", "°")


def _text(name, **options):
    return widgets.Text(
        description=name, continuous_update=False, style=_STYLE,
        layout={"flex": "1 1 18em", "width": "auto"}, **options,
    )  # fmt: skip
