"""A round of steps at the bench: one after the other, saved, looked at again, taken back."""

from enginecalc.records.assembly import WHAT
from enginecalc.records.entry_round import EntryRound, say


class StepRound:
    """The steps of one `Section` of an `Assembly`, asked for in the order of the work.

    Attributes
    ----------
    asks : list of (Step, Place)
        A step that is read is asked for place by place; of the others the place is None.
    asked : (Step, Place)
        The one that an answer is saved for now; None when all are done and hold.
    """

    def __init__(self, assembly, section):
        self.assembly, self.section = assembly, section
        self.asks = [
            (step, box)
            for step in section.steps
            for box in (
                assembly.boxes_of(step, section.place) if step.kind == "reading" else [None]
            )
        ]
        self.asked = None
        self._mine = []  # rows saved in this round, the last one at the end
        self.skip()

    def entry(self, step):
        """Return the `Entry` of a step, or None."""
        return self.assembly.entry(self.section.place, step.name)

    def seen(self):
        """Return what stands at the one asked for now, as text, "" for a blank."""
        if self.asked is None:
            return ""
        step, box = self.asked
        if box is not None:
            row = self.assembly.rows_of(step, self.section.place)[box]
            return say(row) if row else ""
        entry = self.entry(step)
        return entry.said if entry else ""

    def is_open(self, step, box):
        """Say whether a step, or its box, is blank or does not hold."""
        entry = self.entry(step)
        if entry is not None:
            return bool(entry.wrong)
        return box is None or self.assembly.rows_of(step, self.section.place)[box] is None

    def ask(self, step, box=None):
        """Ask for a step of the section; for a reading's first place when none is named."""
        self.asked = next(each for each in self.asks if each[0] == step and box in (None, each[1]))

    def skip(self):
        """Ask for the next one that is open, from the one asked for on."""
        at = self._at() + 1
        order = self.asks[at:] + self.asks[:at]
        self.asked = next((each for each in order if self.is_open(*each)), None)

    def back(self):
        """Ask for the one before."""
        self.asked = self.asks[self._at() - 1 if self.asked else -1]

    def save(self, text, *, by, unit="", **cells):
        """Save an answer or a figure for what is asked, and ask for the next one that is open.

        An answer that cannot stay so is saved, and asked for again. A bare figure of a reading is
        in `unit`; a step's figure needs its own.

        Returns
        -------
        (Step, Place, str, str, bool)
            What was asked, what was saved, why it cannot stay so or what is odd about it, and
            whether it holds.

        Raises
        ------
        ValueError
            Saying why nothing was saved; the same is asked for then.
        """
        if self.asked is None:
            raise ValueError(f"{self.section.title}: every step is done; go to one to change it")
        step, box = self.asked
        if box is None:
            entry = self.assembly.enter(self.section.place, step, text, by=by)
            row = {"place": self.section.place, "feature": step.name, "line": entry.line}
            said, wrong = entry.said, entry.wrong
        else:
            row = self.assembly.append(box, text, unit, by=by, **cells)
            entry = self.entry(step)
            said, wrong = say(row), entry.wrong if entry else ""
        self._mine.append((step, box, row))
        mine = [each for each in self.asks if each[0] == step]
        at = mine.index((step, box)) + 1
        if at < len(mine) or (wrong and box is not None):  # a reading is taken as a whole
            self.asked = mine[at % len(mine)]
        elif not wrong:
            self.skip()
        return step, box, said, _joined(wrong, self._doubt(step, box, row)), not wrong

    def _doubt(self, step, box, row):
        """Return a question about a figure of a reading that is out of proportion, "" otherwise.

        Or why it is no answer here.
        """
        if step.kind != "reading":
            return ""
        if self.assembly.rows_of(step, self.section.place)[box] is None:
            return f"{box.words}: read before its piston is in; read it again then"
        return EntryRound(self.assembly.build, WHAT[step.asks]).doubt(row)

    def withdraw(self, *, by):
        """Take back what this round saved last, ask for it again, and return its step and place."""
        if not self._mine:
            raise ValueError("nothing was entered on this page since this cylinder was chosen")
        step, box, row = self._mine[-1]
        if self._line(step, box) != row["line"]:
            del self._mine[-1]
            raise ValueError(f"{step.name} of line {row['line']} does not count any more: it was"
                             " entered again or taken back since")  # fmt: skip
        self.assembly.build.readings.withdraw(row, by=by)
        del self._mine[-1]
        self.ask(step, box)
        return step, box

    def _line(self, step, box):
        """Return the line of the ledger that counts for a step or its place, None for a blank."""
        if box is not None:
            row = self.assembly.newest_rows().get(tuple(box.key.values()))
            return row["line"] if row else None
        entry = self.entry(step)
        return entry.line if entry else None

    def _at(self):
        return self.asks.index(self.asked) if self.asked in self.asks else -1

    def usual(self, system):
        """Return instrument, finest digit and unit of the reading asked for, in a unit system."""
        what = WHAT[self.asked[0].asks]
        unit = what.units[system]
        return what.instrument, f"{what.resolutions[system]} {unit}", unit


def _joined(*said):
    return " ".join(filter(None, said))
