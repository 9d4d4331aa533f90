"""A round of readings: one place of a measurement after the other, saved, repeated, taken back."""

import numpy as np

from enginecalc.records.doubts import doubtful_lines
from enginecalc.records.ledger_rows import KEY, figure
from enginecalc.records.places import Place, boxes
from enginecalc.records.reference import sizes
from enginecalc.units import read, to_si

_ASK = "thou, tenths or hundredths of mm?"
_FACTOR, _FAR = 10, 10  # times the other readings, and finest digits, beyond which one asks
_WORDS = {"cm3": "cc", "ft*lbf": "lbf·ft", "N*m": "N·m"}


class EntryRound:
    """The places of one measurement of a build, asked for in entry order.

    Attributes
    ----------
    places : list of Place
        All of them.
    asked : Place
        The one that a figure is saved for now; None when every place has a reading.
    repeat : int
        Which repeat there.
    seen : dict
        The ledger's row that a figure would correct, None for a blank.
    """

    def __init__(self, build, what):
        self.build, self.what = build, what
        self.places = boxes(build.engine.layout, what)
        self.asked, self.repeat, self.seen = None, 1, None
        self._mine = []  # rows saved in this round, the last one at the end
        self.skip()

    def found(self):
        """Return {`Place`: {repeat: row}} of the readings of this measurement that count."""
        rows, made = self.build.readings.latest(), {}
        rows = rows[(rows["part"] == self.what.part) & (rows["feature"] == self.what.feature)]
        for row in rows.to_dict("records"):
            at = Place(*(row[name] for name in KEY[:-1]))
            made.setdefault(at, {})[int(row["repeat"])] = row
        return {at: dict(sorted(repeats.items())) for at, repeats in made.items()}

    def ask(self, place, repeat=None):
        """Ask for a place: its last repeat when it was read, so that a figure corrects it."""
        rows = self.found().get(place, {})
        self.asked, self.repeat = place, repeat or max(rows, default=1)
        self.seen = rows.get(self.repeat)

    def skip(self):
        """Ask for the next place without a reading, from the one asked for on."""
        at, found = self._at() + 1, self.found()
        order = self.places[at:] + self.places[:at]
        self.ask(next((each for each in order if each not in found), None))

    def back(self):
        """Ask for the place before."""
        self.ask(self.places[self._at() - 1 if self.asked else -1])

    def again(self):
        """Ask for one more repeat: of the place asked for, or of the last one when it is blank."""
        last = None if self.seen else self._last()
        place = next((each for each in self.places if last.items() >= each.key.items()), None) \
            if last else self.asked  # fmt: skip
        if place is None or not (last or self.seen):
            raise ValueError("there is no reading yet to repeat")
        self.ask(place, self.build.readings.next_repeat(**place.key))

    def save(self, text, unit, **cells):
        """Save a figure for what is asked, and ask for the next place.

        Returns
        -------
        (dict, dict)
            The row, and the one it corrects or None.

        Raises
        ------
        ValueError
            Saying why nothing was saved; the same is asked for then.
        """
        place, repeat = self.asked, self.repeat
        if place is None:
            raise ValueError("every place has a reading: choose what to measure next, or go back")
        if not text.strip():
            raise ValueError("blank is not zero: type a figure, or skip")
        old = self.seen
        self.ask(place, repeat)
        if self.seen != old:
            raise ValueError("another page changed this place: look, and press Enter again")
        row = self.build.readings.append(text, unit, **place.key, repeat=repeat, **cells)._asdict()
        self._mine.append(row)
        self.skip()
        return row, old

    def withdraw(self, by=""):
        """Take back what this round saved last, or the newest of the measurement; ask for it again.

        Returns
        -------
        (Place, dict)
            Where it was, and the row.

        Raises
        ------
        ValueError
            When there is none, or another page changed it since.
        """
        last = self._last()
        if last is None:
            raise ValueError(f"there is no reading of {self.what.name} to withdraw")
        del self._mine[-1:]
        if last["line"] not in self._lines():
            raise ValueError(f"{say(last)} of line {last['line']} does not count any more: another"
                             " page changed it since")  # fmt: skip
        self.build.readings.withdraw(last, by=by)
        place = Place(*(last[name] for name in KEY[:-1]))
        if place in self.places:
            self.ask(place, int(last["repeat"]))
        return place, last

    def doubt(self, row):
        """Return a question about a saved row that is out of proportion, "" for a plausible one."""
        size, said = _quantity(row), say(row)
        others = [
            abs(to_si(_quantity(each)))
            for at, repeats in self.found().items()
            for each in repeats.values()
            if each["line"] != row["line"] and at.angle == row["angle"]
        ]
        usual, here = float(np.median(others)) if others else 0.0, abs(to_si(size))
        finest = to_si(read(f"{self.what.resolutions['inch']} {self.what.units['inch']}"))
        ratio = here / usual if usual else 1.0
        if abs(here - usual) > _FAR * finest and not 1 / _FACTOR <= ratio <= _FACTOR:
            far = "more than 10 times" if ratio > 1 else "less than a tenth of"
            return f"{said} is {far} the other readings of {self.what.name}: {_ASK}"
        for unit, ends in sizes().get(self.what.field, {}).items():
            if figure("1", unit) == figure("1", row["unit"]):
                low, high = (read(f"{end} {unit}").magnitude for end in ends)
                if not low <= size.magnitude <= high:
                    return (f"{said} is outside {low:g} to {high:g} {unit}, where a"
                            f" {self.what.name} lies: {_ASK}")  # fmt: skip
        return doubtful_lines(self.build).get(row["line"], "")

    def _at(self):
        return self.places.index(self.asked) if self.asked in self.places else -1

    def _lines(self):
        rows = [row for repeats in self.found().values() for row in repeats.values()]
        return {row["line"]: row for row in rows}

    def _last(self):
        """Return the row saved last in this round, or the newest of the measurement, or None."""
        lines = self._lines()
        return self._mine[-1] if self._mine else lines[max(lines)] if lines else None


def say(row):
    """Return what a row of the ledger reads: "4.1102 in"."""
    return f"{row['value']} {_WORDS.get(row['unit'], row['unit'])}".replace("-", "−")


def _quantity(row):
    return read(f"{row['value']} {row['unit']}")
