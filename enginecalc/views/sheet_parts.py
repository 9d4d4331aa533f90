"""What a hand-over sheet is made of: tables, lists, texts and pictures, as plain texts.

The template alone turns them into HTML, and escapes every one. A cell is a text, `BLANK` for what
is not known, which prints as an empty underlined box, `BOX` for a box to tick or `TICKED`.
"""

import functools
import itertools
from dataclasses import dataclass

from enginecalc.records.figures import FITS
from enginecalc.views import tables
from enginecalc.views.shop_words import evened

BLANK, BOX, TICKED = None, object(), object()
FACTS = 48, 134  # widths of a name and what is known of it
SMALL, LONG = 11, 80  # rows of a table that is kept on one page, signs of a cell that wraps much
_UNITS = {"ft*lbf": "lbf·ft", "N*m": "N·m", "degC": "°C", "degF": "°F"}  # as the ledger has them
FINE = FITS[0]  # a length as fine as a fit
LENGTHS = {name for name in tables.SHOWN if tables.SHOWN[name] is tables.LENGTH}


@dataclass(frozen=True)
class Table:
    """Rows of cells below their heads; a row that is a text is the head of those below it.

    `widths` are shares of the columns, which fit themselves when there are none; `look` is a class
    of the style sheet.
    """

    caption: str
    heads: tuple
    rows: list
    widths: tuple = ()
    look: str = ""
    kind = "table"

    @property
    def shares(self):
        """The widths of the columns in percent."""
        return [100 * each / sum(self.widths) for each in self.widths]

    @property
    def small(self):
        """True where the whole table should stay on one page."""
        wraps = any(isinstance(each, str) and len(each) > LONG for row in self.rows for each in row)
        return len(self.rows) <= SMALL and not wraps


@dataclass(frozen=True)
class Listing:
    """Sentences in a list below a title."""

    title: str
    items: list
    kind = "list"


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    words: str
    kind = "text"


@dataclass(frozen=True)
class Picture:
    """A drawing, and the sentence below it."""

    drawing: str  # SVG text
    caption: str
    kind = "picture"


@dataclass(frozen=True)
class Columns:
    """Tables side by side, down the left column first."""

    tables: list
    kind = "columns"


@dataclass(frozen=True)
class Section:
    """A chapter of the sheet."""

    title: str
    parts: list


def cells(*some):
    """Return cells of a row: what is an empty text becomes `BLANK`."""
    return tuple(BLANK if each in ("", None) else each for each in some)


def sayer(system):
    """Return a function that says a quantity of a result's name, as `said` does."""
    return functools.partial(said, system=system)


def said(name, quantity, u=None, *, system, unit=False):
    """Return a result's quantity with the digits it bears; "" for None.

    A length whose uncertainty is known is said as fine as a fit, one without as a dial reads.
    """
    if quantity is None:
        return ""
    name = FINE if name in LENGTHS and u is not None else name
    return tables.say(name, evened(quantity, name, system), system, u, with_unit=unit)


def named(name, system):
    """Return a result's name in words with the unit of its column: "rod ratio", "set [in]"."""
    unit = tables.SHOWN[name][system][0]
    return f"{tables.name_of(name)} [{unit}]" if unit else tables.name_of(name)


def word_of(result):
    """Return the word for a result, "not known" where it has no value."""
    return "not known" if result.value is None else tables.say_status(result)


def first_figure(size):
    """Return a standard uncertainty to its first figure, "" where it is not known."""
    return f"{float(f'{size:.0e}'):.9f}".rstrip("0").rstrip(".") if size else ""


def limits_said(result, system):
    """Return what a result must be and who says so, without the unit, "no limit" for none."""
    return tables.say_limits(result, system, with_unit=False) or "no limit"


def sized(length, system):
    """Return a length as fine as a fit, without its unit, "" for None."""
    return said(FINE, length, system=system) if length is not None else ""


def from_ledger(text):
    """Return a figure of the ledger with its unit as a person writes it: "45 lbf·ft"."""
    for plain, unit in _UNITS.items():
        text = text.replace(plain, unit)
    return text


def runs(numbers):
    """Return "1 to 4, 6" of whole numbers, other names as they are."""
    numbers = list(numbers)
    if not all(isinstance(each, int) for each in numbers) or len(numbers) < 3:
        return ", ".join(map(str, numbers))
    made = []
    for _, run in itertools.groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0]):
        run = [each for _, each in run]
        made += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run)
    return ", ".join(made)
