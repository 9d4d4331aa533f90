"""A round of readings: one place of a measurement after the other, saved, repeated, taken back."""

from contextlib import suppress

import numpy as np

from enginecalc.records.doubts import ask, doubtful_lines, impossible, row_of, slip
from enginecalc.records.ledger_rows import KEY, figure
from enginecalc.records.places import Place, boxes
from enginecalc.records.reference import sizes

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
        rows = self.build.readings.latest(part=self.what.part, feature=self.what.feature)
        made = {}
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
        size = 1.0
        with suppress(ValueError):  # what cannot be read is refused below, in the ledger's words
            size = float(figure(text.strip(), unit)[0])
        if wrong := impossible(self.what, size):
            raise ValueError(f"a {self.what.name} {wrong}: nothing was saved")
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
        (Place, dict, dict)
            Where it was, the row, and the one that it had corrected or None.

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
        rows = self.build.readings.history(**{name: last[name] for name in KEY})
        before = rows[rows["line"] < last["line"]].to_dict("records")
        self.build.readings.withdraw(last, by=by)
        place = Place(*(last[name] for name in KEY[:-1]))
        if place in self.places:
            self.ask(place, int(last["repeat"]))
        return place, last, before[-1] if before and before[-1]["act"] == "reading" else None

    def doubt(self, row):
        """Return a question about a saved row that is out of proportion, "" for a plausible one."""
        here, said = row_of(self.build, row), say(row)
        others = [
            abs(row_of(self.build, each).size)
            for at, repeats in self.found().items()
            for each in repeats.values()
            if each["line"] != row["line"] and at.angle == row["angle"]
        ]
        usual = float(np.median(others)) if here.size and others else 0.0
        if usual and (off := slip(here, usual, f"the other readings of {self.what.name}")):
            return f"{said} {off}"
        for unit, ends in sizes().get(self.what.field, {}).items():
            if figure("1", unit) == figure("1", row["unit"]):
                low, high = map(float, ends)
                if not low <= float(row["value"]) <= high:
                    times = _times(abs(float(row["value"])), unit, low, high)
                    return (f"{said} is outside {low:g} to {high:g} {unit}, where a"
                            f" {self.what.name} lies: {ask(here, times)}")  # fmt: skip
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


def _times(size, unit, low, high):
    """Return by which slip a size came out of a range, 1 when none leads back into it."""
    slips = [10.0**power for power in (-3, -2, -1, 1, 2, 3)]
    slips += {"in": [25.4], "mm": [1 / 25.4]}.get(unit, [])
    middle = np.sqrt(abs(low * high))
    best = min(slips, key=lambda times: abs(np.log(size / times / middle)))
    return best if low <= size / best <= high else 1.0
