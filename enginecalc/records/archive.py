"""A build as one zip file that hands it over, and a build made of such a file."""

import csv
import hashlib
import io
import re
import tempfile
import tomllib
import unicodedata
import zipfile
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from enginecalc.records.build import put_build
from enginecalc.records.engine import load_engine
from enginecalc.records.ledger_file import HEADER, LedgerFile
from enginecalc.records.zip_file import read_zip

ENGINE, LEDGER, CONTENTS = "engine.toml", "readings.csv", "contents.csv"
BESIDE = ("results.csv", "sheet.html")  # what may go along
LARGEST_ENGINE = 1_000_000  # bytes, a bound of our own: a full engine file has 5 000
COLUMNS = ("name", "bytes", "sha256", "workbook version")
_PLAIN = re.compile(r'\w[^/\\:*?"<>|\0-\x1f]{0,58}[^/\\:*?"<>|\0-\x1f. ]')
_TOO_DEEP = f"{ENGINE} has tables in tables without end: an engine has none"
_DAY = (1980, 1, 1, 0, 0, 0)  # the first a zip file knows: the same build, the same bytes


@dataclass(frozen=True)
class Archive:
    """The files of a build that were in a zip, and sentences on what was left out of them."""

    files: dict
    remarks: list


def pack(build, extra=None):
    """Return a build as the bytes of a zip file, the same for the same files.

    Its engine file, lift tables and ledger go in as they lie in its folder, with a list of
    contents by which a change on the way is found.

    Parameters
    ----------
    build : Build
        In its folder.
    extra : dict
        {"sheet.html": bytes, "results.csv": bytes}, one of them or both.

    Raises
    ------
    ValueError
        When a file is missing in the folder, or `unpack` would refuse the archive.
    """
    extra = dict(extra or {})
    if strange := sorted(extra.keys() - {*BESIDE}):
        raise ValueError(f"{_some(strange)} cannot go along; only {_some(BESIDE)} can")
    files = {ENGINE: _in_folder(build, ENGINE)}
    for table in _tables(files[ENGINE]):
        files[table] = _in_folder(build, table)
    if twice := sorted(files.keys() & extra.keys()):
        raise ValueError(f"{_some(twice)} is a lift table of the build: name the table otherwise")
    if (build.folder / LEDGER).is_file():
        files[LEDGER] = _in_folder(build, LEDGER)
    files |= extra
    files[CONTENTS] = _contents(files)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _DAY)
            entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, 3
            entry.external_attr = 0o100644 << 16
            zipped.writestr(entry, files[name])
    read_archive(out.getvalue())
    return out.getvalue()


def unpack(data, name):
    """Make a new build among the builds of a zip file, whole or not at all, and return it.

    Parameters
    ----------
    data : bytes
        Of a zip file that `pack` made, or of a build's folder that a person zipped. The list of
        contents is checked and not kept: the ledger will grow.
    name : str
        Of the new build, as `new_build` takes it.

    Raises
    ------
    ValueError
        As `read_archive`; when the name cannot be or is taken.
    """
    files = read_archive(data).files
    return put_build(name, {each: files[each] for each in files if each != CONTENTS})


def read_archive(data):
    """Return the `Archive` in a zip file, having checked that it is a build.

    Raises
    ------
    ValueError
        When it is no zip file or a damaged or unsafe one, a file is missing, strange or not as
        listed, the engine does not load or the ledger is none.
    """
    files, left_out = read_zip(data)
    if ENGINE not in files:
        raise ValueError(
            f"there is no {ENGINE} in the zip file, which has {_some(files) or 'no file'}: zip the"
            " folder of a build"
        )
    tables = _tables(files[ENGINE])
    spelt = {unicodedata.normalize("NFC", table): table for table in tables}
    files = {spelt.get(name, name): data for name, data in files.items()}
    if strange := sorted(files.keys() - {ENGINE, LEDGER, CONTENTS, *BESIDE, *tables}):
        raise ValueError(
            f"{_some(strange)} does not belong to a build: take it out of the zip file"
        )
    if CONTENTS in files:
        _must_be_as_listed(files)
    for table in tables:
        if table not in files:
            raise ValueError(f"{table}, which {ENGINE} names, is not in the zip file: put it in")
    _must_load({name: files[name] for name in (ENGINE, *tables)})
    ledger = LedgerFile()
    ledger.add(files.get(LEDGER, b""))
    if ledger.foreign:
        raise ValueError(f"{LEDGER} is not a ledger: its first line is not {HEADER.strip()}")
    remarks = [f"{each} was left out: it is no file of a build" for each in left_out]
    if CONTENTS not in files:
        said = f"there is no {CONTENTS} with check sums"
        remarks.append(f"{said}: nothing shows whether it was changed")
        for name in sorted(files.keys() & {*BESIDE}):
            del files[name]
            remarks.append(f"{name} was left out: without check sums it may be anybody's")
    return Archive(files, remarks)


def _some(names):
    return ", ".join(names)


def _in_folder(build, name):
    try:
        return (build.folder / name).read_bytes()
    except OSError as error:
        raise ValueError(f"{name} of {build.name} cannot be read: {error.strerror}") from None


def _tables(data):
    """Return the names of the lift tables in an engine file, before it is loaded.

    A file that cannot be read has none: loading it says why.
    """
    if len(data) > LARGEST_ENGINE:
        raise ValueError(f"{ENGINE} has {len(data)} bytes; an engine has at most {LARGEST_ENGINE}")
    try:
        raw = tomllib.loads(data.decode())
    except ValueError:
        return []
    except RecursionError:
        raise ValueError(_TOO_DEEP) from None
    valves = [raw.get(side) for side in ("intake", "exhaust")]
    named = [valve.get("table") for valve in valves if isinstance(valve, dict)]
    tables = sorted({each for each in named if isinstance(each, str)})
    for table in tables:
        if not _PLAIN.fullmatch(table):
            raise ValueError(
                f"{ENGINE}: the lift table {table!r} needs a plain name, beginning with a letter or"
                " digit, at most 60 signs, no folder: name it otherwise"
            )
        if table.casefold() in (ENGINE, LEDGER, CONTENTS):
            raise ValueError(f"{ENGINE}: a lift table cannot be {table}: name it otherwise")
    return tables


def _must_load(files):
    """Refuse an engine file that does not load, in the words of `load_engine`."""
    with tempfile.TemporaryDirectory() as place:
        for name, data in files.items():
            (Path(place) / name).write_bytes(data)
        try:
            load_engine(Path(place) / ENGINE)
        except RecursionError:
            raise ValueError(_TOO_DEEP) from None


def _contents(files):
    """Return the list of contents as plain CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for name in sorted(files):
        writer.writerow((name, *_mark(files[name]), version("enginecalc")))
    return out.getvalue().encode()


def _mark(data):
    """Return size and sha256 of a file as they stand in the list."""
    return str(len(data)), hashlib.sha256(data).hexdigest()


def _must_be_as_listed(files):
    """Refuse files that are not what the list of contents says."""
    try:
        head, *rows = csv.reader(io.StringIO(files[CONTENTS].decode()), strict=True)
        listed = {name: (size, mark) for name, size, mark, _ in rows}
    except (ValueError, csv.Error):
        head, listed = [], {}
    if tuple(head) != COLUMNS:
        raise ValueError(
            f"{CONTENTS} is not a list with {_some(COLUMNS)}: leave it out to do without"
        )
    for name in sorted(listed.keys() | files.keys() - {CONTENTS}):
        if name not in files:
            raise ValueError(f"{name} stands in {CONTENTS} and is not in the zip file: put it in")
        if listed.get(name) != _mark(files[name]):
            raise ValueError(
                f"{name} is not what {CONTENTS} says: fetch it anew, or leave {CONTENTS} out where"
                " it was changed on purpose"
            )
