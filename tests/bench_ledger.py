"""Rows of `make bench` about the ledger: each function returns a ratio taken inside one run."""

import csv
import itertools
import os
import tempfile
from pathlib import Path

import pandas as pd

from enginecalc.records.ledger_file import HEADER
from enginecalc.records.readings import Readings
from tests.timing import ratio


def rows(count):
    """Return rows of cells as a workshop fills them: bores, two directions at three heights."""
    spots = list(itertools.product(range(1, 9), ("thrust", "axial"), ("top", "middle", "bottom")))
    for at in range(count):
        place, direction, height = spots[at % len(spots)]
        yield [
            "2026-03-02T10:15:00+01:00", "reading", str(place), "bore", "diameter", direction,
            height, "", str(at // len(spots) + 1), f"4.{1080 + at * 7919 % 60}", "in",
            "bore gauge", "0.0001 in", "20 degC", "JB", "after honing" if at % 5 == 0 else "",
        ]  # fmt: skip


def write_plainly(path, made):
    """Write a CSV with the csv module alone, and hand it to the disk."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        file.write(HEADER)
        csv.writer(file, lineterminator="\n").writerows(made)
        file.flush()
        os.fsync(file.fileno())


def saved_over_bare():
    """Return the time to save one reading over a bare write and fsync of the same bytes."""
    with tempfile.TemporaryDirectory() as folder:
        readings, bare = Readings(Path(folder) / "readings.csv"), Path(folder) / "bare.csv"
        repeats = itertools.count(1)

        def save():
            readings.append(
                f"4.{1000 + next(repeats)} in", place="3", part="bore", feature="diameter",
                direction="thrust", height="top", repeat=next(repeats), by="JB",
            )  # fmt: skip

        save()
        line = readings.path.read_bytes().splitlines(keepends=True)[-1]

        def write():
            with open(bare, "ab", buffering=0) as file:
                file.write(line)
                os.fsync(file.fileno())

        return ratio(save, write, rounds=300)


def taken_in_over_written():
    """Return the time to take in a sheet of 10,000 rows over writing those rows plainly."""
    made = list(rows(10_000))
    with tempfile.TemporaryDirectory() as folder:
        sheet, plain = Path(folder) / "sheet.csv", Path(folder) / "plain.csv"
        write_plainly(sheet, made)
        ledgers = (Readings(Path(folder) / f"{at}.csv") for at in itertools.count())

        def take_in():
            assert next(ledgers).take_in(sheet) == (len(made), [])

        return ratio(take_in, lambda: write_plainly(plain, made), rounds=9)


def opened_over_read_csv():
    """Return the time to open a ledger of 100,000 rows over the plain reading of it by pandas."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        write_plainly(path, rows(100_000))

        def opened():
            assert len(Readings(path).rows()) == 100_000

        return ratio(opened, lambda: pd.read_csv(path), rounds=9)


ROWS = (
    ("one reading saved / a bare write and fsync", saved_over_bare, 4),
    ("sheet of 10,000 rows taken in / written plainly", taken_in_over_written, 5),
    ("ledger of 100,000 rows opened / read by pandas", opened_over_read_csv, 3),
)
