"""The ledger of a build: readings, steps and remarks, one row of a CSV file each, only added to.

A row goes to the end of the file in one write, under a lock, and is handed to the disk before
`append` returns. A process that dies then loses nothing that was acknowledged, and half a row is
told from a whole one; whether a row outlives a loss of power is the disk's word. A process killed
within a batch may leave its first rows, whole: taking the batch in again adds only the rest.
"""

import csv
import os
import threading
from collections import Counter, namedtuple
from pathlib import Path

from filelock import FileLock, Timeout

from enginecalc.records.ledger_file import HEADER, LedgerFile, cells_in, put, why_not
from enginecalc.records.ledger_rows import COLUMNS, KEY, cells_of, inert, named, newest, where

Row = namedtuple("Row", (*COLUMNS, "line"))
Row.__doc__ = "A row of the ledger, every cell as text, and the number of its line in the file."


class Readings:
    """The ledger in a CSV file; the first row that is saved makes the file.

    Several pages, processes and threads may read and add at once. A row's key is its place, part,
    feature, direction, height, angle and repeat. The newest row of a key counts, by the order in
    the file and not by the clock: entering a repeat again corrects it, and `history` keeps both.
    Repeats 1, 2, 3 are keys of their own.

    Parameters
    ----------
    path : path
        Of readings.csv. One that a spreadsheet has saved is read as far as it is plain what it
        says, with a sentence in `problems`, and is added to in its own separator and line ends.
    """

    patience = 5.0  # seconds to wait while others write

    def __init__(self, path):
        self.path = Path(path)
        self._lock, self._mutex = FileLock(f"{self.path}.lock"), threading.RLock()
        self._file, self._stamp = LedgerFile(), None
        self._made, self._version, self._told = {}, 0, []

    # --- reading -------------------------------------------------------------------------------

    def rows(self):
        """Return every row that reads well as a table: all columns as text, and `line`."""
        return self._kept("rows", lambda rows: rows)

    def latest(self, **key):
        """Return the readings that count: the newest of each key, without those withdrawn.

        All of them, or those of a key or of a part of one, as `history` takes it.
        """
        return where(self._kept("reading", lambda rows: newest(rows, "reading")), key)

    def latest_cells(self):
        """Return the rows of `latest` as a list of dictionaries that nobody may change."""
        return self._cells("latest cells", self.latest)

    def step_cells(self):
        """Return the rows of `steps` as a list of dictionaries that nobody may change."""
        return self._cells("step cells", self.steps)

    def _cells(self, name, table):
        with self._mutex:
            self._refresh()
            if name not in self._made:
                rows = cells_in(table(), "line")
                self._made[name] = [dict(zip(Row._fields, row, strict=True)) for row in rows]
            return self._made[name]

    def steps(self, **key):
        """Return the steps that count: the newest of each place, part and step, in file order.

        All of them, or those of a key or of a part of one, as `history` takes it.
        """
        return where(self._kept("step", lambda rows: newest(rows, "step")), key)

    def history(self, **key):
        """Return all rows of a key, or of a part of one (place="3", part="bore"), oldest first."""
        return where(self.rows(), key)

    def next_repeat(self, **key):
        """Return the number of the next repeat of a key; what is not named of it is blank."""
        blank = dict.fromkeys(KEY[:-1], "")
        found = self.latest(**{**blank, **key})
        return 1 + max(map(int, found["repeat"]), default=0)

    @property
    def problems(self):
        """Sentences about what could not be read, or only in another way, with line numbers."""
        with self._mutex:
            self._refresh()
            return [*self._told, *self._file.problems]

    @property
    def version(self):
        """A number that changes whenever the file did."""
        with self._mutex:
            self._refresh()
            return self._version

    def to_csv(self, path):
        """Write a plain copy of all rows that read well: commas, decimal points, UTF-8.

        A text that a spreadsheet would work out as a formula gets an apostrophe before it, here
        and not in the ledger; hand out the copy. `take_in` takes the apostrophe off again.
        """
        path = Path(path)
        if path.resolve() == self.path.resolve():
            raise ValueError(f"{path.name} is the ledger itself; give the copy another name")
        rows = cells_in(self.rows())
        try:
            with open(path, "w", encoding="utf-8", newline="") as file:
                file.write(HEADER)
                csv.writer(file, lineterminator="\n").writerows([map(inert, row) for row in rows])
        except OSError as error:
            raise ValueError(f"the copy {path.name} is not whole: {why_not(error)}") from None

    def _kept(self, name, make):
        with self._mutex:
            self._refresh()
            if name not in self._made:
                self._made[name] = make(self._file.frame)
            return self._made[name].copy()

    def _refresh(self):
        """Read on where the file grew, anew where it changed otherwise; else only look at it."""
        try:
            found = os.stat(self.path)
            stamp = found.st_ino, found.st_size, found.st_mtime_ns
            data = None if stamp == self._stamp else self.path.read_bytes()
        except FileNotFoundError:
            stamp, data = None, b"" if self._stamp else None
        except OSError as error:
            raise ValueError(f"{self.path.name} cannot be read: {why_not(error)}") from None
        if data is None:
            return
        file = self._file
        grew = data.startswith(file.data) and not file.unclosed
        if not (grew and file.add(data[len(file.data) :])):
            self._file = LedgerFile()
            self._file.add(data)
            lost = len(file.frame) - len(self._file.frame)
            self._told = [f"changed by another program, which left out {lost} rows"] * (lost > 0)
        self._stamp, self._made, self._version = stamp, {}, self._version + 1

    # --- adding --------------------------------------------------------------------------------

    def append(self, value, unit=None, *, place, part, feature, repeat=1, **cells):
        """Save a reading and return its `Row`, once it is on the disk.

        Parameters
        ----------
        value : str
            As typed: "4.1102 in", "86,5 mm", "3 7/8 in". Kept are its digits and a short unit.
        unit : str
            For a value without one: "4.1102" and "in".
        place, part, feature : str
            What was measured: "3", "bore", "diameter".
        repeat : int
            Which repeat at the same spot; see `next_repeat`.
        **cells
            direction, height, angle; instrument, resolution, temperature, by, note; act.

        Raises
        ------
        ValueError
            When the value is blank or no figure, or it could not be written: nothing was saved.
        """
        row = {"place": place, "part": part, "feature": feature, "repeat": repeat, **cells}
        return self.append_many([{"value": value, "unit": unit, **row}])[0]

    def append_many(self, rows):
        """Save readings, each a dictionary of what `append` takes, all of them or none.

        Returns a list of `Row`. All that is wrong with them comes in one ValueError.
        """
        made = _readings_of(rows)
        return [Row(*row) for row in self._save(lambda: made, named(*made))]

    def step(self, place, what, value="", *, part="", by="", note=""):
        """Save that a step was done, `what` in the column feature; a value is a figure and unit."""
        return self._one("step", value, place=place, part=part, feature=what, by=by, note=note)

    def remark(self, note, *, place="", part="", feature="", by=""):
        """Save a remark and return its `Row`."""
        return self._one("remark", place=place, part=part, feature=feature, by=by, note=note)

    def withdraw(self, row, *, by="", note=""):
        """Take a reading or a step back by a row that says so, and return it.

        `row` is a `Row`, a row of a table, or a key: its cells by name, or all seven in order.
        """
        return self.withdraw_many([row], by=by, note=note)[0]

    def withdraw_many(self, rows, *, by="", note="", instead=()):
        """Take readings and steps back, all of them or none, and return the rows that say so.

        Parameters
        ----------
        rows : sequence
            Each as `withdraw` takes it.
        instead : sequence of dict
            Readings to save after them in the same write, as `append_many` takes them; their rows
            are returned too.

        Raises
        ------
        ValueError
            When there is nothing of one of the keys to take back, or a reading is refused.
        """
        back = [cells_of(act="withdrawn", by=by, note=note, **_key_of(row)) for row in rows]
        made = [*back, *_readings_of(instead)]

        def known():
            have = _keys(self.latest()) | _keys(self.steps())
            strange = [row for row in back if row[2:9] not in have]  # these cells are its key
            if strange:
                what = "this key" if len(back) == 1 else named(strange[0])
                raise ValueError(f"there is nothing of {what} to take back")
            return made

        return [Row(*row) for row in self._save(known, named(*made))]

    def take_in(self, source):
        """Add the rows of a filled-in CSV as one batch.

        Parameters
        ----------
        source : path, str or bytes
            A file, or its text, with the ledger's columns. A blank time is now, a blank act a
            reading. Readings without a value are skipped, and rows that the ledger has already.

        Returns
        -------
        (int, list of str)
            How many rows were added, and what could not be read, with line numbers.
        """
        if isinstance(source, os.PathLike) or (isinstance(source, str) and "\n" not in source):
            try:
                source = Path(source).read_bytes()
            except OSError as error:
                raise ValueError(f"{source} cannot be read: {why_not(error)}") from None
        data = source.encode() if isinstance(source, str) else bytes(source)
        sheet = LedgerFile(filled=True)
        sheet.add(data + (b"\r" if b"\r" in data and b"\n" not in data else b"\n"))
        rows = cells_in(sheet.frame)

        def new():
            have = Counter(cells_in(self._file.frame))
            for row, count in list(have.items()):
                have[row[1:]] += count
            made = []
            for row in rows:
                same = row if row[0] else row[1:]
                made += [] if have[same] > 0 else [row]
                have[same] -= 1
            return made

        return len(self._save(new, f"the {len(rows)} rows of the sheet")), sheet.problems

    def _one(self, act, value="", **cells):
        made = cells_of(value, act=act, **cells)
        if not cells["note" if act == "remark" else "feature"].strip():
            raise ValueError(f"a {act} must say something: nothing was saved")
        return Row(*self._save(lambda: [made], named(made))[0])

    def _save(self, make, what):
        """Write the rows that `make` returns once nobody else writes; return them."""
        try:
            os.stat(self.path.parent)  # a folder that is not there would be made by the lock
            with self._lock.acquire(timeout=self.patience, poll_interval=0.005), self._mutex:
                self._refresh()
                if self._file.foreign:
                    raise ValueError(f"{self.path.name}: {self._file.problems[0]}")
                rows = self._file.numbered(make())
                if rows:
                    put(self.path, self._file.text(rows))
                return rows
        except Timeout:
            why = f"{self.path.name} is kept locked by another page or program; try again"
        except OSError as error:
            why = f"{self.path.name}: {why_not(error)}"
        except ValueError as fault:
            why = fault
        raise ValueError(f"not saved: {what}: {why}")


def _readings_of(rows):
    """Return the cells of readings, or refuse all that is wrong with them in one ValueError."""
    made, faults = [], []
    for row in rows:
        try:
            made.append(cells_of(**{"repeat": 1, **row}))
        except ValueError as fault:
            faults.append(f"{fault}: nothing was saved")
    if faults:
        raise ValueError("\n".join(faults))
    return made


def _keys(rows):
    """Return the keys of a table of rows."""
    return {*zip(*(rows[name] for name in KEY), strict=True)}


def _key_of(row):
    """Return the key of a `Row`, of a row of a table, or of its cells by name or in order."""
    row = row._asdict() if hasattr(row, "_asdict") else row
    cells = dict(row) if hasattr(row, "keys") else dict(zip(KEY, row, strict=True))
    return {name: str(cells.get(name, "")) for name in KEY}
