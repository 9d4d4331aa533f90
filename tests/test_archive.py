"""A build as a zip file: what is handed over comes back as it was, what is no build is refused."""

import csv
import hashlib
import io
import itertools
import random
import shutil
import stat
import struct
import subprocess
import sys
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from enginecalc.records import archive, zip_file
from enginecalc.records.archive import pack, read_archive, unpack
from enginecalc.records.build import Build, build_names, load_build
from enginecalc.records.results_csv import results_csv
from tests.builds import DEMO

ENGINE = (DEMO / "engine.toml").read_bytes()
LEDGER = (DEMO / "readings.csv").read_bytes()
CARD = 'lobe_lift = "0.340 in"\nduration = [{ angle = "284 deg", at_lift = "0 in" }]'
LIFTS = "angle [deg],lift [in]\n" + "".join(
    f"{at},{round(0.34 * (1 - (at / 140) ** 2) ** 2, 5)}\n" for at in range(-140, 141, 5)
)


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Return a data folder of its own with the demo build in it."""
    shutil.copytree(DEMO, tmp_path / "builds" / "quarry-pump", ignore=lambda *_: ["*.lock"])
    monkeypatch.setenv("ENGINECALC_DATA", str(tmp_path))
    return tmp_path


def tabled(name="lift.csv"):
    """Return the text of the demo's engine with a lift table for its intake."""
    text = ENGINE.decode()
    assert CARD in text
    return text.replace(CARD, f"table = '{name}'").encode()


def zipped(files, change=lambda entry: None):
    """Return the bytes of a zip file of {name: bytes}, or of (name, bytes) pairs."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in files.items() if isinstance(files, dict) else files:
            entry = zipfile.ZipInfo(name)
            entry.filename = entry.orig_filename = name  # as it is, with what ZipInfo would mend
            entry.compress_type = zipfile.ZIP_DEFLATED
            change(entry)
            made.writestr(entry, data)
    return out.getvalue()


def names_in(data):
    return zipfile.ZipFile(io.BytesIO(data)).namelist()


def listing(folder):
    """Return what lies under a folder, with the contents of files."""
    return {each: each.read_bytes() if each.is_file() else None for each in folder.rglob("*")}


def refused(data, made, said, name="copy"):
    """See a zip refused in these words, and nothing left behind by it."""
    before = listing(data)
    with pytest.raises(ValueError, match=said):
        unpack(made, name)
    assert listing(data) == before


UNLISTED = "there is no contents.csv with check sums: nothing shows whether it was changed"


def test_a_sheet_without_check_sums_is_left_out():
    forged = [("engine.toml", ENGINE), ("sheet.html", b"<script>"), ("results.csv", b"rubbish")]
    found = read_archive(zipped(forged))
    assert {*found.files} == {"engine.toml"}
    assert [each for each in found.remarks if "may be anybody's" in each] == [
        f"{name} was left out: without check sums it may be anybody's"
        for name in ("results.csv", "sheet.html")
    ]


# --- against other programs ---------------------------------------------------------------------


def test_the_list_of_contents_says_what_hashlib_says(data):
    made = zipfile.ZipFile(io.BytesIO(pack(load_build("quarry-pump"), {"sheet.html": b"<p>"})))
    rows = list(csv.DictReader(io.StringIO(made.read("contents.csv").decode())))
    assert [row["name"] for row in rows] == ["engine.toml", "readings.csv", "sheet.html"]
    for row in rows:
        inside = made.read(row["name"])
        assert int(row["bytes"]) == len(inside)
        assert row["sha256"] == hashlib.sha256(inside).hexdigest()
        assert row["workbook version"].count(".") == 2
    assert made.testzip() is None
    assert {each.date_time for each in made.infolist()} == {(1980, 1, 1, 0, 0, 0)}  # not today


def test_another_program_unpacks_what_was_packed(data, tmp_path):
    (tmp_path / "there.zip").write_bytes(pack(load_build("quarry-pump")))
    where = tmp_path / "there"
    call = [sys.executable, "-m", "zipfile", "-e", f"{where}.zip", str(where)]
    subprocess.run(call, check=True)
    assert (where / "readings.csv").read_bytes() == LEDGER
    assert results_csv(Build(where)) == results_csv(load_build("quarry-pump"))


# --- there and back -----------------------------------------------------------------------------


def test_a_build_goes_through_a_zip_file_byte_for_byte(data):
    build = load_build("quarry-pump")
    extra = {"sheet.html": "<p>ä".encode(), "results.csv": results_csv(build)}
    made = pack(build, extra)
    assert names_in(made) == sorted(["engine.toml", "readings.csv", "contents.csv", *extra])
    other = unpack(made, "  second copy ")
    assert other.name == "second copy"
    assert "second copy" in build_names()
    assert {each.name: each.read_bytes() for each in other.folder.iterdir()} == {
        "engine.toml": ENGINE, "readings.csv": LEDGER, **extra}  # fmt: skip
    assert results_csv(other) == results_csv(build)
    assert pack(other, extra) == made
    assert pack(build) == pack(other) != made


def test_a_build_without_readings_goes_through(data):
    (data / "builds" / "quarry-pump" / "readings.csv").unlink()
    other = unpack(pack(load_build("quarry-pump")), "copy")
    assert {each.name for each in other.folder.iterdir()} == {"engine.toml"}
    assert other.readings.latest().empty


@pytest.mark.parametrize("name", ["lift.csv", "Nocke, Einlaß (2).csv"])
def test_lift_tables_go_along(data, name):
    place = data / "builds" / "quarry-pump"
    (place / "engine.toml").write_bytes(tabled(name))
    (place / name).write_text(LIFTS)
    (place / "of no use.csv").write_text("1")
    made = pack(load_build("quarry-pump"))
    assert sorted(names_in(made)) == sorted(["contents.csv", "engine.toml", "readings.csv", name])
    other = unpack(made, "copy")
    assert (other.folder / name).read_text() == LIFTS
    assert other.engine.lobes["intake"].lobe_lift == pytest.approx(0.34 * 0.0254)


def test_a_ledger_grows_on_in_the_copy_and_goes_back(data):
    other = unpack(pack(load_build("quarry-pump")), "copy")
    before = len(other.readings.latest())
    other.readings.append("69.9", "cc", place="1", part="head", feature="volume of the day")
    back = unpack(pack(other), "back")
    assert len(back.readings.latest()) == before + 1
    assert back.readings.rows().equals(other.readings.rows())


# --- zipped by hand -----------------------------------------------------------------------------


def test_a_folder_that_a_person_zipped_is_taken(data):
    made = shutil.make_archive(data / "by hand", "zip", data / "builds", "quarry-pump")
    with open(made, "rb") as file:
        other = unpack(file.read(), "copy")
    assert {each.name for each in other.folder.iterdir()} == {"engine.toml", "readings.csv"}
    assert results_csv(other) == results_csv(load_build("quarry-pump"))


def test_what_systems_put_into_a_zip_is_left_out_and_said(data):
    made = zipped(
        [
            ("./", b""),
            ("pump/", b""),
            ("pump/engine.toml", ENGINE),
            ("pump/.DS_Store", b"x"),
            ("pump/readings.csv.lock", b""),
            ("__MACOSX/", b""),
            ("__MACOSX/pump/._engine.toml", b"x"),
            ("pump/Thumbs.db", b"x"),
            ("pump/.ipynb_checkpoints/readings-checkpoint.csv", LEDGER),
        ]
    )
    assert read_archive(made).remarks == [
        f"{name} was left out: it is no file of a build"
        for name in ("pump/.DS_Store", "pump/readings.csv.lock", "__MACOSX/pump/._engine.toml",
                     "pump/Thumbs.db", "pump/.ipynb_checkpoints/readings-checkpoint.csv")
    ] + [UNLISTED]  # fmt: skip
    assert {each.name for each in unpack(made, "copy").folder.iterdir()} == {"engine.toml"}


def test_a_name_with_its_accent_apart_is_the_same_name(data):
    # one program writes ü as one sign, another as u and two dots
    files = {"engine.toml": tabled("nocke-\u00fc.csv"), "nocke-u\u0308.csv": LIFTS.encode()}
    other = unpack(zipped(files), "copy")
    assert (other.folder / "nocke-\u00fc.csv").read_text() == LIFTS


# --- refused ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["", "../out", "a/b", "c:", ".hidden", "quarry-pump", "QUARRY-pump"]
)
def test_a_name_that_is_taken_or_leads_elsewhere_is_refused(data, name):
    refused(data, pack(load_build("quarry-pump")), "^name: ", name)


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (b"", "is not a zip file"),
        (LEDGER, "the file is not a zip file: choose one"),
        (zipped({"engine.toml": ENGINE})[:-30], "the zip file is damaged or cut off"),
        (zipped({}), r"no engine\.toml in the zip file, which has no file"),
        (zipped({"readings.csv": LEDGER}), r"no engine\.toml in the zip file, which has readings"),
        (zipped({"ENGINE.TOML": ENGINE}), r"no engine\.toml in the zip file, which has ENGINE"),
    ],
    ids=["nothing", "csv", "cut off", "empty", "no engine", "capitals"],
)
def test_what_is_no_zip_with_an_engine_is_refused(data, made, said):
    refused(data, made, said)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("/etc/passwd", "starts at the root"),
        ("../out.csv", "leads out of its folder"),
        ("pump/../../out.csv", "leads out of its folder"),
        ("c:/out.csv", "has a drive or a colon"),
        ("C:out.csv", "has a drive or a colon"),
        ("engine.toml:stream", "has a drive or a colon"),
        ("pump\\readings.csv", "has a backslash"),
        ("..\\out.csv", "has a backslash"),
        ("readings.csv\0.exe", "has signs in its name that are not text"),
        ("readings\n.csv", "has signs in its name that are not text"),
        ("inside/readings.csv", "lies or is a folder inside the build"),
        ("inside/", "lies or is a folder inside the build"),
        ("notes.txt", "notes.txt does not belong to a build"),
        (".hidden", ".hidden does not belong to a build"),
        ("Engine.toml", "engine.toml and Engine.toml in the zip file have the same name"),
        ("readings.CSV", "readings.CSV does not belong to a build"),
    ],
)
def test_a_file_that_has_no_place_in_a_build_is_refused(data, name, said):
    refused(data, zipped({"engine.toml": ENGINE, name: b"x"}), said)


def test_all_files_that_do_not_belong_are_named(data):
    files = {"engine.toml": ENGINE, "b.txt": b"", "a.py": b""}
    refused(data, zipped(files), r"^a\.py, b\.txt does not belong")


def test_two_entries_of_one_name_are_refused(data):
    with pytest.warns(UserWarning, match="Duplicate name"):
        made = zipped([("engine.toml", ENGINE), ("engine.toml", ENGINE)])
    refused(data, made, r"engine\.toml and engine\.toml in the zip file have the same name")


def test_two_builds_in_one_zip_are_refused(data):
    made = zipped({"one/engine.toml": ENGINE, "two/engine.toml": ENGINE})
    refused(data, made, "zip the folder of one build alone")


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR])
def test_links_and_devices_are_refused(data, kind):
    def change(entry):
        if entry.filename == "readings.csv":
            entry.create_system, entry.external_attr = 3, (kind | 0o777) << 16

    made = zipped({"engine.toml": ENGINE, "readings.csv": b"/etc/passwd"}, change)
    refused(data, made, r"readings\.csv in the zip file is a link or a device")


def test_an_encrypted_file_is_refused(data):
    made = zipped({"engine.toml": ENGINE})
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # where the flags of an entry stand
        place = made.index(mark) + at
        made = made[:place] + b"\x01\x00" + made[place + 2 :]
    refused(data, made, r"engine\.toml in the zip file is encrypted")


def test_a_packing_other_than_deflate_is_refused(data):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_LZMA) as made:
        made.writestr("engine.toml", ENGINE)
    refused(data, out.getvalue(), r"engine\.toml is packed in a way that is not read here")


# --- bounds -------------------------------------------------------------------------------------


def test_too_many_entries_are_refused(data):
    made = zipped({"engine.toml": ENGINE, **{f"{at}.csv": b"" for at in range(200)}})
    refused(data, made, "has 201 entries; a build has at most 200")


def test_a_zip_file_that_is_itself_too_large_is_refused(data, monkeypatch):
    monkeypatch.setattr(zip_file, "LARGEST_WHOLE", 100)
    refused(data, zipped({"engine.toml": ENGINE}), "bytes and a build at most 100")


def test_a_bomb_is_stopped_by_its_ratio(data):
    # zeros pack by about 1000 to 1
    made = zipped({"engine.toml": ENGINE, "readings.csv": bytes(20_000_000)})
    assert len(made) < 40_000
    refused(data, made, r"readings\.csv in the zip file unpacks to too much")


def test_a_file_and_the_whole_are_bounded(data, monkeypatch):
    noise = random.Random(1).randbytes(300_000)
    made = zipped({"engine.toml": ENGINE, "readings.csv": noise, "sheet.html": noise})
    monkeypatch.setattr(zip_file, "LARGEST_FILE", 250_000)
    refused(data, made, r"readings\.csv in the zip file unpacks to too much: at most 250000")
    monkeypatch.setattr(zip_file, "LARGEST_FILE", 400_000)
    monkeypatch.setattr(zip_file, "LARGEST_WHOLE", len(made))
    refused(data, made, r"sheet\.html in the zip file unpacks to too much")


def test_a_size_that_the_zip_file_lies_about_helps_nobody(data):
    made = zipped({"engine.toml": ENGINE, "readings.csv": bytes(20_000_000)})
    small = made.replace(struct.pack("<L", 20_000_000), struct.pack("<L", 100))
    assert small != made
    refused(data, small, r"readings\.csv in the zip file is damaged")


def test_an_engine_file_beyond_all_measure_is_refused(data):
    long = ENGINE + b"#" + random.Random(1).randbytes(500_000).hex().encode()
    refused(data, zipped({"engine.toml": long}), "an engine has at most 1000000")
    for deep in ("a = " + "[" * 5000, ".".join("a" * 5000) + " = 1"):
        refused(data, zipped({"engine.toml": deep.encode()}), r"^engine\.toml has tables in tables")


# --- damaged on the way -------------------------------------------------------------------------


def test_a_changed_file_is_named(data):
    made = pack(load_build("quarry-pump"))
    files = {name: zipfile.ZipFile(io.BytesIO(made)).read(name) for name in names_in(made)}
    unpack(zipped(files), "as it was")
    changed = {**files, "readings.csv": LEDGER.replace(b"4.1102", b"4.1103", 1)}
    refused(data, zipped(changed), r"^readings\.csv is not what contents\.csv says")
    added = {**files, "sheet.html": b"<p>"}
    refused(data, zipped(added), r"^sheet\.html is not what contents\.csv says")
    del files["readings.csv"]
    refused(data, zipped(files), r"^readings\.csv stands in contents\.csv and is not in the zip")


@pytest.mark.parametrize(
    "text", [b"", b"a,b\n1,2\n", b"\xff", b'name,bytes,sha256,workbook version\n"']
)
def test_a_list_of_contents_that_is_none_is_refused(data, text):
    made = zipped({"engine.toml": ENGINE, "contents.csv": text})
    refused(data, made, r"^contents\.csv is not a list with name, bytes, sha256, workbook version")


def test_a_damaged_file_is_named(data):
    made = pack(load_build("quarry-pump"))
    at = made.index(b"readings.csv") + 500  # well inside what was packed
    damaged = made[:at] + bytes([made[at] ^ 0xFF]) + made[at + 1 :]
    refused(data, damaged, r"^readings\.csv in the zip file is damaged")


def test_damage_anywhere_gives_a_sentence_or_the_same_files(data):
    made = pack(load_build("quarry-pump"))
    whole = read_archive(made).files
    draw = random.Random(5)
    told = 0
    for _ in range(400):
        damaged = bytearray(made)
        near = draw.choice((len(made), 60, -400))  # anywhere, the first entry, the zip's own list
        at = draw.randrange(near) if near > 0 else len(made) + draw.randrange(near, 0)
        damaged[at] ^= 1 << draw.randrange(8)
        try:
            found = read_archive(bytes(damaged)).files
        except ValueError:
            told += 1
        else:
            assert found == whole
    assert told > 200
    for cut in itertools.chain(range(0, len(made), 97), range(len(made) - 30, len(made))):
        with pytest.raises(ValueError, match="zip file"):
            read_archive(made[:cut])


# --- what is inside -----------------------------------------------------------------------------


def test_an_engine_that_does_not_load_is_refused_in_its_own_words(data):
    for text, said in (
        (b"bore = ", r"engine\.toml: is not a TOML text"),
        (b"\xff\xfe", r"engine\.toml: is not a TOML text"),
        (ENGINE.replace(b'"3.640', b'"-3.640'), r"engine\.toml: crank\.stroke: "),
        (b"name = 1", r"engine\.toml: name: 1 is not a text"),
    ):
        refused(data, zipped({"engine.toml": text}), said)


def test_a_missing_lift_table_is_named(data):
    said = r"^lift\.csv, which engine\.toml names, is not in the zip file"
    refused(data, zipped({"engine.toml": tabled()}), said)
    refused(
        data, zipped({"engine.toml": tabled(), "lift.csv": b"x"}), r"lift\.csv needs the columns"
    )


@pytest.mark.parametrize(
    "table",
    ["../lift.csv", "/etc/passwd", "a/lift.csv", "a\\lift.csv", "c:lift.csv", "=lift.csv",
     ".lift.csv", "x" * 61, "lift."],
)  # fmt: skip
def test_a_lift_table_that_leads_elsewhere_is_not_opened(data, table):
    made = zipped({"engine.toml": tabled(table)})
    refused(data, made, r"^engine\.toml: the lift table .* needs a plain name")


@pytest.mark.parametrize("table", ["engine.toml", "Readings.csv", "contents.csv"])
def test_a_lift_table_that_is_another_file_is_refused(data, table):
    refused(data, zipped({"engine.toml": tabled(table)}), "a lift table cannot be")


def test_another_csv_is_no_ledger(data):
    made = zipped({"engine.toml": ENGINE, "readings.csv": b"bore;value\n1;2\n"})
    refused(data, made, r"^readings\.csv is not a ledger: its first line is not time,act,place")
    torn = zipped({"engine.toml": ENGINE, "readings.csv": LEDGER[: len(LEDGER) // 2]})
    assert unpack(torn, "torn").readings.problems  # read as far as it goes


def test_what_cannot_be_packed_is_said(data):
    build = load_build("quarry-pump")
    with pytest.raises(ValueError, match=r"notes\.txt cannot go along; only results\.csv, sheet"):
        pack(build, {"notes.txt": b""})
    (build.folder / "engine.toml").write_bytes(tabled())
    with pytest.raises(ValueError, match=r"lift\.csv of quarry-pump cannot be read: No such file"):
        pack(build)
    (build.folder / "engine.toml").write_bytes(tabled("results.csv"))
    (build.folder / "results.csv").write_text(LIFTS)
    pack(build)
    with pytest.raises(ValueError, match=r"results\.csv is a lift table of the build"):
        pack(build, {"results.csv": b""})


def test_a_disk_that_fails_leaves_nothing_behind(data, monkeypatch):
    made = pack(load_build("quarry-pump"))
    before = listing(data)
    with monkeypatch.context() as patch:
        patch.setattr(
            "enginecalc.records.build.os.rename",
            lambda *_: (_ for _ in ()).throw(OSError(28, "full")),
        )
        with pytest.raises(OSError, match="full"):
            unpack(made, "copy")
    assert listing(data) == before


NAMES = st.one_of(
    st.text(max_size=20),
    st.lists(st.sampled_from(["..", ".", "", "/", "a", "\\", "c:", "readings.csv", "engine.toml"]),
             max_size=6).map("/".join),
    st.sampled_from(["readings.csv", "sheet.html", "results.csv", "contents.csv"]),
)  # fmt: skip


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    files=st.dictionaries(NAMES.filter(lambda name: name.isprintable()), st.binary(max_size=40)),
    name=st.one_of(st.text(max_size=12), st.just("copy")),
)
def test_whatever_a_zip_holds_nothing_is_written_outside_the_new_folder(data, files, name):
    before = listing(data)
    made = zipped({"engine.toml": ENGINE, **files})
    try:
        build = unpack(made, name)
    except ValueError:
        assert listing(data) == before
    else:
        assert build.folder.parent == data / "builds"
        new = listing(data).keys() - before.keys()
        allowed = {"engine.toml", "readings.csv", *archive.BESIDE}
        assert {each.relative_to(build.folder).as_posix() for each in new} <= {".", *allowed}
        assert before.items() <= listing(data).items()
        shutil.rmtree(build.folder)
