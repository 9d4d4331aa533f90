"""What a chapter can open: engine files, and builds."""

from enginecalc.records import build_names, folder, load_build, load_engine

_BUILD = "build "  # before its name, in the choice of files


def engine_choices():
    """Return what a chapter can open: engine files by their stem, then builds."""
    files = sorted(path.stem for path in folder("engines").glob("*.toml"))
    return [*files, *(_BUILD + name for name in build_names())]


def build_of(choice):
    """Return the build of a choice, None for an engine file."""
    if not choice.startswith(_BUILD):
        return None
    return load_build(folder("builds") / choice.removeprefix(_BUILD))


def engine_of(choice):
    """Return the engine of a choice, of a build the one that was planned."""
    build = build_of(choice)
    return load_engine(folder("engines") / f"{choice}.toml") if build is None else build.engine
