"""What the tests of chapters share: engine files of their own, and reading a page."""

import html
import re
import shutil
from pathlib import Path

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8, LONG, FOUR = FILES = ("quarry-pump-v8", "quarry-pump-v8-long-stroke", "ferry-four")


def own_engines(root, monkeypatch):
    """Make `root` the data folder, with the three invented engines; return where they lie."""
    folder = root / "engines"
    folder.mkdir()
    for name in FILES:
        shutil.copy(ENGINES / f"{name}.toml", folder)
    monkeypatch.setenv("ENGINECALC_DATA", str(root))
    return folder


def own_builds(root, monkeypatch):
    """Make `root` the data folder, with the invented engines and builds; return it."""
    own_engines(root, monkeypatch)
    shutil.copytree(ENGINES.parent / "builds", root / "builds")
    return root


def stems(folder):
    """Return the names of the engine files in a folder."""
    return {path.stem for path in folder.iterdir()}


def table(chapter):
    """Return {first cell of a row: its other cells} of the table on a chapter's page."""
    rows = re.findall(r'<th scope="row">(.*?)</th>(.*?)</tr>', html.unescape(chapter.numbers.value))
    return {name.partition(" [")[0]: re.findall("<td>(.*?)</td>", row) for name, row in rows}


def plain(widget):
    """Return what a widget of HTML says, without its tags."""
    return html.unescape(re.sub("<.*?>", "", widget.value))


def slide(field, part):
    """Slide to a part of the slider's length, as a person does who looks at no number."""
    slider = field.slider
    slider.value = type(slider.value)(slider.min + part * (slider.max - slider.min))
