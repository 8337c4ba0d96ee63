"""Items, columns and checks that can never be reached, because their conditions can never hold together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from buildtrack.model.checklist import Checklist, Condition, Item
from buildtrack.storage import toml_lines
from buildtrack.storage.checklist_file import Problem

Note = Callable[[toml_lines.Path, str, str], Problem]


def problems(checklist: Checklist, note: Note) -> Iterator[Problem]:
    """Every item, column and check that no answers lead to."""
    order = {item.id: n for n, item in enumerate(checklist.all_items())}
    for s, step in enumerate(checklist.steps):
        for i, item in enumerate(step.items):
            path: toml_lines.Path = ("steps", s, "items", i)
            where = f"step {step.id}, item {item.id}"
            for told in _never(item.only_if, checklist.items):
                yield note((*path, "only_if"), where, told)
            yield from _too_early(item, order, path, where, note)
            for n, column in enumerate(item.columns):
                for told in _never((*item.only_if, *column.only_if) if column.only_if else (), checklist.items):
                    yield note((*path, "columns", n), f"{where}, column {column.id}", told)
    for check in checklist.checks:
        for told in _never(check.only_if, checklist.items):
            yield note(("use_checks",), f"check {check.id}", told)


def _too_early(item: Item, order: Mapping[str, int], path: toml_lines.Path, where: str,
               note: Note) -> Iterator[Problem]:
    for condition in item.only_if:
        if condition.item in order and order[condition.item] >= order[item.id]:
            yield note((*path, "only_if"), where, f"waits for '{condition.item}', which is asked after it")


def _never(conditions: tuple[Condition, ...], items: Mapping[str, Item]) -> Iterator[str]:
    """Why these conditions can never hold together; nothing where they can."""
    for condition in conditions:
        item = items.get(condition.item)
        if item is not None and (told := _odd_answer(condition, item)):
            yield told
            return
    for name, mine in _with_theirs(conditions, items).items():
        if (told := _clash(mine, items.get(name))):
            yield f"can never be reached: {told}"
            return


def _odd_answer(condition: Condition, item: Item) -> str:
    allowed = {o.id for o in item.options} if item.kind == "choice" else None
    allowed = {"yes", "no"} if item.kind == "tick" else allowed
    for answer in (*condition.is_, *condition.is_not):
        if allowed is not None and answer not in allowed:
            return f"only_if waits for '{answer}', which '{item.id}' never answers: this would never be reached"
    numbers = condition.at_least is not None or condition.at_most is not None
    if numbers and item.kind != "reading":
        return f"only_if compares '{item.id}' with a number, but it is a {item.kind}: this would never be reached"
    return ""


def _with_theirs(conditions: tuple[Condition, ...], items: Mapping[str, Item]) -> dict[str, list[Condition]]:
    """Conditions by item, with those of every item that must have been answered for them to hold."""
    found: dict[str, list[Condition]] = {}
    waiting, seen = list(conditions), set()
    while waiting:
        condition = waiting.pop()
        if not condition.item:
            continue
        found.setdefault(condition.item, []).append(condition)
        if condition.item not in seen and _needs_answer(condition) and condition.item in items:
            seen.add(condition.item)
            waiting.extend(items[condition.item].only_if)
    return found


def _needs_answer(condition: Condition) -> bool:
    return bool(condition.is_ or condition.answered or condition.at_least is not None or condition.at_most is not None)


def _clash(conditions: list[Condition], item: Item | None) -> str:
    """Why the conditions on one item exclude each other; empty where some answer satisfies all."""
    name = conditions[0].item
    if any(c.answered is False for c in conditions) and any(_needs_answer(c) for c in conditions):
        return f"'{name}' would have to be answered and not answered"
    wanted = [set(c.is_) for c in conditions if c.is_]
    left = set.intersection(*wanted) if wanted else None
    if left is None and item is not None and item.kind == "choice":
        left = {o.id for o in item.options}
    unwanted = {a for c in conditions for a in c.is_not}
    asks = any(_needs_answer(c) for c in conditions)
    if left is not None and asks and not left - unwanted:
        return f"no answer of '{name}' satisfies every condition on it"
    low = max((c.at_least for c in conditions if c.at_least is not None), default=None)
    high = min((c.at_most for c in conditions if c.at_most is not None), default=None)
    if low is not None and high is not None and low > high:
        return f"'{name}' would have to be at least {low:g} and at most {high:g}"
    if item is not None and low is not None and item.hard.high is not None and low > item.hard.high:
        return f"'{name}' is never accepted above {item.hard.high:g}"
    if item is not None and high is not None and item.hard.low is not None and high < item.hard.low:
        return f"'{name}' is never accepted below {item.hard.low:g}"
    return ""
