"""Keys of a file that this program does not know, carried over into what is written next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from buildtrack.storage import shapes
from buildtrack.storage.toml_patch import steps

Tree = dict[str, Any]
Merge = Callable[[Mapping[str, Any], Mapping[str, Any]], Tree]


def _is_default(key: str, value: object) -> bool:
    return isinstance(value, str) and value == shapes.DEFAULTS.get(key, "")


def _rest(old: Mapping[str, Any], new: Mapping[str, Any], known: frozenset[str]) -> Tree:
    """What stands in `old` beyond `new`: unknown keys, and known ones written out though at their default."""
    return {k: v for k, v in old.items() if k not in new and (k not in known or _is_default(k, v))}


def _record(known: frozenset[str]) -> Merge:
    return lambda old, new: {**new, **_rest(old, new, known)}


def _pairs(old: list[Any], new: list[Any], merge: Merge) -> list[Any]:
    """Every element of `new`, each with what the same element of `old` held beside it."""
    found = list(new)
    for _kind, low, high, new_low, new_high in steps(old, new):
        for n in range(min(high - low, new_high - new_low)):
            if old[low + n] != new[new_low + n]:
                found[new_low + n] = merge(old[low + n], new[new_low + n])
    return found


def _lists(old: Mapping[str, Any], new: Mapping[str, Any], merges: Mapping[str, Merge]) -> Tree:
    """`new` with the unknown keys of every array of tables in it."""
    found = dict(new)
    for key, merge in merges.items():
        if key in old and key in new:
            found[key] = _pairs(old[key], new[key], merge)
        elif old.get(key) == []:
            found[key] = []
    return found


def _row(old: Mapping[str, Any], new: Mapping[str, Any]) -> Tree:
    """A row: every text in it is a column, so only details of columns that are not there are unknown."""
    found = dict(new)
    columns = {k for k in old if k != "id"} | set(old["columns"] if isinstance(old.get("columns"), dict) else ())
    now = {k for k in new if k != "id"} | set(new["columns"] if isinstance(new.get("columns"), dict) else ())
    for key in shapes.DETAILS:
        before = old.get(key)
        if isinstance(before, dict):
            held = new.get(key, {})
            kept = {c: v for c, v in before.items()
                    if c not in columns or (c in now and c not in held and _is_default(key, v))}
            if isinstance(held, dict) and (kept or held):
                found[key] = {**held, **kept}
    return found


def _item(old: Any, new: Any) -> Any:
    if isinstance(old, list) and isinstance(new, list):
        return _pairs(old, new, _row)
    if not isinstance(old, dict) or not isinstance(new, dict):
        return new
    inner = _lists(old, new, {"readings": _record(frozenset(shapes.READING.keys)), "rows": _row})
    return {**inner, **_rest(old, inner, frozenset({"readings", "rows"}))}


def _expected(old: Any, new: Any) -> Any:
    if not isinstance(old, dict) or not isinstance(new, dict):
        return new
    inner = _lists(old, new, {"rows": _row})
    return {**inner, **_rest(old, inner, frozenset({"value", "rows"}))}


def _left_out(old: Any, new: Any) -> Any:
    return _record(frozenset(shapes.LEFT_OUT.keys))(old, new)


def _steps(old: Mapping[str, Any], new: Mapping[str, Any], merge: Callable[[Any, Any], Any]) -> Tree:
    """Tables by step and item; an empty one that the file had stays."""
    found = dict(new)
    for step, items in old.items():
        if step in new:
            found[step] = {k: merge(items[k], v) if k in items else v for k, v in new[step].items()}
        elif not items:
            found[step] = {}
    return found


def _list_of(shape: shapes.Record) -> Callable[[Any, Any], Any]:
    merge = _record(frozenset(shape.keys))
    return lambda old, new: _pairs(old, new, merge)


def _named(old: Mapping[str, Any], new: Mapping[str, Any], merge: Merge) -> Tree:
    return {k: merge(old[k], v) if k in old else v for k, v in new.items()}


_PLACES: Mapping[str, Callable[[Any, Any], Any]] = {
    **{key: _record(frozenset(shape.keys)) for key, shape in shapes.RECORDS.items()},
    "policy": lambda old, new: _named(old, new, _record(frozenset(shapes.POLICY.keys))),
    "instruments": lambda old, new: _named(old, new, _row),
    "steps": lambda old, new: _steps(old, new, _item),
    "left_out": lambda old, new: _steps(old, new, _left_out),
    "expected": lambda old, new: _steps(old, new, _expected),
    **{key: _list_of(shape) for key, (_name, shape) in shapes.LISTS.items()},
}


def keep_unknown(old: Mapping[str, Any], new: Mapping[str, Any]) -> Tree:
    """The tables `new` of a build with what the file `old` holds beyond them; the snapshot stays last.

    What is taken out of the build takes its unknown keys along.
    """
    known = frozenset({*shapes.HEADER.keys, *shapes.ORDER, "format", "snapshot"})
    merged = {k: _PLACES[k](old[k], v) if k in old and k in _PLACES else v for k, v in new.items()}
    empty = {k: v for k, v in old.items() if k in shapes.ORDER and k not in new and not v and k not in shapes.RECORDS}
    merged.update({**_rest(old, merged, known), **empty})
    if "snapshot" in merged:
        merged["snapshot"] = merged.pop("snapshot")
    return merged
