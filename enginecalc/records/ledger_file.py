"""The CSV file of a ledger: read as it grows, whichever program saved it, and added to."""

import contextlib
import csv
import errno
import io
import os
import re
from datetime import datetime
from itertools import compress

import numpy as np
import pandas as pd

from enginecalc.records.ledger_rows import (
    BEGINS,
    COLUMNS,
    CUT_OFF,
    DECIMAL_COMMA,
    LONGEST,
    PLAIN,
    settled,
)

HEADER = ",".join(COLUMNS) + "\n"
_MARK = b"\xef\xbb\xbf"  # the byte-order mark
_EITHER = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")  # 4,110: a decimal comma or thousands
_KINDS = {**dict.fromkeys(COLUMNS, str), "line": int}
_FEW = 200  # lines that are sooner read one by one
_WHY = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk is full",
    **dict.fromkeys((errno.EACCES, errno.EPERM, errno.EROFS), "the folder may not be written to"),
}


class LedgerFile:
    """The text of a ledger or a filled-in sheet, read as it grows.

    A row whose quotes do not close, that has other than 16 columns, or cells that cannot be read,
    becomes a sentence of `problems` and is no row of `frame`.

    Attributes
    ----------
    sep, end, comma
        Separator, line end, and whether numbers have a decimal comma: for rows to come too.
    data, tail : bytes
        The whole lines that were read, and what stands behind the last line end.
    lines : int
        How many lines were read; 0 until there is a header.
    foreign : bool
        Whether the first line is not the ledger's.
    unclosed : bool
        Whether the last line may be the first half of a row. Then it cannot be read on.
    """

    def __init__(self, filled=False):
        self.sep, self.end, self.comma = ",", "\n", False
        self.data, self.tail, self.lines = bytearray(), b"", 0
        self.foreign = self.unclosed = False
        self._filled, self._marks, self._faults = filled, [], {}
        self._frames, self._rows = [], []

    def add(self, more):
        """Read what follows `data`; return False when all must be read from the beginning."""
        begin = 0 if self.lines else self._begin(more)
        end = more.rfind(self.end[-1].encode()) + 1 if self.lines else begin
        whole, self.tail = more[begin:end], more[end:]
        if not whole:
            return True
        self.data += whole
        first, text = self.lines + 1, self._decoded(whole)
        lines = text.split("\n")[:-1]
        self.lines += len(lines)
        signs = "\r\0\ufffd'" if self._filled else "\r\0\ufffd"
        careful = (
            len(lines) < _FEW
            or any(each in text for each in signs)
            or max(map(len, lines)) > LONGEST
        )
        stray = self._by_records(text, lines, first, careful)
        values = [cells[9].strip() for _, cells in stray if len(cells) > 9]
        if not self._settle_commas([each for each in values if "," in each], first == 2):
            return False
        for line, cells in sorted(stray):
            try:
                row = settled(cells, self.comma, self._filled)
            except ValueError as fault:
                self._faults[line] = str(fault)
            else:
                self._rows += [] if row is None else [(*row, line)]
        return True

    def _begin(self, data):
        """Return where the rows begin, behind a header."""
        self.foreign = False
        found = re.match(rb"(\xef\xbb\xbf)?([^\r\n]*)(\r\n|\r|\n)", data)
        if found is None:
            self.foreign = not HEADER.encode().startswith(data.removeprefix(_MARK))
            return 0
        for sep in ",;\t":
            heads = next(csv.reader([found[2].decode("utf-8", "replace")], delimiter=sep))
            if ",".join(each.strip().lower() for each in heads).rstrip(",") == HEADER.strip():
                break
        else:
            self.foreign = True
            return 0
        self.data += found[0]
        self.sep, self.end, self.lines = sep, found[3].decode(), 1
        self._marks = {",": [], ";": ["semicolons"], "\t": ["tabs"]}[sep]
        self._marks += ["a byte-order mark"] if found[1] else []
        self._marks += ["carriage returns"] if "\r" in self.end else []
        return found.end()

    def _decoded(self, data):
        """Return bytes as text with one sort of line end, what is not UTF-8 as Windows-1252."""
        cut = self.end[-1]
        try:
            text = data.decode()
        except UnicodeDecodeError:
            lines = data.split(cut.encode())
            for at, line in enumerate(lines):
                try:
                    lines[at] = line.decode()
                except UnicodeDecodeError:
                    lines[at] = line.decode("cp1252", "replace")
                    told = "is not UTF-8; read as Windows-1252, so look at its signs"
                    self._faults[self.lines + 1 + at] = told
            text = cut.join(lines)
        if "\r" in text:
            text = text.replace("\r\n" if cut == "\n" else "\r", "\n")
        return text

    def _by_records(self, text, lines, first, careful):
        """Return [(line, cells)] of rows that need a second look; keep the plain readings."""
        odd = range(len(lines))
        if not careful:
            due = len(COLUMNS) - 1
            odd = [
                at for at, line in enumerate(lines) if line.count(self.sep) != due or '"' in line
            ]
        stray, past, plain = [], 0, np.full(len(lines), not careful)
        for at in odd:
            if at < past:
                continue
            cells, past = self._record(lines, at)
            plain[at:past] = False
            if cells is None:
                self._faults[first + at] = "a quote or a carriage return stands astray in it"
            else:
                stray.append((first + at, cells))
        if plain.any():
            text = text if plain.all() else "\n".join(compress(lines, plain))
            stray += self._plain_readings(text, first + np.flatnonzero(plain))
        return stray

    def _record(self, lines, at):
        """Return the cells of the record that begins at a line, and the line after it."""
        text, past = lines[at], at + 1
        while text.count('"') % 2 and past < len(lines) and len(text) < 2 * LONGEST:
            if BEGINS.match(lines[past]):
                break
            text, past = f"{text}\n{lines[past]}", past + 1
        for record, after in ((text, past), (lines[at], at + 1)):
            try:
                return next(csv.reader([record], delimiter=self.sep, strict=True), []), after
            except csv.Error:
                continue
        self.unclosed |= past == len(lines)
        return None, at + 1

    def _plain_readings(self, text, numbers):
        """Keep the rows of a text without quotes that are readings as they should be."""
        frame = pd.read_csv(
            io.BytesIO(text.encode()), sep=self.sep, header=None, names=list(COLUMNS), dtype=str,
            na_filter=False, quoting=csv.QUOTE_NONE, index_col=False, skip_blank_lines=False,
        )  # fmt: skip
        frame["line"] = numbers
        good = np.full(len(frame), True)
        for name, is_plain in PLAIN.items():
            strange = [each for each in set(frame[name].tolist()) if not is_plain(each)]
            if strange:
                good &= ~frame[name].isin(strange)
        self._frames.append(frame if good.all() else frame[good].reset_index(drop=True))
        return [(line, cells) for *cells, line in cells_in(frame[~good], "line")]

    def _settle_commas(self, commas, afresh):
        """Learn from the values that hold commas whether these are decimal; False: read anew."""
        if not commas:
            return True
        comma = all(map(DECIMAL_COMMA.fullmatch, commas))
        if not afresh:
            return comma and self.comma
        self.comma = comma and not all(map(_EITHER.fullmatch, commas))
        self._marks += ["decimal commas"] if self.comma else []
        return True

    @property
    def frame(self):
        """The rows that read well, every column of the file as text, and `line`, its number."""
        if self._rows or not self._frames:
            rows = pd.DataFrame(self._rows, columns=list(_KINDS)).astype(_KINDS)
            self._frames, self._rows = [*self._frames, rows], []
        if len(self._frames) > 1:
            self._frames = [pd.concat(self._frames).sort_values("line", ignore_index=True)]
        return self._frames[0]

    @property
    def problems(self):
        """Sentences about what could not be read, by the number of the line."""
        if self.foreign:
            return [f"the first line is not {HEADER.strip()}: nothing is read or added here"]
        told = [f"line {line}: {fault}" for line, fault in sorted(self._faults.items())]
        if self._marks:
            ways = ", ".join(self._marks)
            told.insert(0, f"saved by another program, with {ways}: read and added to in that way")
        if self.tail:
            told.append(
                f"line {self.lines + 1}: has no line end, so it was cut off or is being written;"
                " it does not count"
            )
        return told

    def numbered(self, rows):
        """Return rows of cells as they will be saved: with a time, and the number of their line."""
        now = datetime.now().astimezone().isoformat(timespec="seconds")
        line = max(self.lines, 1) + 1 + bool(self.lines and self.tail)
        made = []
        for time, *cells in rows:
            made.append((time or now, *cells, line))
            line += 1 + "".join(cells).count("\n")
        return made

    def text(self, rows):
        """Return the bytes that add rows to the file: its header first, or what ends a torn row."""
        out = io.StringIO()
        if not self.lines:
            out.write(HEADER[len(self.tail.removeprefix(_MARK)) :])
        elif self.tail:
            out.write(f"{self.sep * len(COLUMNS)}{CUT_OFF}{self.end}")
        writer = csv.writer(out, delimiter=self.sep, lineterminator=self.end)
        for *cells, _ in rows:
            if self.comma:
                cells[9] = cells[9].replace(".", ",")
            if self.end != "\n":
                cells = [each.replace("\n", self.end) for each in cells]
            writer.writerow(cells)
        return out.getvalue().encode()


def cells_in(frame, *more):
    """Return the rows of a table as a list of cells each, faster than pandas walks over them."""
    return list(zip(*(frame[name].tolist() for name in (*COLUMNS, *more)), strict=True))


def put(path, data):
    """Write bytes to the end of a file and onto the disk, or leave it as it was.

    Raises
    ------
    OSError
        When nothing, or not all of it, could be written: what was is taken off again if possible.
    """
    with open(path, "ab", buffering=0) as file:
        handle = file.fileno()
        size = os.fstat(handle).st_size
        try:
            left = memoryview(data)
            while left:
                left = left[os.write(handle, left) :]
            os.fsync(handle)
        except BaseException:
            with contextlib.suppress(OSError):
                os.ftruncate(handle, size)
            raise
        if not os.path.samestat(os.fstat(handle), os.stat(path)):
            raise OSError("another program put a file in its place; try again")


def why_not(error):
    """Return in words why the system refused."""
    return _WHY.get(error.errno) or error.strerror or str(error)
