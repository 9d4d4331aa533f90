"""The form that matches measured parts to places, and says in words what to put where."""

import functools
import html

import ipywidgets as widgets
import numpy as np

from enginecalc.records import matching
from enginecalc.records.decks import deck_readings
from enginecalc.records.doubts import doubtful_lines
from enginecalc.units import Q, read
from enginecalc.views import figures, tables
from enginecalc.views.build_figures import BeforeAfter
from enginecalc.views.shop_words import fine

RODS, PISTONS = "rods to crank pins", "pistons to bores"
SHELLS, DECKS = "main shells from stock", "even decks by rods and pistons"
_CLEARANCE = {
    RODS: "rod oil clearance",
    PISTONS: "least piston clearance",
    SHELLS: "main oil clearance",
    DECKS: "deck clearance",
}
_READ = {
    RODS: {"rod housing", "rod shell wall", "crank pin diameter"},
    PISTONS: {"bore diameter", "piston diameter"},
    SHELLS: {"main housing diameter", "main shell wall", "main journal diameter"},
    DECKS: {"rod length", "piston compression height", "deck height", "crank stroke"},
}
_STOCK = "0.0950 in: 4; 0.0955 in: 10; 0.0960 in: 4"
_SWAPPED = (
    "Write down which part number went to which place: what is stamped on it no longer tells.",
    "Weigh what was swapped: it must still be within the balance limit. Parts that are swapped"
    " after balancing have to be balanced again.",
)
_CAUTIONS = {
    RODS: ("Every rod keeps its own cap, and its shells go with it. On a shared pin the chamfers"
           " face outward, to the cheeks.", *_SWAPPED),
    PISTONS: ("A bore that was honed for a piston is for that piston: match first, then hone.",
              *_SWAPPED),
    SHELLS: ("Shell halves of two sizes in one bearing: some makers forbid it, and the maker's"
             " word wins. Same make and type only; the thicker half on the loaded side, the cap."
             " Measure again with the caps torqued.",
             "Write down which size went where, upper and lower."),
    DECKS: ("Every rod keeps its own cap. Piston clearance and oil clearance are then to be worked"
            " out again; do this before matching rods and pistons.", *_SWAPPED),
}  # fmt: skip
_NEVER = "No limit is widened to make parts fit: where no choice keeps it, other parts are needed."
_WIDE, _STYLE = {"width": "auto"}, {"description_width": "12em"}


class MatchingForm(widgets.VBox):
    """Which part goes where; `ask_build()` returns the build that is open, or raises ValueError."""

    def __init__(self, ask_build, system="inch"):
        self._ask_build, self._system, self._shown = ask_build, system, None
        text = functools.partial(widgets.Text, continuous_update=False, style=_STYLE, layout=_WIDE)
        self.what = widgets.Dropdown(
            options=list(_CLEARANCE), description="match", style=_STYLE, layout=_WIDE
        )
        self.target = text(description="clearance wanted")
        self.stock = text(description="half shells in stock", placeholder=_STOCK,
                          tooltip="wall: how many halves; and so on")  # fmt: skip
        self.step = text(description="largest step in a pair", value="0.0005 in",
                         tooltip="common practice, no source; the maker's word wins")  # fmt: skip
        self.by_bank = widgets.Checkbox(
            value=True, description="pistons stay in their bank", indent=False, layout=_WIDE
        )
        self.find = widgets.Button(description="Find what goes where", layout=_WIDE)
        self.answer, self.picture = widgets.HTML(), widgets.HTML()
        self.numbers = widgets.HTML(layout={"width": "auto", "min_width": "0", "max_width": "100%"})
        self.picture.add_class("enginecalc-picture")
        self.numbers.add_class("enginecalc-numbers")
        self.figure = figures.new_figure(6.5, 3.5)
        self.drawing = BeforeAfter(self.figure.subplots())
        self.what.observe(self._chosen, "value")
        self.find.on_click(self.work_out)
        super().__init__([
            self.what, self.target, self.stock, self.step, self.by_bank, self.find,
            self.answer, self.picture, self.numbers,
        ])  # fmt: skip
        self._chosen()

    @property
    def system(self):
        """The unit system in which lengths are said.

        Setting it says again what was found, or takes it away when the readings have changed.
        """
        return self._system

    @system.setter
    def system(self, system):
        self._system = system
        if self._shown:
            build, version, *_ = self._shown
            try:
                same = self._ask_build() is build and build.readings.version == version
            except ValueError:
                same = False
            (self._show if same else self.forget)()

    def forget(self):
        """Take away what was found, as it was for other parts."""
        self._shown = None
        for each in (self.answer, self.picture, self.numbers):
            each.value = ""

    def _chosen(self, *_):
        """Show what the choice asks for."""
        self.forget()
        what, boxes = self.what.value, (self.target, self.stock, self.step, self.by_bank)
        asked = {
            RODS: boxes[:1],
            PISTONS: (boxes[0], boxes[3]),
            SHELLS: boxes[:3],
            DECKS: boxes[3:],
        }
        for each in boxes:
            each.layout.display = None if each in asked[what] else "none"
        blank = "mean of those there are" if what == PISTONS else "middle of the limits"
        self.target.placeholder = f"blank: {blank}"

    def work_out(self, *_):
        """Find what goes where, or say why it cannot be found."""
        self.forget()
        try:
            build = self._ask_build()
            found = self._found(build, self.what.value)
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
            return
        self._shown = build, build.readings.version, self.what.value, found
        self._show()

    def _found(self, build, what):
        target = _typed(self.target) if self.target.value.strip() and what != DECKS else None
        if what == RODS:
            return matching.match_rods(build, target)
        if what == PISTONS:
            return matching.match_pistons(build, target, by_bank=self.by_bank.value)
        if what == SHELLS:
            stock, step = matching.read_stock(self.stock.value), _typed(self.step)
            return matching.choose_main_shells(build, stock, step, target)
        return matching.even_decks(build, by_bank=self.by_bank.value)

    def _show(self):
        """Say what was found: the gain, what to put where, how it was found, and what to heed."""
        (build, _, what, found), system = self._shown, self._system
        choice = found.choice
        orders = "".join(f"<li>{html.escape(each)}</li>" for each in found.orders)
        stay = tables.paragraphs("" if orders else "Leave all parts as they are.")
        wide = choice.caution.removeprefix("outside the limits: ")
        wide = tables.paragraphs(f"Not within limits: {wide}." if wide else "")
        gain = tables.note(_gain(found, what, system))
        self.answer.value = f"{gain}{wide}<ul>{orders}</ul>{stay}"
        how = f"How it was found: {choice.method}."
        if choice.equal_optima and choice.equal_optima > 1:
            how += f" {choice.equal_optima} answers are as good; this one moves the fewest parts."
        words = self.drawing.place(found, _CLEARANCE[what], system)
        figures.settle(self.figure)
        self.picture.value = figures.svg(self.figure, words)
        self.numbers.value = (
            tables.paragraphs(
                *_doubts(build, what),
                *(_deck_doubts(build, system) if what == DECKS else ()),
                *_over_banks(build, what, choice),
            )
            + _table(build, what, found, system)
            + tables.paragraphs(how, *_CAUTIONS[what], _NEVER)
        )


def _typed(box):
    """Return the length in a box; a refusal names the box."""
    try:
        return read(box.value, "length")
    except ValueError as fault:
        raise ValueError(f"{box.description}: {fault}") from None


def _gain(found, what, system):
    """Return what changes, "0.0023 to 0.0025 in instead of 0.0021 to 0.0028 in"."""
    choice, name, unit = found.choice, _CLEARANCE[what], _unit(system)
    after, before = (f"{fine(each.min(), system)} to {fine(each.max(), system)} {unit}"
                     for each in (choice.after, choice.before))  # fmt: skip
    if not choice.moved:
        return f"Nothing is gained by a change: all stay, {name} {after}."
    less = "No real difference, measured as finely as this: " if choice.no_real_difference else ""
    said = f"{less}{name} {after} instead of {before}"
    if what != DECKS:
        was = np.max(np.abs(choice.before - choice.target))
        far = [_off(each, system) for each in (choice.worst_deviation, was)]
        said += f"; at most {far[0]} {unit} off what is wanted instead of {far[1]}"
    said = f"{said}; {choice.moved} part{'s' if choice.moved > 1 else ''} moved."
    return said[0].upper() + said[1:]


def _unit(system):
    return tables.SHOWN["rod_oil_clearance"][system][0]


def _off(meters, system, signed=False):
    """Return a deviation with a digit more than clearances have, a target may lie between two."""
    unit, decimals = tables.SHOWN["rod_oil_clearance"][system]
    size = round(Q(float(meters), "m").m_as(tables.UNITS[unit]), 9)
    return tables.number(size, decimals + 1, signed)


def _table(build, what, found, system):
    """Return place by place what goes there, and the clearance before and after."""
    choice, numbers = found.choice, build.cylinders
    if what == SHELLS:
        walls = [[fine(each, system) for each in half] for half in choice.order]
        parts = [f"upper {upper}, lower {lower}" for upper, lower in zip(*walls, strict=True)]
    elif what == DECKS:
        parts = [f"rod {numbers[rod]}, piston {numbers[piston]}"
                 for rod, piston in zip(*choice.order, strict=True)]  # fmt: skip
    else:
        part = "rod" if what == RODS else "piston"
        parts = [f"{part} {numbers[source]}" for source in choice.order]
    rows = [
        (place, part, fine(before, system), fine(after, system),
         _off(after - target, system, signed=True))
        for place, part, before, after, target in
        zip(found.places, parts, choice.before, choice.after, choice.target, strict=True)
    ]  # fmt: skip
    how = ", off: from what is wanted"
    if what == DECKS:
        how = ", worked out from deck height, throw, rod and piston, off: from the mean of all"
    caption = f"{_CLEARANCE[what]} [{_unit(system)}]{how}"
    return tables.html_table(("", "put in", "before", "after", "off"), rows, caption)


def _doubts(build, what):
    """Yield what is doubtful of the readings that were used."""
    doubts = doubtful_lines(build)
    lines = {line for (part, feature, _), mean in build.means().items() for line in mean.lines
             if f"{part} {feature}" in _READ[what]}  # fmt: skip
    for sentence in dict.fromkeys(doubts[line] for line in sorted(lines & {*doubts})):
        yield f"Measure again first: {sentence}"


def _deck_doubts(build, system):
    """Yield which pistons were read off their bank at the top, and whose diameter is in doubt."""
    for each in deck_readings(build):
        if each.off:
            read_at = f"{fine(each.clearance, system)} {_unit(system)}"
            yield f"cylinder {each.cylinder} was read at {read_at}: measure it again first"
    doubts = doubtful_lines(build)
    for number in build.cylinders:
        mean = build.mean("piston", "diameter", number)
        for sentence in dict.fromkeys(doubts[at] for at in (mean.lines if mean else ())
                                      if at in doubts):  # fmt: skip
            yield f"The diameter of piston {number} is in doubt, measure it again first: {sentence}"


def _over_banks(build, what, choice):
    """Yield which pistons change over to the other bank."""
    order = {PISTONS: choice.order, DECKS: choice.order[1]}.get(what, ())
    cylinders = build.engine.layout.cylinder
    over = [str(cylinders[source].number) for at, source in enumerate(order)
            if cylinders[at].bank != cylinders[source].bank]  # fmt: skip
    if over:
        yield (
            f"Over to the other bank would go piston {', '.join(over)}: only where left and right"
            " pistons are the same part, valve pockets included."
        )
