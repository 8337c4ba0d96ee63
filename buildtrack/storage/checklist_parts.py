"""The parts of a checklist read into the model: conditions, columns, items, steps, policy values, checks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from buildtrack.model import checklist as m
from buildtrack.physics.chemistries import Limit
from buildtrack.storage import toml_lines
from buildtrack.storage.checklist_reader import Reader, doubles

_CONDITION = frozenset({"item", "working", "is", "is_not", "at_least", "at_most", "answered"})
_COLUMN = frozenset({"id", "label", "kind", "head", "unit", "dimension", "plausible", "hard", "options", "required",
                     "why", "reuse", "only_if", "default", "metered"})
_ITEM = frozenset({"id", "kind", "label", "need", "hold", "why", "how", "caution", "unit", "dimension", "plausible",
                   "hard", "options", "several", "use", "reuse", "only_if", "columns", "row_name", "row_prefix",
                   "rows_from", "first_row", "expires", "expires_before", "rests_on", "filled_first", "filled_first_if",
                   "moments", "beside", "role", "metered"})
_STEP = frozenset({"id", "title", "minutes", "intro", "items", "workings", "cautions", "also"})
_CHECK = frozenset({"id", "step", "severity", "title", "message", "advice", "mistakes", "rule", "value", "at_most",
                    "at_least", "is", "is_not", "rows", "only_if", "condition", "settings", "ends", "ongoing"})
_POLICY = frozenset({"label", "value", "unit", "dimension", "source"})


def _conditions(r: Reader, body: Mapping[str, Any], path: toml_lines.Path, where: str,
                key: str = "only_if") -> tuple[m.Condition, ...]:
    found = []
    for raw in r.tables(body, key, path, where):
        here = (*path, key)
        r.known(raw, _CONDITION, here, where)
        if bool(raw.get("item")) == bool(raw.get("working")):
            r.note(here, where, f"each condition of '{key}' names either an 'item' or a 'working'")
        numbers = {k: raw.get(k) for k in ("at_least", "at_most")}
        for name, value in numbers.items():
            if value is not None and (isinstance(value, bool) or not isinstance(value, (int, float))):
                r.note(here, where, f"'{name}' in '{key}' must be a number in canonical units")
                numbers[name] = None
        found.append(m.Condition(
            item=str(raw.get("item", "")), working=str(raw.get("working", "")),
            is_=r.texts(raw, "is", here, where), is_not=r.texts(raw, "is_not", here, where),
            at_least=numbers["at_least"], at_most=numbers["at_most"], answered=raw.get("answered")))
    return tuple(found)


def _options(r: Reader, body: Mapping[str, Any], path: toml_lines.Path, where: str,
             needed: bool) -> tuple[m.Option, ...]:
    raw = body.get("options", [])
    pairs = raw if isinstance(raw, list) else []
    good = [p for p in pairs if isinstance(p, list) and len(p) == 2 and all(isinstance(x, str) for x in p)]
    if not isinstance(raw, list) or len(good) != len(pairs):
        r.note((*path, "options"), where, "'options' is a list of pairs: [\"id\", \"label\"]")
    if needed and len(good) < 2:
        r.note(path, where, "a choice needs at least two 'options'")
    for double in doubles(p[0] for p in good):
        r.note((*path, "options"), where, f"option '{double}' stands twice")
    return tuple(m.Option(p[0], p[1]) for p in good)


def _column(r: Reader, body: Mapping[str, Any], path: toml_lines.Path, where: str) -> m.Column:
    name = r.text(body, "id", path, where)
    where = f"{where} column {name}"
    r.known(body, _COLUMN, path, where)
    kind = r.one_of(body, "kind", m.COLUMN_KINDS, path, where, "text")
    unit, dimension = r.unit(body, path, where, kind == "reading")
    return m.Column(
        id=name, label=r.text(body, "label", path, where), kind=kind, head=r.text(body, "head", path, where, ""),
        unit=unit, dimension=dimension, plausible=r.span(body, "plausible", dimension, unit, path, where),
        hard=r.span(body, "hard", dimension, unit, path, where),
        options=_options(r, body, path, where, kind == "choice"), required=r.flag(body, "required", path, where),
        why=r.text(body, "why", path, where, ""), default=r.text(body, "default", path, where, ""),
        reuse=r.one_of(body, "reuse", m.REUSES, path, where, "measure again"),
        only_if=_conditions(r, body, path, where), metered=_metered(r, body, kind, path, where))


def _item(r: Reader, body: Mapping[str, Any], step: str, path: toml_lines.Path) -> m.Item:
    name = r.text(body, "id", path, f"step {step}, item")
    where = f"step {step}, item {name}"
    r.known(body, _ITEM, path, where)
    kind = r.one_of(body, "kind", m.KINDS, path, where, "text")
    unit, dimension = r.unit(body, path, where, kind == "reading")
    need = r.one_of(body, "need", m.CLASSES, path, where, "expected")
    raw_columns = r.tables(body, "columns", path, where)
    columns = tuple(_column(r, c, (*path, "columns", i), where) for i, c in enumerate(raw_columns))
    if kind == "table" and not columns:
        r.note(path, where, "a table needs 'columns'")
    if kind != "table" and columns:
        r.note(path, where, "only a table has 'columns'")
    for double in doubles(c.id for c in columns) if columns else ():
        r.note(path, where, f"column '{double}' stands twice")
    expires = body.get("expires")
    hold = r.flag(body, "hold", path, where)
    if hold and need == "optional":
        r.note((*path, "hold"), where, "an optional item cannot be a hold point")
    return m.Item(
        id=name, step=step, kind=kind, label=r.text(body, "label", path, where), need=need, hold=hold,
        why=r.text(body, "why", path, where, ""), how=r.text(body, "how", path, where, ""),
        caution=r.text(body, "caution", path, where, ""), unit=unit, dimension=dimension,
        plausible=r.span(body, "plausible", dimension, unit, path, where),
        hard=r.span(body, "hard", dimension, unit, path, where),
        options=_options(r, body, path, where, kind == "choice"),
        several=max(1, r.whole(body, "several", path, where, 1)),
        use=r.one_of(body, "use", m.USES, path, where, "last"),
        reuse=r.one_of(body, "reuse", m.REUSES, path, where, "measure again"),
        only_if=_conditions(r, body, path, where), columns=columns,
        row_name=r.text(body, "row_name", path, where, "row"), row_prefix=r.text(body, "row_prefix", path, where, ""),
        rows_from=r.text(body, "rows_from", path, where, ""), first_row=r.whole(body, "first_row", path, where, 1),
        expires_s=None if expires is None else r.measure(expires, "time", "d", (*path, "expires"), where),
        expires_before=r.text(body, "expires_before", path, where, ""), rests_on=r.texts(body, "rests_on", path, where),
        filled_first=r.texts(body, "filled_first", path, where),
        filled_first_if=_conditions(r, body, path, where, "filled_first_if"),
        beside=r.text(body, "beside", path, where, ""),
        moments=_moments(r, body, path, where), role=r.text(body, "role", path, where, ""),
        metered=_metered(r, body, kind, path, where))


def _moments(r: Reader, body: Mapping[str, Any], path: toml_lines.Path, where: str) -> bool:
    found = r.flag(body, "moments", path, where)
    if found and body.get("kind") != "table":
        r.note((*path, "moments"), where, "only the columns of a table can be moments")
    return found


def _metered(r: Reader, body: Mapping[str, Any], kind: str, path: toml_lines.Path, where: str) -> bool:
    if "metered" not in body:
        return True
    if kind != "reading":
        r.note((*path, "metered"), where, "only a reading is 'metered' or not")
    return r.flag(body, "metered", path, where)


def read_step(r: Reader, body: Mapping[str, Any], number: int) -> m.Step:
    """One step with its items."""
    path: toml_lines.Path = ("steps", number)
    name = r.text(body, "id", path, f"step {number + 1}")
    where = f"step {name}"
    r.known(body, _STEP, path, where)
    items = tuple(_item(r, i, name, (*path, "items", k)) for k, i in enumerate(r.tables(body, "items", path, where)))
    if not items:
        r.note(path, where, "a step needs at least one item")
    return m.Step(
        id=name, title=r.text(body, "title", path, where), minutes=r.whole(body, "minutes", path, where, 0),
        intro=r.text(body, "intro", path, where, ""), items=items, workings=r.texts(body, "workings", path, where),
        cautions=r.texts(body, "cautions", path, where), also=r.texts(body, "also", path, where))


def read_policy(r: Reader, name: str, body: Any) -> m.Policy | None:
    """One policy value; None where it cannot be read."""
    path: toml_lines.Path = ("policy", name)
    where = f"policy {name}"
    if not isinstance(body, dict):
        r.note(path, where, "a policy value is a table with label, value and source")
        return None
    r.known(body, _POLICY, path, where)
    text = r.text(body, "value", path, where)
    unit, dimension = r.unit(body, path, where, True)
    value = r.measure(text, dimension, unit, (*path, "value"), where) if dimension else None
    if value is None:
        return None
    return m.Policy(name, r.text(body, "label", path, where), text, value, unit, dimension,
                    r.text(body, "source", path, where))


def read_check(r: Reader, body: Mapping[str, Any], number: int) -> m.CheckRule:
    """One check."""
    path: toml_lines.Path = ("checks", number)
    name = r.text(body, "id", path, f"check {number + 1}")
    where = f"check {name}"
    r.known(body, _CHECK, path, where)
    rule, value = r.text(body, "rule", path, where, ""), r.text(body, "value", path, where, "")
    if bool(rule) == bool(value):
        r.note(path, where, "a check has either a 'rule' or a 'value' with what it is compared with")
    settings = body.get("settings", {})
    if not isinstance(settings, dict) or not all(isinstance(v, str) for v in settings.values()):
        r.note((*path, "settings"), where, "'settings' is a table of texts")
        settings = {}
    check = m.CheckRule(
        id=name, step=r.text(body, "step", path, where), title=r.text(body, "title", path, where),
        severity=r.one_of(body, "severity", m.SEVERITIES, path, where, "caution"),
        message=r.text(body, "message", path, where), advice=r.text(body, "advice", path, where, ""),
        mistakes=r.texts(body, "mistakes", path, where), rule=rule, value=value,
        at_most=r.text(body, "at_most", path, where, ""), at_least=r.text(body, "at_least", path, where, ""),
        is_=r.texts(body, "is", path, where), is_not=r.texts(body, "is_not", path, where),
        rows=r.text(body, "rows", path, where, ""), only_if=_conditions(r, body, path, where),
        condition=r.text(body, "condition", path, where, ""), settings=settings,
        ends=r.text(body, "ends", path, where, ""), ongoing=r.flag(body, "ongoing", path, where))
    if check.ends and check.severity != "stop":
        r.note((*path, "ends"), where, "only a stop says what alone ends it")
    if value and not (check.at_most or check.at_least or check.is_ or check.is_not):
        r.note(path, where, "'value' needs one of at_most, at_least, is, is_not")
    return check


def policy_of(r: Reader, limit: Limit, chemistry: str) -> m.Policy | None:
    """A policy value as a chemistry sets it."""
    where = f"chemistry {chemistry}, limit {limit.id}"
    path: toml_lines.Path = ("chemistry",)
    unit, dimension = r.unit({"unit": limit.unit, "dimension": limit.dimension}, path, where, True)
    value = r.measure(limit.value, dimension, unit, path, where) if dimension else None
    return None if value is None else m.Policy(limit.id, limit.label, limit.value, value, unit, dimension, limit.source)
