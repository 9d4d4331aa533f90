"""An engine: read from its file, checked as a whole, changed as a copy, written back whole."""

import copy
import os
import tempfile
import tomllib
from functools import cached_property
from pathlib import Path

import tomlkit
from pydantic import Field, PrivateAttr

from enginecalc.records import figures, schema
from enginecalc.records.cams import lobes_of
from enginecalc.records.faults import faults, remarks
from enginecalc.records.layout import Layout
from enginecalc.records.unread import read_what_reads
from enginecalc.units import Q, read_typed


def _quantity(name):
    """Return a property that gives a figure of the engine as a quantity."""
    return property(lambda engine: engine.figure(name), doc=f"The engine's {name}, a quantity.")


class Engine(schema.Table):
    """An engine as its file says it: tables of quantities, and the figures that follow.

    A field that is not in the file is None. An Engine never changes; `altered` makes a copy.
    """

    name: schema.Text = None
    layout: Layout = Layout()
    block: schema.Block = schema.Block()
    crank: schema.Crank = schema.Crank()
    rod: schema.Rod = schema.Rod()
    rod_bolt: schema.RodBolt = schema.RodBolt()
    piston: schema.Piston = schema.Piston()
    gasket: schema.Gasket = schema.Gasket()
    head: schema.Head = schema.Head()
    camshaft: schema.Camshaft = schema.Camshaft()
    intake: schema.Intake = schema.Intake()
    exhaust: schema.Valve = schema.Valve()
    bearings: schema.Bearings = schema.Bearings()
    running: schema.Running = schema.Running()
    balance: schema.Balance = schema.Balance()
    limits: dict[str, schema.Limits] = Field(default_factory=dict)

    _raw: dict = PrivateAttr(default_factory=dict)  # the file's plain values, changes included
    _source: str | None = PrivateAttr(default=None)  # the file's text as last read or written
    _changes: dict = PrivateAttr(default_factory=dict)  # {"crank.stroke": "3.840 in"} since then
    _path: Path | None = PrivateAttr(default=None)
    _lobes: dict = PrivateAttr(default_factory=dict)

    rod_ratio = _quantity("rod_ratio")
    true_stroke = _quantity("true_stroke")
    swept_volume = _quantity("swept_volume")
    displacement = _quantity("displacement")
    deck_clearance = _quantity("deck_clearance")
    quench_distance = _quantity("quench_distance")
    running_quench = _quantity("running_quench")
    clearance_volume = _quantity("clearance_volume")
    compression_ratio = _quantity("compression_ratio")
    effective_compression_ratio = _quantity("effective_compression_ratio")
    mean_piston_speed = _quantity("mean_piston_speed")
    peak_piston_acceleration = _quantity("peak_piston_acceleration")

    @classmethod
    def model_validate(cls, raw, *, fitting=True, folder="."):
        """Return the engine that a dictionary of tables describes.

        Parameters
        ----------
        raw : dict
            Tables and keys as in an engine file.
        fitting : bool
            False takes parts that do not fit together, to find the dimension that makes them.
        folder : path
            Where the engine's lift tables lie.

        Raises
        ------
        ValueError
            With a line for every fault: fields that cannot be read, required ones that are
            missing, and dimensions that do not go together.
        """
        if not isinstance(raw, dict):
            raise ValueError(f"an engine is a table of tables, as in an engine file, got {raw!r}")
        return cls._checked(copy.deepcopy(raw), fitting, folder)

    @classmethod
    def _checked(cls, raw, fitting, folder):
        """Return the engine of a dictionary that it may keep."""
        engine, unread = read_what_reads(cls, raw, super().model_validate)
        found = [f"{path}: {fault}" for path, fault in unread.items()]
        engine._lobes, of_lobes = lobes_of(engine, folder)
        found += of_lobes + faults(engine, unread, fitting)
        if found:
            raise ValueError("\n".join(found))
        engine._raw = raw
        return engine

    @property
    def lobes(self):
        """{"intake": lobe, "exhaust": lobe}, in SI; None where the file does not give one."""
        return self._lobes

    @cached_property
    def values(self):
        """All fields and figures in SI floats, by name; None where not known."""
        return figures.Figures(figures.inputs(self))

    def figure(self, name):
        """Return a figure by name, as a quantity.

        Raises
        ------
        ValueError
            When an input is missing: names it, and says where to measure it.
        """
        value = self.values[name]
        if value is None:
            raise ValueError(f"{name} {self.lacking(name)}")
        return Q(value, figures.UNITS[name])

    def lacking(self, name):
        """Return the sentence that says which fields a figure lacks and where to measure them."""
        fields = figures.missing(name, self.values)
        where = [figures.where_to_measure(path) for path in fields]
        told = "; ".join(each for each in dict.fromkeys(where) if each)
        return f"needs {', '.join(fields)}" + (f": {told}" if told else "")

    @property
    def remarks(self):
        """Sentences of doubt that do not stop the work."""
        return remarks(self, self.values)

    def text_at(self, path):
        """Return what was typed at "block.deck_height", or None."""
        at = self._raw
        for key in path.split("."):
            at = at.get(key) if isinstance(at, dict) else None
        return at

    def stated(self, path):
        """Return the text as typed at "block.deck_height", and its limits plus and minus.

        The limits are quantities, None where none were typed.
        """
        text = self.text_at(path)
        if not isinstance(text, str):
            raise ValueError(f"{path} is not in the file, or not a figure with a unit: {text!r}")
        typed = read_typed(text)
        return typed.text, typed.plus, typed.minus

    def altered(self, changes, *, fitting=True):
        """Return a copy with fields changed, checked like a file.

        Parameters
        ----------
        changes : dict
            {"crank.stroke": "3.840 in"}, each as one would write it in the file; None takes a
            field out.
        fitting : bool
            As in `model_validate`.
        """
        raw = copy.deepcopy(self._raw)
        for path, value in changes.items():
            _set(raw, path, value)
        folder = self._path.parent if self._path else "."
        made = type(self)._checked(raw, fitting, folder)
        made._source, made._path = self._source, self._path
        made._changes = {**self._changes, **changes}
        return made

    def text(self):
        """Return the engine file's text: the one read, with its comments, and the changes in it."""
        if self._source is None:
            return tomlkit.dumps(self._raw)
        if not self._changes:
            return self._source
        document = tomlkit.parse(self._source)
        for path, value in self._changes.items():
            _set(document, path, value)
        text = tomlkit.dumps(document)
        if "\r\n" in self._source:  # one sort of line end, the file's own
            text = text.replace("\r\n", "\n").replace("\n", "\r\n")
        return text


def _set(tables, path, value):
    """Put a value at "crank.stroke" in nested tables, or take it out when it is None."""
    *above, key = path.split(".")
    for each in above:
        tables = tables.setdefault(each, {})
        if not isinstance(tables, dict):
            raise ValueError(f"{path}: {each} holds no keys; name a field like crank.stroke")
    if value is None:
        tables.pop(key, None)
    else:
        tables[key] = value


def load_engine(path):
    """Return the `Engine` in a file.

    Raises
    ------
    ValueError
        With the file's name in front of everything that is wrong with it.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8")
        if text.startswith("\ufeff"):
            raise ValueError(f"{path.name}: starts with a byte-order mark; save it as plain UTF-8")
        raw = tomllib.loads(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ValueError(f"{path.name}: is not a TOML text in UTF-8: {error}") from None
    try:
        engine = Engine.model_validate(raw, folder=path.parent)
    except ValueError as error:
        raise ValueError(
            "\n".join(f"{path.name}: {line}" for line in str(error).splitlines())
        ) from None
    engine._source, engine._path = text, path.resolve()
    return engine


def save_engine(engine, path):
    """Write an engine to a file, whole or not at all.

    Raises
    ------
    ValueError
        When there is something else in the file than was read from it; the engine is then
        written beside it, under the name the sentence gives. Or when a lift table of the engine
        does not lie where the file goes.
    """
    path = Path(path).resolve()
    text = engine.text()
    for valve in (engine.intake, engine.exhaust):
        if valve.table is not None and not (path.parent / valve.table).is_file():
            raise ValueError(
                f"{path.name} would lie without its lift table: copy {valve.table} into that folder"
                " first"
            )
    if path.exists():
        mine = engine._source if path == engine._path else None
        if path.read_bytes().decode("utf-8", "replace") not in (mine, text):
            beside = _beside(path)
            _write(beside, text)
            raise ValueError(
                f"{path.name} holds something else than was read from it, and was left alone;"
                f" this engine was written beside it as {beside.name}"
            )
    _write(path, text)
    engine._source, engine._path, engine._changes = text, path, {}


def _beside(path):
    """Return a free name next to `path`."""
    at = 2
    while (free := path.with_name(f"{path.stem}-{at}{path.suffix}")).exists():
        at += 1
    return free


def _write(path, text):
    """Put `text` in place of a file in one step, so that a reader sees the old or the new."""
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise
