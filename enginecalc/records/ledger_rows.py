"""What a row of a ledger must be: its columns, what they may hold, and how a figure is kept."""

import functools
import re

from enginecalc.units import read, read_typed, same_kind

COLUMNS = (
    *("time", "act", "place", "part", "feature", "direction", "height", "angle", "repeat"),
    *("value", "unit", "instrument", "resolution", "temperature", "by", "note"),
)
KEY = COLUMNS[2:9]
ACTS = ("reading", "withdrawn", "step", "remark")
CUT_OFF = "cut off"  # put behind a torn row, in a column too many

# How a row begins. A quoted note never runs over such a beginning: a stray quote costs one row.
BEGINS = re.compile(rf'[^,;\t\n]*[,;\t]"?({"|".join(ACTS)})"?[,;\t]')
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_ROW_INSIDE = re.compile(f"\n{BEGINS.pattern}")
_WHOLE = re.compile(r"[1-9][0-9]*")
_NUMBER = re.compile(r"[+-]?([0-9]{1,17}(\.[0-9]{0,17})?|\.[0-9]{1,17})")
_NO_TEXT = re.compile("[\0\ufffd\ud800-\udfff]")
_LOOK_AT = re.compile("[\0\r\n\ufffd]")
_FORMULA = re.compile(r"'*[=+\-@\t]")
_MARKED = re.compile(r"'+[=+\-@\t]")
LONGEST = 20_000
_SHORT = {"th": "thou", "m*N": "N*m", "°C": "degC", "°F": "degF", "µm": "um"}


@functools.lru_cache(maxsize=4096)
def figure(text, unit=""):
    """Return a typed figure as number and unit, in plain letters that no spreadsheet garbles.

    The digits stay as typed, a fraction becomes a decimal. A unit in the text overrides `unit`.

    Raises
    ------
    ValueError
        In the words of `units.read`; also for a blank, and for a figure with limits.
    """
    if not text:
        raise ValueError("blank is not zero")
    if not re.search(r"[^\s0-9.,/±+−–eE-]", text):
        text = f"{text} {unit}"
    typed = read_typed(text)
    if typed.plus is not None:
        raise ValueError(f"{text} has limits; a reading is one figure")
    size, units = typed.value.magnitude, typed.value.units
    if unit and not same_kind(units, read(f"1 {unit}").units):
        raise ValueError(f"{text} is not a figure of the kind that is read in {unit}")
    digits = re.match(r"[+-]? *[0-9.,]*", re.sub("[−–]", "-", text.strip()))[0].replace(" ", "")
    ways = [digits, digits.replace(",", "."), digits.replace(",", "")]
    ways.append(digits.replace(".", "").replace(",", "."))
    as_typed = (each for each in ways if _NUMBER.fullmatch(each) and float(each) == size)
    return next(as_typed, repr(size)), short_name(units)


def short_name(unit):
    """Return a unit's short name in plain letters, as it can be typed."""
    short = f"{unit:~C}".replace("**", "")
    return _SHORT.get(short, short)


@functools.lru_cache(maxsize=4096)
def _reads(text, kind=None):
    try:
        return read(text, kind) is not None
    except ValueError:
        return False


def plain_text(text):
    """Return the text of a cell with one sort of line end.

    Raises
    ------
    ValueError
        When it holds what is not text, or a line that could be taken for a row, or is too long.
    """
    text = re.sub("\r\n?", "\n", text)
    if len(text) > LONGEST:
        raise ValueError(f"a text of {len(text)} signs is too long; the longest is {LONGEST}")
    if _NO_TEXT.search(text):
        raise ValueError(f"{text!r} holds signs that are not text")
    if _ROW_INSIDE.search(text):
        raise ValueError("a line of it begins like a row of the ledger; put a word before it")
    return text


def cells_of(value=None, unit=None, *, act="reading", **texts):
    """Return the cells of a new row, its time blank.

    Raises
    ------
    ValueError
        When it cannot be a row; names its part and place.
    """
    if strange := texts.keys() - set(COLUMNS):
        raise TypeError(f"a row has no {', '.join(sorted(strange))}; it has {', '.join(COLUMNS)}")
    texts = {name: str(text) for name, text in texts.items()}
    row = {**dict.fromkeys(COLUMNS, ""), **texts, "act": str(act)}
    try:
        row |= {name: plain_text(text).strip() for name, text in texts.items()}
        value, unit = ("" if each is None else str(each).strip() for each in (value, unit))
        if value or act == "reading":
            row["value"], row["unit"] = figure(value, unit)
        for name, other in (("resolution", row["unit"]), ("temperature", "")):
            row[name] = row[name] and " ".join(figure(row[name], other))
        return settled(list(row.values()))
    except ValueError as fault:
        where = named(list({**row, "value": ""}.values()))
        raise ValueError(f"{where}: {fault}") from None


def named(*rows):
    """Return words for rows of cells: "bore diameter, place 3: 4.1102 in", or how many."""
    if len(rows) != 1:
        return f"{len(rows)} rows"
    row = dict(zip(COLUMNS, rows[0], strict=True))
    what = f"{row['part']} {row['feature']}".strip() or row["act"]
    place = f", place {row['place']}" if row["place"] else ""
    return what + place + (f": {row['value']} {row['unit']}" if row["value"] else "")


def inert(text):
    """Return a cell with an apostrophe before what a spreadsheet would take for a formula.

    `settled` takes it off again when the row comes back in a filled-in sheet.
    """
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def settled(cells, comma=False, filled=False):
    """Return the cells of a row as they count, or None for a row that says nothing.

    Parameters
    ----------
    cells : sequence of str
        As they stand in the file.
    comma : bool
        Whether the file's numbers have a decimal comma.
    filled : bool
        Whether it is a row of a filled-in sheet: no value then means not measured, no act reading.

    Raises
    ------
    ValueError
        Saying what is wrong with the row.
    """
    if len(cells) > len(COLUMNS) and cells[-1] == CUT_OFF:
        raise ValueError("was cut off while it was written; it does not count")
    if not any(each.strip() for each in cells):
        return None
    if len(cells) < len(COLUMNS) or any(cells[len(COLUMNS) :]):
        raise ValueError(f"has {len(cells)} columns where {len(COLUMNS)} are due")
    if _LOOK_AT.search(text := "".join(cells)) or len(text) > LONGEST:
        cells = [plain_text(each) for each in cells]
    row = dict(zip(COLUMNS, cells, strict=False))
    if filled:
        row = {name: text[1:] if _MARKED.match(text) else text for name, text in row.items()}
    row |= {name: row[name].strip() for name in PLAIN}
    if filled:
        row["act"] = row["act"] or "reading"
        if row["act"] == "reading" and not row["value"]:
            return None
    if row["act"] not in ACTS:
        raise ValueError(f"{row['act']!r} is not an act; the acts are {', '.join(ACTS)}")
    if row["value"] or row["act"] == "reading":
        row["value"], row["unit"] = _value(row["value"], row["unit"], comma)
    if row["resolution"] and not _reads(row["resolution"]):
        row["resolution"] = " ".join(figure(row["resolution"], row["unit"]))
    if row["temperature"]:
        read(row["temperature"], "temperature")
    if row["act"] == "reading":
        if blank := [name for name in ("place", "part", "feature") if not row[name]]:
            raise ValueError(f"{' and '.join(blank)} must not be blank")
        if not _WHOLE.fullmatch(row["repeat"]):
            raise ValueError(f"repeat must be a whole number from 1 up, got {row['repeat']!r}")
    return tuple(row.values())


def _value(value, unit, comma):
    """Return value and unit of a row; a unit within the value may not be another."""
    if comma and DECIMAL_COMMA.fullmatch(value):
        value = value.replace(",", ".")
    if _NUMBER.fullmatch(value) and _reads(f"1 {unit}"):
        return value, unit
    number, own = figure(value, unit)
    if unit and figure("1", unit)[1] != own:
        raise ValueError(f"{value} is in {own}, but {unit} stands beside it")
    return number, own


def newest(rows, act):
    """Return the newest row of each key that is an act, without those withdrawn."""
    rows = rows[rows["act"].isin((act, "withdrawn"))].drop_duplicates(list(KEY), keep="last")
    return rows[rows["act"] == act].reset_index(drop=True)


def where(rows, key):
    """Return the rows that have the cells of a key, or of a part of one."""
    if strange := key.keys() - set(KEY):
        raise TypeError(f"a key has no {', '.join(sorted(strange))}; it has {', '.join(KEY)}")
    for name, text in key.items():
        rows = rows[rows[name] == str(text).strip()]
    return rows.reset_index(drop=True)


def _trim(text):
    return text == text.strip()


# What makes a cell of a reading need no second look; a row that is no reading always gets one.
PLAIN = {
    "act": "reading".__eq__,
    **dict.fromkeys(KEY[:3], lambda text: text and _trim(text)),
    **dict.fromkeys(KEY[3:6], _trim),
    "repeat": _WHOLE.fullmatch,
    "value": _NUMBER.fullmatch,
    "unit": lambda text: _trim(text) and _reads(f"1 {text}"),
    "resolution": lambda text: not text or (_trim(text) and _reads(text)),
    "temperature": lambda text: not text or (_trim(text) and _reads(text, "temperature")),
}
