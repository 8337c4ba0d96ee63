"""Rules about limits that were changed: how far that may go, and that it is told."""

from __future__ import annotations

from collections.abc import Iterator

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.data import load
from buildtrack.model.checklist import Policy
from buildtrack.physics.chemistries import Chemistry, chemistry


def limits_changed(context: Context) -> Ruling:
    """Policy values that were changed from their default, each with the old and the new limit."""
    words = [f"{policy.label}: {policy.text} to {units.clip(change.text)}"
             for name, change in context.build.policy.items()
             if (policy := context.checklist.policy.get(name)) and change.text != policy.text]
    if not words:
        return PASS
    return Ruling("fail", {"rows": listed(words, joint="; "), "count": str(len(words))})


def out_of_bounds(context: Context) -> Ruling:
    """No limit that a stop rests on lies beyond what any reason can carry, and no limit was changed without one."""
    return found([*_beyond(context), *_unreasoned(context)])


def _unreasoned(context: Context) -> Iterator[str]:
    for name, change in context.build.policy.items():
        policy = context.checklist.policy.get(name)
        if policy is not None and not change.reason.strip():
            yield f"{policy.label}: changed without a reason"


def _beyond(context: Context) -> Iterator[str]:
    kind = chemistry(context.checklist.chemistry) if context.checklist.chemistry else None
    for name, bound in load("policy_bounds")["bounds"].items():
        policy = context.checklist.policy.get(name)
        if policy is None:
            continue
        change = context.build.policy.get(name)
        text = policy.text if change is None else change.text
        try:
            value = units.parse(text, policy.dimension, policy.unit).value
        except units.QuantityError as error:
            yield f"{policy.label}: {error}"
            continue
        if told := _outside(policy, value, bound, kind):
            yield f"{policy.label}: {units.clip(text)}, {told}: {bound['reason']}"


def _outside(policy: Policy, value: float, bound: dict[str, str], kind: Chemistry | None) -> str:
    lowest = [_value(text, policy) for text in _texts(bound, "lowest", kind)]
    highest = [_value(text, policy) for text in _texts(bound, "highest", kind)]
    if lowest and value < max(lowest) - 1e-9:
        return f"at least {units.show(max(lowest), policy.unit, digits=3)}"
    if highest and value > min(highest) + 1e-9:
        return f"at most {units.show(min(highest), policy.unit, digits=3)}"
    return ""


def _texts(bound: dict[str, str], side: str, kind: Chemistry | None) -> Iterator[str]:
    if side in bound:
        yield bound[side]
    limit = kind.limits.get(bound.get(f"{side}_of", "")) if kind is not None else None
    if limit is not None:
        yield limit.value


def _value(text: str, policy: Policy) -> float:
    return units.parse(text, policy.dimension, policy.unit).value
