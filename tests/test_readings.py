"""The ledger: saved whole or refused, corrected by adding, read whichever program saved it."""

import csv
import io
import itertools
import os
import random
import re
from collections import Counter
from datetime import datetime

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pandas.testing import assert_frame_equal

from enginecalc.records import ledger_file, readings
from enginecalc.records.ledger_file import HEADER
from enginecalc.records.ledger_rows import COLUMNS, figure
from enginecalc.records.readings import Readings
from enginecalc.units import read

BORE = {"place": "3", "part": "bore", "feature": "diameter"}
TOP = {**BORE, "direction": "thrust", "height": "top"}
TIME = "2026-03-02T10:15:00+01:00"


@pytest.fixture(autouse=True, scope="module")
def no_waiting():
    """Do without the disk's acknowledgment, which a busy machine gives late."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        yield


@pytest.fixture
def ledger(tmp_path):
    """Return a ledger that has no file yet."""
    return Readings(tmp_path / "readings.csv")


def line(value="4.1102", unit="in", act="reading", note="", sep=",", repeat="1", **cells):
    """Return a row as another program would write it."""
    row = {**dict.fromkeys(COLUMNS, ""), "time": TIME, **BORE, "act": act, "repeat": repeat,
           "value": value, "unit": unit, "note": note, **cells}  # fmt: skip
    out = io.StringIO()
    csv.writer(out, delimiter=sep, lineterminator="").writerow(row.values())
    return out.getvalue()


def written(ledger, *lines, end="\n", sep=",", encoding="utf-8"):
    """Put a file with our header and these lines in a ledger's place."""
    text = end.join([HEADER.strip().replace(",", sep), *lines, ""])
    ledger.path.write_bytes(text.encode(encoding))


def values(frame):
    return list(frame["value"])


# --- behaviour: saving -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "unit", "number", "short"),
    [
        ("4.1102 in", None, "4.1102", "in"),
        ("4.1100", "in", "4.1100", "in"),
        ('4.1102"', None, "4.1102", "in"),
        ("86,5 mm", None, "86.5", "mm"),
        ("86,50", "mm", "86.50", "mm"),
        ("104.4 mm", "in", "104.4", "mm"),
        ("3 7/8 in", None, "3.875", "in"),
        ("1,234.50 mm", None, "1234.50", "mm"),
        ("1.234,50 mm", None, "1234.50", "mm"),
        (".0015 in", None, ".0015", "in"),
        ("−0.5 deg", None, "-0.5", "deg"),
        ("- 2 thou", None, "-2", "thou"),
        ("0.000 in", None, "0.000", "in"),
        ("12 µm", None, "12", "um"),
        ("61 N·m", None, "61", "N*m"),
        ("45 lb-ft", None, "45", "ft*lbf"),
        ("20 °C", None, "20", "degC"),
        ("70.0 cm³", None, "70.0", "cm3"),
        ("1.5e-3 in", None, "0.0015", "in"),
    ],
)
def test_a_figure_is_kept_with_its_digits_and_a_unit_in_plain_letters(
    ledger, typed, unit, number, short
):
    row = ledger.append(typed, unit, **TOP)
    assert (row.value, row.unit) == (number, short)
    assert short.isascii()
    saved = ledger.latest().iloc[0]
    assert (saved["value"], saved["unit"]) == (number, short)
    whole = typed if unit is None or not typed[-1].isdigit() else f"{typed} {unit}"
    assert read(f"{number} {short}") == read(whole)


def test_what_was_saved_is_in_the_file_by_the_time_append_returns(ledger):
    row = ledger.append("4.1102 in", **TOP, instrument="bore gauge", resolution="0.0001",
                        temperature="20 °C", by="JB", note="after honing")  # fmt: skip
    kept = "reading,3,bore,diameter,thrust,top,,1,4.1102,in,bore gauge,0.0001 in,20 degC,JB,"
    assert ledger.path.read_text() == f"{HEADER}{row.time},{kept}after honing\n"
    assert (row.line, row.act, row.repeat) == (2, "reading", "1")
    said = datetime.fromisoformat(row.time)
    assert said.utcoffset() is not None
    assert said.microsecond == 0
    assert abs((datetime.now().astimezone() - said).total_seconds()) < 5
    assert ledger.append("4.1100 in", **TOP, repeat=2).line == 3
    assert [each.name for each in ledger.path.parent.glob("*.csv")] == ["readings.csv"]


def test_a_batch_is_saved_in_one_write(ledger, monkeypatch):
    calls = []
    for name in ("write", "fsync"):
        real = getattr(os, name)
        monkeypatch.setattr(
            ledger_file.os, name, lambda *a, name=name, real=real: calls.append(name) or real(*a)
        )
    made = ledger.append_many([{**TOP, "value": "4.1102 in", "repeat": at, "note": "a\nb"}
                               for at in (1, 2, 3)])  # fmt: skip
    assert calls == ["write", "fsync"]
    assert [each.line for each in made] == [2, 4, 6]
    assert list(ledger.rows()["line"]) == [2, 4, 6]


REFUSED = [
    ("", "in", {}, "^bore diameter, place 3: blank is not zero: nothing was saved$"),
    ("   ", None, {}, "blank is not zero: nothing was saved$"),
    (None, "in", {}, "blank is not zero: nothing was saved$"),
    ("long", "in", {}, '^bore diameter, place 3: "long" is not a number with a unit; write it'),
    ("nan", "in", {}, '"nan" is not a number'),
    ("inf in", None, {}, '"inf in" is not a number'),
    (float("nan"), "in", {}, '"nan" is not a number'),
    ("1e999", "in", {}, "is too large to be meant"),
    ("=4.1102", "in", {}, '"=4.1102" is not a number'),
    ("4.1102", None, {}, "4.1102 has no unit"),
    ("4.1102", "inn", {}, "inn is not a unit known here"),
    ("4,110", "in", {}, "can be read as 4.110 in or as 4110 in"),
    ("4.110 ± 0.001 in", None, {}, "has limits; a reading is one figure"),
    ("4.l", "in", {}, "4.l is not a figure of the kind that is read in in"),
    ("4.1102 in", None, {"place": " "}, "place must not be blank"),
    ("4.1102 in", None, {"part": "", "feature": ""}, "part and feature must not be blank"),
    ("4.1102 in", None, {"repeat": 0}, "repeat must be a whole number from 1 up, got '0'"),
    ("4.1102 in", None, {"repeat": "1.5"}, "repeat must be a whole number from 1 up, got '1.5'"),
    ("4.1102 in", None, {"temperature": "20"}, "20 has no unit"),
    ("4.1102 in", None, {"temperature": "20 mm"}, "is not a temperature"),
    ("4.1102 in", None, {"resolution": "fine"}, '"fine" is not a number'),
    ("4.1102 in", None, {"act": "measured"}, "'measured' is not an act; the acts are reading, w"),
    ("4.1102 in", None, {"note": "a\0b"}, "holds signs that are not text"),
    ("4.1102 in", None, {"note": "\ud800"}, "holds signs that are not text"),
    ("4.1102 in", None, {"note": "x" * 20_001}, "too long; the longest is 20000"),
    ("4.1102 in", None, {"note": f"see\r{line()}"}, "begins like a row of the ledger"),
]  # fmt: skip


@pytest.mark.parametrize(("value", "unit", "cells", "match"), REFUSED)
def test_what_is_no_reading_is_refused_in_a_sentence_and_nothing_is_written(
    ledger, value, unit, cells, match
):
    with pytest.raises(ValueError, match=match) as refusal:
        ledger.append(value, unit, **{**TOP, **cells})
    assert str(refusal.value).endswith(": nothing was saved")
    assert len(str(refusal.value).splitlines()) == 1
    assert not ledger.path.exists()


def test_a_batch_is_refused_whole_with_all_that_is_wrong(ledger):
    batch = [{**TOP, "value": "4.1102 in"}, {**TOP, "value": ""}, {**BORE, "value": "long"}]
    with pytest.raises(ValueError, match="blank is not zero") as refusal:
        ledger.append_many(batch)
    assert '"long" is not a number' in str(refusal.value).splitlines()[1]
    assert not ledger.path.exists()
    assert ledger.append_many([]) == []


def test_a_wrong_name_is_the_callers_mistake(ledger):
    with pytest.raises(TypeError, match="a row has no colour; it has time, act, place"):
        ledger.append("4.1102 in", **TOP, colour="red")
    with pytest.raises(TypeError, match="a key has no colour; it has place, part"):
        ledger.history(colour="red")


def test_any_text_comes_back_as_typed(ledger):
    notes = ['he said "x"', "a, b; c\td", "two\nlines", '"', '""', '\n",\n', "=1+1", "@x", "-", "'",
             "'=1", "Größe µ №", "a\r\nb", "line\u2028sep\x0bx", ",,,,,,,,,,,,,,,"]  # fmt: skip
    for note in notes:
        ledger.remark(note, by=note.replace("\n", " "))
    asked = [note.replace("\r\n", "\n").strip() for note in notes]
    for reader in (ledger, Readings(ledger.path)):
        assert list(reader.rows()["note"]) == asked
        assert reader.problems == []


# --- behaviour: what counts --------------------------------------------------------------------


def test_the_newest_row_of_a_key_counts_by_the_order_in_the_file(ledger):
    ledger.append("4.1102 in", **TOP, time="2030-01-01T00:00:00+00:00")
    ledger.append("4.1100 in", **TOP, repeat=2)
    ledger.append("4.1103 in", **TOP)
    ledger.append("4.1099 in", **{**TOP, "height": "bottom"})
    assert values(ledger.latest()) == ["4.1100", "4.1103", "4.1099"]
    assert values(ledger.history(**TOP, repeat=1)) == ["4.1102", "4.1103"]
    assert values(ledger.history(place=3, part="bore")) == values(ledger.rows())
    assert len(ledger.history(place="4")) == 0
    assert list(ledger.rows().columns) == [*COLUMNS, "line"]


def test_a_reading_taken_back_counts_no_more_until_it_is_entered_again(ledger):
    first = ledger.append("4.1102 in", **TOP)
    ledger.append("4.1100 in", **TOP, repeat=2)
    assert ledger.next_repeat(**TOP) == 3
    assert ledger.next_repeat(**BORE) == 1
    taken = ledger.withdraw(first, by="JB", note="gauge not zeroed")
    assert (taken.act, taken.repeat, taken.value, taken.line) == ("withdrawn", "1", "", 4)
    assert values(ledger.latest()) == ["4.1100"]
    assert list(ledger.history(**TOP, repeat=1)["act"]) == ["reading", "withdrawn"]
    with pytest.raises(ValueError, match=r"^not saved: bore diameter, place 3: there is nothing"):
        ledger.withdraw(first)
    ledger.append("4.1101 in", **TOP)
    assert values(ledger.latest()) == ["4.1100", "4.1101"]
    ledger.withdraw(ledger.latest().iloc[1])
    ledger.withdraw(("3", "bore", "diameter", "thrust", "top", "", "2"))
    assert ledger.latest().empty
    assert ledger.next_repeat(**TOP) == 1


def test_what_counts_of_a_key_or_of_a_part_of_one(ledger):
    first = ledger.append("4.1102 in", **TOP)
    ledger.append("4.1103 in", **{**TOP, "height": "bottom"})
    ledger.append("4.1104 in", **{**TOP, "place": "4"})
    ledger.step("3", "cap on")
    ledger.step("4", "cap on")
    assert values(ledger.latest(place=3)) == ["4.1102", "4.1103"]
    assert values(ledger.latest(**TOP)) == ["4.1102"]
    assert list(ledger.steps(place="4", feature="cap on")["line"]) == [6]
    ledger.withdraw(first)
    assert ledger.latest(**TOP).empty
    assert len(ledger.latest()) == 2
    with pytest.raises(TypeError, match="a key has no by; it has place, part"):
        ledger.steps(by="JB")


def test_several_are_taken_back_in_one_write_with_what_comes_instead(ledger, monkeypatch):
    rows = [ledger.append(f"4.110{each} in", **TOP, repeat=each) for each in (1, 2, 3)]
    done = ledger.step("3", "bore honed")
    put, writes = readings.put, []
    monkeypatch.setattr(readings, "put", lambda *args: writes.append(args) or put(*args))
    other = {**TOP, "value": "4.1109 in", "by": "AM"}
    made = ledger.withdraw_many([*rows[:2], done], by="JB", note="too warm", instead=[other])
    assert len(writes) == 1
    assert [each.line for each in made] == [6, 7, 8, 9]
    assert [(each.act, each.repeat, each.by, each.note) for each in made] == [
        ("withdrawn", "1", "JB", "too warm"), ("withdrawn", "2", "JB", "too warm"),
        ("withdrawn", "", "JB", "too warm"), ("reading", "1", "AM", ""),
    ]  # fmt: skip
    assert values(ledger.latest()) == ["4.1103", "4.1109"]
    assert ledger.steps().empty
    assert ledger.withdraw_many([]) == []


def test_several_are_taken_back_all_or_none(ledger):
    rows = [ledger.append(f"4.110{each} in", **TOP, repeat=each) for each in (1, 2)]
    before = ledger.path.read_bytes()
    message = (r"^not saved: 2 rows: there is nothing of bore diameter, place 4 to take back$",
               "2 rows.*: there is nothing of bore diameter, place 3 to take back")  # fmt: skip
    with pytest.raises(ValueError, match=message[0]):
        ledger.withdraw_many([rows[0], {**TOP, "place": "4", "repeat": 1}])
    with pytest.raises(ValueError, match="blank is not zero: nothing was saved"):
        ledger.withdraw_many(rows, instead=[{**TOP, "value": ""}])
    assert ledger.path.read_bytes() == before
    ledger.withdraw_many(rows)
    with pytest.raises(ValueError, match=message[1]):
        ledger.withdraw_many(rows)


def test_steps_and_remarks_are_no_readings(ledger):
    ledger.step("main 3", "cap bolts torqued", "61 N·m", by="JB")
    done = ledger.step("main 3", "cap bolts torqued", "62 N·m")
    ledger.step("engine", "block washed", note="twice")
    ledger.remark("new gauge from here on", place="3")
    assert ledger.latest().empty
    assert list(ledger.steps()["feature"]) == ["cap bolts torqued", "block washed"]
    assert values(ledger.steps()) == ["62", ""]
    ledger.withdraw(done)
    assert list(ledger.steps()["feature"]) == ["block washed"]
    for save in (lambda: ledger.remark(" "), lambda: ledger.step("engine", "")):
        with pytest.raises(ValueError, match="must say something: nothing was saved"):
            save()
    with pytest.raises(ValueError, match=r'^cap, place main 3: "tight" is not a number with a'):
        ledger.step("main 3", "cap", "tight")


def test_a_table_that_was_handed_out_may_be_changed(ledger):
    ledger.append("4.1102 in", **TOP)
    for table in (ledger.rows(), ledger.latest()):
        table.loc[0, "value"] = "5"
    assert values(ledger.rows()) == values(ledger.latest()) == ["4.1102"]


# --- behaviour: reading what other programs saved ----------------------------------------------

NOT_ROWS = [
    (line(value="4.11o2"), "o2 is not a unit known here"),
    (line(value="four"), "is not a number with a unit"),
    (line(value="nan"), "is not a number with a unit"),
    (line(value="inf"), "is not a number with a unit"),
    (line(value="1e999"), "too large"),
    (line(value=""), "blank is not zero"),
    (line(value="4,110"), "can be read as 4.110 in or as 4110 in"),
    (line(value="4.110 mm"), "4.110 mm is in mm, but in stands beside it"),
    (line(unit="furlong"), "furlong is not a unit known here"),
    (line(unit=""), "4.1102 has no unit"),
    (line(act="measured"), "'measured' is not an act; the acts are reading, withdrawn, step"),
    (line(act=""), "'' is not an act"),
    (line(repeat="x"), "repeat must be a whole number from 1 up, got 'x'"),
    (line(place=""), "place must not be blank"),
    (line(temperature="warm"), '"warm" is not a number'),
    (line()[:-1], "has 15 columns where 16 are due"),
    (line() + ",x", "has 17 columns where 16 are due"),
    (line(by='x"y').replace('""', '"'), "a quote or a carriage return stands astray"),
    (line()[:-1] + ',"not closed', "a quote or a carriage return stands astray"),
    (line(by="a\0b"), "holds signs that are not text"),
    (line(by="x").replace("x", "a\rb"), "a quote or a carriage return stands astray"),
    ("nothing of ours", "has 1 columns"),
]  # fmt: skip


@pytest.mark.parametrize("few", [200, 0], ids=["one by one", "at a stroke"])
@pytest.mark.parametrize(("bad", "match"), NOT_ROWS)
def test_a_line_that_is_no_row_is_reported_by_its_number_and_costs_no_other(
    ledger, monkeypatch, few, bad, match
):
    monkeypatch.setattr(ledger_file, "_FEW", few)
    written(ledger, line("4.1101"), bad, line("4.1103", repeat="2"), line("4.1104", note="a,\nb"))
    assert values(ledger.rows()) == ["4.1101", "4.1103", "4.1104"]
    assert list(ledger.rows()["line"]) == [2, 4, 5]
    (told,) = ledger.problems
    assert told.startswith("line 3: ")
    assert match in told
    ledger.append("4.1105 in", **TOP)
    assert values(ledger.rows()) == ["4.1101", "4.1103", "4.1104", "4.1105"]
    assert len(ledger.problems) == 1


WAYS = list(itertools.product(",;\t", ("\n", "\r\n", "\r"), ("utf-8", "utf-8-sig", "cp1252"),
                              (csv.QUOTE_MINIMAL, csv.QUOTE_ALL), (".", ",")))  # fmt: skip


@pytest.mark.parametrize(("sep", "end", "encoding", "quoting", "point"), WAYS)
def test_a_file_a_spreadsheet_saved_is_read_and_added_to_as_it_is(
    ledger, sep, end, encoding, quoting, point
):
    ledger.append("86.512 mm", **TOP, note="Größe, gut; 3\tmal")
    ledger.append("86.5 mm", **TOP, repeat=2, note=f'two{end}lines "quoted"')
    ledger.append("−0.25 mm", **TOP, repeat=3)
    ours = ledger.rows()
    out = io.StringIO()
    writer = csv.writer(out, delimiter=sep, lineterminator=end, quoting=quoting)
    writer.writerow(COLUMNS)
    for row in ours[list(COLUMNS)].to_numpy().tolist():
        row[9] = row[9].replace(".", point)
        writer.writerow([cell.replace("\n", end) for cell in row])
    saved = out.getvalue().encode(encoding)
    ledger.path.write_bytes(saved)

    for reader in (ledger, Readings(ledger.path)):
        assert_frame_equal(reader.rows()[list(COLUMNS)], ours[list(COLUMNS)])
    said = " ".join(ledger.problems)
    assert ("semicolons" in said, "tabs" in said) == (sep == ";", sep == "\t")
    assert ("byte-order mark" in said) == (encoding == "utf-8-sig")
    assert ("carriage returns" in said) == (end != "\n")
    assert ("decimal commas" in said) == (point == ",")
    assert ("line 2: is not UTF-8; read as Windows-1252" in said) == (encoding == "cp1252")

    ledger.append("86.513 mm", **TOP, repeat=4, note="one\nmore")
    added = ledger.path.read_bytes()
    assert added.startswith(saved)
    more = added[len(saved) :].decode()
    assert len(next(csv.reader([more], delimiter=sep))) == len(COLUMNS)
    assert more.endswith(f'"one{end}more"{end}')
    assert not re.search("[\r\n]", more.replace(end, ""))
    assert (f"86{point}513" in more) or sep == point
    for reader in (ledger, Readings(ledger.path)):
        assert values(reader.rows()) == ["86.512", "86.5", "-0.25", "86.513"]
        assert reader.rows()["note"].iloc[-1] == "one\nmore"


def test_a_decimal_comma_is_taken_for_one_only_where_the_file_proves_it(ledger):
    written(ledger, *(line(value=value, sep=";") for value in ("4,110", "4,111")), sep=";")
    assert ledger.rows().empty
    assert [told[:8] for told in ledger.problems[1:]] == ["line 2: ", "line 3: "]
    written(ledger, *(line(value=value, sep=";") for value in ("4,110", "4,1115")), sep=";")
    assert values(ledger.rows()) == ["4.110", "4.1115"]
    written(ledger, *(line(value=value, sep=";") for value in ("1,234.5", "4,1115")), sep=";")
    assert values(ledger.rows()) == ["1234.5", "4.1115"]
    with open(ledger.path, "a") as file:
        file.write(line(value="4,112", sep=";") + "\n")
    assert values(ledger.rows()) == values(Readings(ledger.path).rows()) == ["1234.5", "4.1115"]


def test_an_inch_sign_in_a_note_typed_by_hand_is_no_quote(ledger):
    written(ledger, line() + '5" gauge', "nothing of ours", line(repeat="2"))
    assert list(ledger.rows()["note"]) == ['5" gauge', ""]
    assert ledger.problems == ["line 3: has 1 columns where 16 are due"]


@pytest.mark.parametrize("trailing", [";;", ";"])
def test_blank_lines_and_blank_columns_at_the_end_are_nothing(ledger, trailing):
    written(ledger, ";" * 17, line(sep=";") + trailing, "", sep=";")
    assert values(ledger.rows()) == ["4.1102"]
    assert len(ledger.problems) == 1


@pytest.mark.parametrize(
    "data",
    [
        b"date,value\n1,2\n",
        HEADER.replace("place,part", "part,place").encode(),
        HEADER.encode("utf-16"),
        b"\n" + HEADER.encode(),
        b"some text",
    ],
)
def test_a_file_that_is_not_a_ledger_is_left_alone(ledger, data):
    ledger.path.write_bytes(data)
    assert ledger.rows().empty
    assert len(ledger.problems) == 1
    assert "the first line is not time,act,place" in ledger.problems[0]
    with pytest.raises(ValueError, match=r"^not saved: bore diameter, place 3: 4.1 in: readings"):
        ledger.append("4.1 in", **TOP)
    assert ledger.path.read_bytes() == data
    written(ledger, line())
    assert ledger.problems == []
    assert values(ledger.rows()) == ["4.1102"]


def test_a_torn_row_is_never_read_as_a_whole_one_wherever_it_was_cut(tmp_path):
    row = line("4.1105", note='"hi",\nthere, Jörg', by="JB") + "\n"
    before = (HEADER + line("4.1101") + "\n").encode()
    for cut in range(1, len(row.encode())):
        path = tmp_path / f"{cut}.csv"
        path.write_bytes(before + row.encode()[:cut])
        ledger = Readings(path)
        assert values(ledger.rows()) == ["4.1101"]
        assert any(told.startswith("line 3: ") for told in ledger.problems), cut
        saved = ledger.append("4.1103 in", **TOP, note="\n,x\n")
        assert path.read_bytes().startswith(before + row.encode()[:cut])
        assert path.read_bytes().split(b"\n")[saved.line - 1].startswith(saved.time.encode())
        for reader in (ledger, Readings(path)):
            assert values(reader.rows()) == ["4.1101", "4.1103"], cut
            assert reader.problems[0].startswith("line 3: ")
            assert len(reader.problems) <= 2
        path.unlink()


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_torn_header_is_completed(tmp_path, mark):
    for cut in range(len(HEADER)):
        path = tmp_path / f"{cut}.csv"
        path.write_bytes(mark + HEADER.encode()[:cut])
        ledger = Readings(path)
        assert ledger.append("4.1102 in", **TOP).line == 2
        assert path.read_bytes().startswith(mark + HEADER.encode())
        assert values(Readings(path).rows()) == ["4.1102"]


# --- behaviour: reading on ---------------------------------------------------------------------


def test_a_ledger_that_only_grew_is_read_on_and_one_that_did_not_is_not_read(ledger, monkeypatch):
    ledger.append("4.1101 in", **TOP)
    other = Readings(ledger.path)
    assert values(other.rows()) == ["4.1101"]
    version, read_on = other.version, []
    real = ledger_file.LedgerFile.add
    monkeypatch.setattr(
        ledger_file.LedgerFile, "add", lambda file, more: read_on.append(more) or real(file, more)
    )
    assert values(other.latest()) == ["4.1101"]
    assert (other.version, read_on) == (version, [])
    before = ledger.path.stat().st_size
    with open(ledger.path, "ab") as file:
        file.write(line("4.1102").encode() + b"\n" + line("4.1103")[:20].encode())
    assert values(other.rows()) == ["4.1101", "4.1102"]
    assert read_on == [ledger.path.read_bytes()[before:]]
    assert other.version > version
    assert other.problems[0].startswith("line 4: has no line end")
    with open(ledger.path, "ab") as file:
        file.write(line("4.1103")[20:].encode() + b"\n")
    assert values(other.rows()) == ["4.1101", "4.1102", "4.1103"]
    assert other.problems == []


def test_a_row_that_was_seen_half_is_read_whole_once_it_is(ledger):
    row = line("4.1102", note='"two",\nlines, ä') + "\n"
    before = (HEADER + line("4.1101") + "\n").encode()
    for cut in range(len(row.encode())):
        ledger.path.write_bytes(before + row.encode()[:cut])
        onlooker = Readings(ledger.path)
        assert values(onlooker.rows()) == ["4.1101"]
        ledger.path.write_bytes(before + row.encode() + line("4.1103").encode() + b"\n")
        assert values(onlooker.rows()) == ["4.1101", "4.1102", "4.1103"]
        assert list(onlooker.rows()["line"]) == [2, 3, 5]
        assert onlooker.problems == []


def test_a_changed_beginning_is_read_anew(ledger):
    ledger.append("4.1101 in", **TOP)
    ledger.append("4.1102 in", **TOP, repeat=2)
    other = Readings(ledger.path)
    assert len(other.rows()) == 2
    ledger.path.write_text(ledger.path.read_text().replace("4.1101", "4.1109"))
    ledger.append("4.1103 in", **TOP, repeat=3)
    assert values(other.rows()) == ["4.1109", "4.1102", "4.1103"]
    written(ledger, line("5"))
    assert values(other.rows()) == ["5"]
    assert other.problems == ["changed by another program, which left out 2 rows"]
    ledger.path.unlink()
    assert other.rows().empty
    assert other.append("4.1102 in", **TOP).line == 2


PIECES = [line(), line(note="a,\nb"), line("4,1102"), line("4,110"), line(act="step", unit=""),
          line()[:40], line()[:-1] + ',"open', "", "x", '"', "\r", "\0", ";" * 15, "'",
          line(note=" x "), line(place=" 3"), line(unit=" in "), line("4.1102 in", unit=""),
          line(act="withdrawn", value="", unit="")]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    pieces=st.lists(st.tuples(st.sampled_from(PIECES), st.sampled_from(["\n", "\r\n", ""]))),
    cuts=st.lists(st.integers(0, 400), max_size=4),
    few=st.sampled_from([0, 200]),
)
def test_reading_on_gives_what_reading_from_the_beginning_gives(
    tmp_path_factory, pieces, cuts, few
):
    path = tmp_path_factory.mktemp("grown") / "readings.csv"
    data = (HEADER + "".join(piece + end for piece, end in pieces)).encode()
    ends = sorted({min(cut, len(data)) for cut in itertools.accumulate(cuts)} | {len(data)})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ledger_file, "_FEW", few)
        grown = Readings(path)
        for end in ends:
            path.write_bytes(data[:end])
            grown.rows()
        patch.setattr(ledger_file, "_FEW", 200)
        afresh = Readings(path)
        assert grown.rows().to_dict("records") == afresh.rows().to_dict("records")
        assert [t for t in grown.problems if "left out" not in t] == afresh.problems
        row = afresh.append("4.1107 in", **TOP)
        assert grown.rows().iloc[-1]["line"] == row.line
        again = Readings(path)
        assert again.rows().to_dict("records") == grown.rows().to_dict("records")
        assert len(again.rows()) == len(afresh.rows())


def test_a_long_ledger_with_all_sorts_of_rows_is_read_like_a_short_one(ledger, monkeypatch):
    chance = random.Random(3)
    odd = [line(note="a,\nb"), line(act="step"), line(act="remark"), line(value="x"), line()[:30]]
    pieces = [
        line(f"4.{chance.randrange(1000, 1200)}", repeat=str(at % 9 + 1))
        if chance.random() < 0.9
        else chance.choice(odd)
        for at in range(3000)
    ]
    written(ledger, *pieces)
    at_a_stroke, told = ledger.rows(), ledger.problems
    monkeypatch.setattr(ledger_file, "_FEW", 10**9)
    one_by_one = Readings(ledger.path)
    assert_frame_equal(at_a_stroke, one_by_one.rows())
    assert told == one_by_one.problems
    assert len(at_a_stroke) + len(told) == 3000


# --- behaviour: sheets and copies --------------------------------------------------------------


def sheet(*lines, sep=","):
    return "\n".join([HEADER.strip().replace(",", sep), *lines])


def test_a_filled_in_sheet_is_taken_in_once(ledger):
    filled = sheet(
        line("4.1102", time="", act=""),
        line("", repeat="2", time="", act=""),
        line("4.1100 in", unit="", repeat="3", time=""),
        line("long", repeat="4", time=""),
        line("4.1099", repeat="5", time="", note="no line end"),
    )
    count, told = ledger.take_in(filled)
    assert count == 3
    assert told == ['line 5: "long" is not a number with a unit; write it like "83.5 mm"']
    assert values(ledger.latest()) == ["4.1102", "4.1100", "4.1099"]
    assert set(ledger.latest()["act"]) == {"reading"}
    assert all(
        datetime.fromisoformat(time).utcoffset() is not None for time in ledger.rows()["time"]
    )
    ledger.append("4.1105 in", **BORE)
    assert ledger.take_in(filled.encode()) == (0, told)
    assert values(ledger.latest()) == ["4.1100", "4.1099", "4.1105"]


def test_a_copy_that_went_further_adds_what_is_new_even_if_it_was_said_before(ledger):
    again = line("4.1102")
    taken_back = line(act="withdrawn", value="", unit="")
    assert ledger.take_in(sheet(again, taken_back)) == (2, [])
    assert ledger.latest().empty
    for count in (1, 0):
        assert ledger.take_in(sheet(again, taken_back, again)) == (count, [])
        assert values(ledger.latest()) == ["4.1102"]


def test_a_sheet_from_a_spreadsheet_is_taken_in(ledger, tmp_path):
    path = tmp_path / "sheet.csv"
    rows = [line("86,512", "mm", sep=";"), line("86,5", "mm", repeat="2", sep=";", by="Jörg")]
    path.write_bytes(sheet(*rows, sep=";").replace("\n", "\r\n").encode("cp1252"))
    count, told = ledger.take_in(path)
    assert count == 2
    assert "semicolons" in told[0]
    assert values(ledger.latest()) == ["86.512", "86.5"]
    assert ledger.path.read_text(encoding="utf-8").startswith(HEADER)
    assert ledger.rows()["by"].iloc[1] == "Jörg"
    assert ledger.problems == []
    assert ledger.take_in(str(path))[0] == 0


def test_a_sheet_with_other_columns_is_not_taken_in(ledger, tmp_path):
    count, told = ledger.take_in("place,value\n3,4.1102\n")
    assert count == 0
    assert "the first line is not time,act" in told[0]
    assert not ledger.path.exists()
    with pytest.raises(ValueError, match=r"none\.csv cannot be read: No such file"):
        ledger.take_in(tmp_path / "none.csv")


def test_a_copy_holds_no_formula_and_comes_back_as_it_was(ledger, tmp_path):
    notes = ["=1+1", "+x", "-x", "@x", "'=1", "''-", "'quoted'", 'a "b",\nc', "plain"]
    for at, note in enumerate(notes, 1):
        ledger.append(f"-0.{at} deg", **{**TOP, "angle": "-15 deg"}, repeat=at, note=note)
    ledger.withdraw(ledger.latest().iloc[0])
    ledger.append("0.1 deg", **{**TOP, "angle": "-15 deg"})
    ledger.to_csv(tmp_path / "copy.csv")
    copied = pd.read_csv(tmp_path / "copy.csv", dtype=str, keep_default_na=False)
    assert list(copied.columns) == list(COLUMNS)
    texts = copied.drop(columns="value").to_numpy().ravel()
    assert not [each for each in texts if re.match(r"[=+\-@\t\r\n]", each)]
    assert list(copied["value"])[:2] == ["-0.1", "-0.2"]
    assert list(ledger.rows()["note"])[: len(notes)] == notes
    other = Readings(tmp_path / "other.csv")
    assert other.take_in(tmp_path / "copy.csv") == (len(copied), [])
    assert_frame_equal(other.latest(), ledger.latest())
    assert other.take_in(tmp_path / "copy.csv") == (0, [])
    with pytest.raises(ValueError, match="is the ledger itself"):
        ledger.to_csv(ledger.path)
    with pytest.raises(ValueError, match=r"the copy x\.csv is not whole: No such file"):
        ledger.to_csv(tmp_path / "none" / "x.csv")


@given(st.lists(st.text(st.characters(codec="utf-8"), max_size=12), min_size=1, max_size=5))
@settings(max_examples=60, deadline=None)
def test_any_text_survives_ledger_copy_and_sheet(tmp_path_factory, notes):
    folder = tmp_path_factory.mktemp("texts")
    ledger = Readings(folder / "readings.csv")
    kept = []
    for note in notes:
        try:
            kept.append(ledger.remark(note, by="x").note)
        except ValueError:
            assert not note.strip() or "\0" in note or "\ufffd" in note
        else:
            assert kept[-1] == re.sub("\r\n?", "\n", note).strip()
    assert list(ledger.rows()["note"]) == kept
    assert list(Readings(ledger.path).rows()["note"]) == kept
    if kept:
        ledger.to_csv(folder / "copy.csv")
        other = Readings(folder / "other.csv")
        assert other.take_in(folder / "copy.csv") == (len(kept), [])
        assert Counter(other.rows()["note"]) == Counter(kept)


def test_every_unit_is_kept_in_letters_that_read_back():
    for unit in ("in", "thou", "mm", "cm", "m", "um", "cc", "mm3", "in3", "l", "in2", "mm2", "cm2",
                 "m/s", "ft/min", "m/s2", "deg", "rpm", "g", "kg", "oz", "lb", "n·m", "lbf·ft",
                 "lbf·in", "kgf·m", "n", "kn", "lbf", "psi", "ksi", "bar", "kpa", "mpa", "gpa",
                 "°c", "°f"):  # fmt: skip
        number, short = figure(f"12.50 {unit}")
        assert number == "12.50"
        assert short.isascii()
        assert read(f"{number} {short}") == read(f"12.50 {unit}")
        assert figure("12.50", short) == (number, short)
