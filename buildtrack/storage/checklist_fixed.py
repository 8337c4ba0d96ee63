"""What a checklist fixes by its kind decides conditions before anything is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


def settled(conditions: Any, fixed: Mapping[str, str]) -> Any:
    """The conditions of an `only_if` that are still open once `fixed` answers count; None where one can never hold."""
    if not isinstance(conditions, list) or not fixed:
        return conditions if conditions is not None else []
    left = []
    for condition in conditions:
        name = condition.get("item") if isinstance(condition, dict) else None
        if not isinstance(name, str) or name not in fixed:
            left.append(condition)
        elif not holds(condition, str(fixed[name])):
            return None
    return left


def holds(condition: Mapping[str, Any], text: str) -> bool:
    """Whether a condition holds for an answer that is fixed."""
    if condition.get("answered") is not None and not condition["answered"]:
        return False
    wanted, unwanted = (listed(condition.get(key)) for key in ("is", "is_not"))
    if (wanted and text not in wanted) or text in unwanted:
        return False
    low, high = (v if isinstance(v := condition.get(key), (int, float)) else None for key in ("at_least", "at_most"))
    if low is None and high is None:
        return True
    try:
        number = float(text)
    except ValueError:
        return False  # an answer that is no number is never inside a span
    return (low is None or number >= low) and (high is None or number <= high)


def listed(value: Any) -> Sequence[Any]:
    """The value where it is a list; nothing otherwise."""
    return value if isinstance(value, (list, tuple)) else ()


def is_plain_path(name: str) -> bool:
    """Whether a name can only mean a TOML file inside the folder it is looked for in."""
    parts = name.split("/")
    return name.endswith(".toml") and "\\" not in name and "\0" not in name and all(
        part and not part.startswith(".") for part in parts)
