"""What of an engine file cannot be read: pydantic's findings in sentences of our own."""

import copy
import difflib

from pydantic import ValidationError


def read_what_reads(model, raw, validate):
    """Return the model of all that can be read, and {path: sentence} for what cannot.

    Parameters
    ----------
    model : type
        A pydantic model whose fields may all be left out.
    raw : dict
        Tables and keys as in an engine file; it is not changed.
    validate : callable
        pydantic's own reader of the model.
    """
    unread = {}
    while True:
        try:
            return validate(raw), unread
        except ValidationError as error:
            wrong = {_within(raw, each["loc"]): each for each in error.errors()}
            for location, each in wrong.items():
                unread[_path(location)] = _sentence(model, location, each)
            raw = copy.deepcopy(raw)
            for location in sorted(wrong, key=lambda each: [str(key) for key in each])[::-1]:
                _drop(raw, location)


def _within(raw, location):
    """Return `location` as far as it is a place in the file: pydantic may add its own words."""
    kept = []
    for key in location:
        try:
            raw = raw[key]
        except (KeyError, IndexError, TypeError):
            break
        kept.append(key)
    return tuple(kept)


def _path(location):
    """Return ("rod", "outline", 0, "x") as "rod.outline.row 1.x"."""
    return ".".join(f"row {key + 1}" if isinstance(key, int) else key for key in location)


def _drop(raw, location):
    """Take out what cannot be read: a key, a row's keys, or a list with a row that is no table."""
    *above, key = location
    inner = raw
    for each in above:
        if not isinstance(inner, list | dict) or (isinstance(inner, dict) and each not in inner):
            return  # went with its list
        inner = inner[each]
    if isinstance(inner, dict):
        inner.pop(key, None)
    else:
        _drop(raw, above)


def _sentence(model, location, error):
    """Return our own sentence for one of pydantic's errors."""
    if error["type"] == "value_error":
        return str(error["ctx"]["error"])
    if error["type"] == "extra_forbidden":
        known = _keys(model, location[:-1])
        near = difflib.get_close_matches(location[-1], known, 1, 0.5)
        return "no such key in an engine file; " + (
            f"did you mean {near[0]}?" if near else f"here go {', '.join(known)}"
        )
    wanted = "a list, like [ … ]" if error["type"] == "list_type" else "a table with keys"
    return f"{error['input']!r} stands where {wanted} is due"


def _keys(model, location):
    """Return the keys that may stand in the table at `location`."""
    for key in location:
        if key not in model.model_fields:
            continue
        kind = model.model_fields[key].annotation
        inner = [kind, *getattr(kind, "__args__", ())]
        inner += [each for one in inner for each in getattr(one, "__args__", ())]
        model = next(each for each in inner if hasattr(each, "model_fields"))
    return list(model.model_fields)
