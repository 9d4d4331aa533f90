"""A zip file that somebody hands in: its files in memory, or one sentence why not."""

import io
import re
import stat
import struct
import unicodedata
import zipfile
import zlib

# Bounds of our own. A build is a handful of files, and a ledger of 100 000 rows takes 12 MB.
MOST_ENTRIES = 200
LARGEST_FILE = 50_000_000  # bytes, unpacked
LARGEST_WHOLE = 100_000_000
LARGEST_RATIO = 200  # unpacked over packed; a ledger comes to about 20
_ANY_RATIO = 1_000_000  # bytes that may unpack from however few
_PIECE = 65_536

_ENTRY = b"PK\x01\x02"  # begins every entry of a zip file's list
_NO_TEXT = re.compile("[\0-\x1f\x7f\ud800-\udfff]")
_LEFT_OUT = re.compile(
    r"__MACOSX|\.DS_Store|\._.*|Thumbs\.db|desktop\.ini|\.ipynb_checkpoints|readings\.csv\.lock"
)
_DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError,
            ValueError, OverflowError)  # fmt: skip
_READ = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


def read_zip(data):
    """Return the files in a zip, and the names of those that some program put there unasked.

    One folder around all files is taken off, as there is when a person zips a folder.

    Parameters
    ----------
    data : bytes
        Of the zip file.

    Returns
    -------
    files : dict
        {name: bytes}; no name has a folder in it.
    left_out : list of str
        Names of files such as .DS_Store, which were not read.

    Raises
    ------
    ValueError
        When it is no zip file, is damaged or too large, or holds what is not a plain file.
    """
    if len(data) > LARGEST_WHOLE:
        raise ValueError(
            f"the zip file has {len(data)} bytes and a build at most {LARGEST_WHOLE}: take out what"
            " is no part of it"
        )
    if (count := data.count(_ENTRY)) > MOST_ENTRIES:
        raise ValueError(
            f"the zip file has {count} entries; a build has at most {MOST_ENTRIES}: zip the folder"
            " of one build"
        )
    try:
        opened = zipfile.ZipFile(io.BytesIO(data))
    except _DAMAGED:
        if data.startswith(b"PK"):
            raise ValueError("the zip file is damaged or cut off: fetch it anew") from None
        raise ValueError("the file is not a zip file: choose one with a build in it") from None
    with opened:
        entries = _entries(opened.infolist())
        left_out = [entry.filename for parts, entry in entries
                    if _is_left_out(parts) and not entry.is_dir()]  # fmt: skip
        kept = [(parts, entry) for parts, entry in entries if not _is_left_out(parts)]
        files, room = {}, LARGEST_WHOLE
        for name, entry in _without_top(kept).items():
            files[name] = _unpacked(opened, entry, name, room)
            room -= len(files[name])
    return files, left_out


def _is_left_out(parts):
    return any(map(_LEFT_OUT.fullmatch, parts))


def _entries(listed):
    """Return [(parts of the path, entry)], having refused what is not a plain file or folder."""
    made, seen = [], {}
    for entry in listed:
        name = entry.orig_filename
        kind = stat.S_IFMT(entry.external_attr >> 16)
        parts = tuple(part for part in name.split("/") if part not in ("", "."))
        if strange := _strange_name(name):
            raise ValueError(f"{name[:80]!r} in the zip file {strange}: zip the folder anew")
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise ValueError(
                f"{name} in the zip file is a link or a device, not a file: put the file itself in"
            )
        if entry.flag_bits & 0x41:
            raise ValueError(f"{name} in the zip file is encrypted: zip it without a password")
        if not parts:
            continue
        same = unicodedata.normalize("NFC", "/".join(parts)).casefold()
        if same in seen:
            raise ValueError(
                f"{seen[same]} and {name} in the zip file have the same name, or differ only in"
                " capitals: keep one"
            )
        seen[same] = name
        made.append((parts, entry))
    return made


def _strange_name(name):
    """Return what is wrong with a path, "" when nothing is."""
    if _NO_TEXT.search(name):
        return "has signs in its name that are not text"
    if "\\" in name:
        return "has a backslash in its name"
    if ":" in name:
        return "has a drive or a colon in its name"
    if name.startswith("/"):
        return "starts at the root of a disk"
    return "leads out of its folder" if ".." in name.split("/") else ""


def _without_top(entries):
    """Return {name: entry} of the files, without the one folder that may lie around all."""
    files = [(parts, entry) for parts, entry in entries if not entry.is_dir()]
    tops = {parts[0] for parts, _ in files}
    around = len(tops) == 1 and all(len(parts) > 1 for parts, _ in files)
    made = {}
    for parts, entry in entries:
        inside = parts[1:] if around and parts[0] in tops else parts
        if len(inside) > 1 or (inside and entry.is_dir()):
            raise ValueError(
                f"{'/'.join(parts)} in the zip file lies or is a folder inside the build, which has"
                " none: zip the folder of one build alone"
            )
        if inside:
            made[unicodedata.normalize("NFC", inside[0])] = entry
    return made


def _unpacked(opened, entry, name, room):
    """Return the bytes of an entry, counted as they come: what the zip says of them may lie."""
    if entry.compress_type not in _READ:
        raise ValueError(f"{name} is packed in a way that is not read here: zip it with deflate")
    most = min(LARGEST_FILE, room, max(LARGEST_RATIO * entry.compress_size, _ANY_RATIO))
    pieces, size = [], 0
    try:
        with opened.open(entry) as file:
            while size <= most and (piece := file.read(_PIECE)):
                pieces.append(piece)
                size += len(piece)
    except _DAMAGED:
        raise ValueError(f"{name} in the zip file is damaged: fetch the file anew") from None
    if size > most:
        raise ValueError(
            f"{name} in the zip file unpacks to too much: at most {LARGEST_FILE} bytes a file,"
            f" {LARGEST_WHOLE} in all, {LARGEST_RATIO} times what is packed: look what it holds"
        )
    return b"".join(pieces)
