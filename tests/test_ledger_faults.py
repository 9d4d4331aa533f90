"""The ledger under faults: killed writers, full disks, locked files, many hands at once.

What is shown here is the death of processes. A loss of power is not: there the promise is fsync's.
"""

import errno
import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from enginecalc.records import ledger_file, readings
from enginecalc.records.ledger_file import HEADER
from enginecalc.records.readings import Readings

ROOT = Path(__file__).parent.parent
TOP = {"place": "3", "part": "bore", "feature": "diameter", "height": "top"}


@pytest.fixture
def ledger(tmp_path):
    """Return a ledger with one row."""
    made = Readings(tmp_path / "readings.csv")
    made.append("4.1101 in", **TOP, note="first")
    return made


def values(frame):
    return list(frame["value"])


# --- behaviour: killed at any moment -----------------------------------------------------------

# Forks a writer for each line "name pieces" and answers with its process number. A writer saves
# rows for ever and notes the name of each in a file of its own once `append` has returned. With
# pieces it hands its rows to the system bit by bit, so that it can be killed within one.
NURSERY = """
import itertools, os, signal, sys, time
from enginecalc.records.readings import Readings

def write(name, pieces, system_write=os.write):
    if pieces:
        def write_a_piece(handle, data):
            time.sleep(0.0005)
            return system_write(handle, data[:pieces])
        os.write = write_a_piece
    readings = Readings("readings.csv")
    readings.patience = 60
    done = os.open(name + ".done", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    notes = itertools.cycle(["", "plain", 'with "quotes", commas', "two\\nlines, ä"])
    for at, note in zip(itertools.count(1), notes):
        readings.append(f"{at} mm", place=name, part="bore", feature="diameter", note=note)
        system_write(done, f"{at}\\n".encode())

signal.signal(signal.SIGCHLD, signal.SIG_IGN)
for line in sys.stdin:
    child = os.fork()
    if not child:
        write(*(part if at == 0 else int(part) for at, part in enumerate(line.split())))
    print(child, flush=True)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="writers are forked")
def test_two_hundred_killed_writers_lose_nothing_that_was_acknowledged(tmp_path):
    chance = random.Random(7)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    nursery = subprocess.Popen(
        [sys.executable, "-c", NURSERY], cwd=tmp_path, env=environment, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    running = {}

    def start(name):
        nursery.stdin.write(f"{name} {chance.choice((0, 0, 9, 40))}\n")
        nursery.stdin.flush()
        running[name] = int(nursery.stdout.readline())

    def kill(name):
        child = running.pop(name)
        os.kill(child, signal.SIGKILL)
        while True:  # until nothing is left of it
            try:
                os.kill(child, 0)
            except ProcessLookupError:
                return
            time.sleep(0.0005)

    try:
        for number in range(200):
            while len(running) < 4:
                start(f"w{number}-{len(running)}")
            time.sleep(chance.uniform(0, 0.03))
            kill(chance.choice(list(running)))
    finally:
        for name in list(running):
            kill(name)
        _, complaints = nursery.communicate()
    assert complaints == ""

    ledger = Readings(tmp_path / "readings.csv")
    rows = ledger.rows()
    assert not rows.duplicated(["place", "value"]).any(), "a row was saved twice"
    saved = {name: values(found) for name, found in rows.groupby("place")}
    acknowledged = {path.stem: path.read_text().splitlines() for path in tmp_path.glob("*.done")}
    assert sum(map(len, acknowledged.values())) > 200
    for name, numbers in acknowledged.items():
        found = saved.pop(name, [])
        assert found[: len(numbers)] == numbers, "an acknowledged row is missing"
        assert len(found) <= len(numbers) + 1, "only the last may lack its acknowledgment"
    assert all(found == ["1"] for found in saved.values())
    assert 0 < len(ledger.problems) <= 400, "no writer was killed within a row: a weak test"
    torn = ("was cut off while", "has no line end", "stands astray")
    assert not [told for told in ledger.problems if not any(each in told for each in torn)]


def test_threads_share_a_ledger_and_others_look_on(tmp_path):
    shared, faults = Readings(tmp_path / "readings.csv"), []

    def work(name, ledger):
        try:
            for repeat in range(1, 21):
                ledger.append("4.11 in", **{**TOP, "place": name}, repeat=repeat)
                assert len(ledger.history(place=name)) == repeat
        except BaseException as fault:
            faults.append(fault)

    hands = [shared, shared, shared, Readings(shared.path), Readings(shared.path)]
    threads = [
        threading.Thread(target=work, args=(f"hand {at}", hand)) for at, hand in enumerate(hands)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert shared.problems == []
    assert len(shared.latest()) == 100
    assert list(shared.rows()["line"]) == list(range(2, 102))


# --- behaviour: what cannot be written ---------------------------------------------------------


def full_after(monkeypatch, room, why=errno.ENOSPC):
    """Let the disk take so many more bytes and then refuse."""
    real, left = os.write, [room]

    def write(handle, data):
        if not left[0]:
            raise OSError(why, os.strerror(why))
        count = real(handle, bytes(data[: left[0]]))
        left[0] -= count
        return count

    monkeypatch.setattr(ledger_file.os, "write", write)


def test_a_full_disk_saves_nothing_and_says_so_wherever_it_fills(ledger, monkeypatch):
    before = ledger.path.read_bytes()
    whole = len(before) - len(HEADER) - len("first")  # of the row to come
    for room in range(0, whole, 7):
        with monkeypatch.context() as full:
            full_after(full, room)
            with pytest.raises(ValueError, match="the disk is full") as refusal:
                ledger.append("4.1102 in", **TOP, repeat=2)
        assert str(refusal.value) == (
            "not saved: bore diameter, place 3: 4.1102 in: readings.csv: the disk is full"
        )
        assert ledger.path.read_bytes() == before
        assert values(ledger.rows()) == ["4.1101"]
        assert ledger.problems == []
    assert ledger.append("4.1102 in", **TOP, repeat=2).line == 3


def test_what_cannot_be_taken_off_again_is_closed_off(ledger, monkeypatch):
    whole = len(ledger.path.read_bytes()) - len(HEADER)  # of a row much like the one to come
    for number, room in enumerate(range(1, whole, 5), 1):
        with monkeypatch.context() as full:
            full_after(full, room)
            full.setattr(ledger_file.os, "ftruncate", full_disk)
            with pytest.raises(ValueError, match=r"not saved: .*: the disk is full"):
                ledger.append("4.1109 in", **TOP, note="other")
        assert "has no line end" in ledger.problems[-1]
        ledger.append("4.1102 in", **TOP, repeat=number)
        for reader in (ledger, Readings(ledger.path)):
            assert values(reader.rows()) == ["4.1101"] + ["4.1102"] * number
            assert len(reader.problems) == number
            assert all("was cut off while it was written" in told for told in reader.problems)


def full_disk(*_):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_batch_that_does_not_fit_leaves_no_row(ledger, monkeypatch):
    before = ledger.path.read_bytes()
    batch = [{**TOP, "value": f"4.11{at} in", "repeat": at} for at in range(10, 30)]
    full_after(monkeypatch, 700)
    with pytest.raises(ValueError, match=r"^not saved: 20 rows: readings\.csv: the disk is full$"):
        ledger.append_many(batch)
    assert ledger.path.read_bytes() == before


def test_the_first_row_that_does_not_fit_leaves_no_half_header(tmp_path, monkeypatch):
    ledger = Readings(tmp_path / "readings.csv")
    with monkeypatch.context() as full:
        full_after(full, 30)
        with pytest.raises(ValueError, match="the disk is full"):
            ledger.append("4.1102 in", **TOP)
    assert ledger.rows().empty
    assert ledger.problems == []
    assert ledger.append("4.1102 in", **TOP).line == 2


def test_a_row_that_does_not_reach_the_disk_is_not_acknowledged(ledger, monkeypatch):
    before = ledger.path.read_bytes()
    with monkeypatch.context() as broken:
        broken.setattr(ledger_file.os, "fsync", full_disk)
        with pytest.raises(ValueError, match=r"not saved: .*: the disk is full"):
            ledger.append("4.1102 in", **TOP)
    assert ledger.path.read_bytes() == before

    def interrupt(_):
        raise KeyboardInterrupt

    with monkeypatch.context() as broken:
        broken.setattr(ledger_file.os, "fsync", interrupt)
        with pytest.raises(KeyboardInterrupt):
            ledger.append("4.1102 in", **TOP)
    assert ledger.path.read_bytes() == before
    ledger.append("4.1103 in", **TOP)
    assert values(ledger.latest()) == ["4.1103"]


def test_a_file_put_in_its_place_while_saving_is_noticed(ledger, monkeypatch):
    saved_before = ledger.path.read_bytes()

    def replace(_):
        other = ledger.path.with_name("other.csv")
        other.write_bytes(saved_before)
        os.replace(other, ledger.path)

    with monkeypatch.context() as meddling:
        meddling.setattr(ledger_file.os, "fsync", replace)
        with pytest.raises(ValueError, match=r"not saved: .*: another program put a file in its"):
            ledger.append("4.1102 in", **TOP, repeat=2)
    assert values(ledger.rows()) == ["4.1101"]


def test_a_folder_that_may_not_be_written_to(ledger, monkeypatch):
    before = ledger.path.read_bytes()
    folder = ledger.path.parent
    if os.geteuid():
        folder.chmod(0o500)
        ledger.path.chmod(0o400)
        Path(f"{ledger.path}.lock").unlink()
    else:  # root may write anywhere

        def refuse(*_, **__):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

        monkeypatch.setattr(readings.FileLock, "acquire", refuse)
    try:
        with pytest.raises(
            ValueError, match=r"not saved: .*: readings\.csv: the folder may not be"
        ):
            ledger.append("4.1102 in", **TOP)
    finally:
        folder.chmod(0o700)
    assert ledger.path.read_bytes() == before
    assert values(Readings(ledger.path).rows()) == ["4.1101"]


def test_a_folder_that_is_not_there_and_a_folder_in_its_place(tmp_path):
    with pytest.raises(ValueError, match=r"^not saved: .*: readings\.csv: No such file or direct"):
        Readings(tmp_path / "none" / "readings.csv").append("4.1102 in", **TOP)
    (tmp_path / "folder").mkdir()
    ledger = Readings(tmp_path / "folder")
    with pytest.raises(ValueError, match=r"^folder cannot be read: Is a directory$"):
        ledger.rows()
    with pytest.raises(ValueError, match=r"^not saved: .*: folder cannot be read: Is a directory$"):
        ledger.append("4.1102 in", **TOP)


HOLDER = "import filelock, sys; lock = filelock.FileLock(sys.argv[1]); lock.acquire(); print(1, flush=True); input()"  # noqa: E501


def test_a_lock_that_cannot_be_had_says_what_was_not_saved(ledger):
    before = ledger.path.read_bytes()
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, f"{ledger.path}.lock"], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )  # fmt: skip
    try:
        holder.stdout.readline()
        assert ledger.patience == 5
        ledger.patience = 0.2
        start = time.monotonic()
        with pytest.raises(
            ValueError, match=r"^not saved: bore diameter, place 3: 4\.1102 in: rea"
        ):
            ledger.append("4.1102 in", **TOP)
        with pytest.raises(
            ValueError, match="is kept locked by another page or program; try again"
        ):
            ledger.take_in(before.replace(b"4.1101", b"4.1104"))
        assert time.monotonic() - start < 3
        assert values(ledger.rows()) == ["4.1101"], "looking on needs no lock"
        assert ledger.path.read_bytes() == before
    finally:
        holder.kill()
        holder.communicate()
    ledger.append("4.1102 in", **TOP)
    assert values(ledger.latest()) == ["4.1102"]
