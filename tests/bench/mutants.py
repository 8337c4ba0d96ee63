"""Small mistakes put into a module one at a time: what each is called and how the text reads with it.

A comparison turned or moved by its border, arithmetic exchanged, a number one more or doubled, a boolean or an `and`
exchanged, a `not` dropped, `None` returned, `min` for `max`. Texts, annotations and docstrings are left alone.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,)}
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult, ast.Pow: ast.Mult}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One mistake: where it is (line from 1, bytes from `start` to `end`) and what stands there instead."""

    line: int
    last_line: int
    start: int
    end: int
    before: str
    after: str
    room: str
    """Function or class it is in, dotted; empty on the level of the module."""
    runs: bool
    """Whether it stands in the body of a function; what stands elsewhere works when the module is imported."""

    @property
    def called(self) -> str:
        """Its name, which survives edits elsewhere in the file."""
        return f"{self.room or '(module)'}: {self.before} -> {self.after}"

    def put_into(self, text: str) -> str:
        """The module's text with the mistake in it."""
        raw = text.encode()
        return (raw[:self.start] + self.after.encode() + raw[self.end:]).decode()


def mutants_of(text: str) -> list[Mutant]:
    """Every mistake this module knows for the text of a module, in the order of the text; each still compiles."""
    starts = [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found = []
    for node, room, runs in _walk(ast.parse(text), (), False):
        for after in _changed(node):
            start, end = starts[node.lineno - 1] + node.col_offset, starts[_last(node) - 1] + _last_column(node)
            said = ast.unparse(after)
            said = said if isinstance(after, ast.stmt) else f"({said})"
            found.append(Mutant(node.lineno, _last(node), start, end, ast.unparse(node), said, ".".join(room), runs))
    return sorted(found, key=lambda m: (m.start, m.end, m.after))


def _last(node: ast.expr | ast.stmt) -> int:
    return node.end_lineno or node.lineno


def _last_column(node: ast.expr | ast.stmt) -> int:
    return node.end_col_offset or node.col_offset


Place = tuple[ast.expr | ast.stmt, tuple[str, ...], bool]


def _walk(node: ast.AST, room: tuple[str, ...], runs: bool) -> Iterator[Place]:
    """Expressions and statements with the room they are in, without annotations, docstrings and f-strings' texts."""
    if isinstance(node, ast.expr | ast.stmt):
        yield node, room, runs
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "type_params"):
            continue
        inner, within = room, runs
        if name == "body" and isinstance(node, ast.FunctionDef | ast.ClassDef):
            inner, within = (*room, node.name), runs or isinstance(node, ast.FunctionDef)
        for child in value if isinstance(value, list) else [value]:
            # parts of an f-string have no place of their own before Python 3.12
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield from _walk(child, inner, within)


def _changed(node: ast.AST) -> Iterator[ast.expr | ast.stmt]:
    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            for other in COMPARED[type(operator)]:
                changed = copy.deepcopy(node)
                changed.ops[at] = other()
                yield changed
    elif isinstance(node, ast.BinOp) and type(node.op) in RECKONED and not (_text(node.left) or _text(node.right)):
        yield ast.BinOp(node.left, RECKONED[type(node.op)](), node.right)
    elif isinstance(node, ast.AugAssign) and type(node.op) in RECKONED and not _text(node.value):
        yield ast.AugAssign(node.target, RECKONED[type(node.op)](), node.value)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.Constant):
        yield from _other_constants(node)
    elif isinstance(node, ast.Return) and node.value is not None and not _none(node.value):
        yield ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLED:
        yield ast.Call(ast.Name(CALLED[node.func.id]), node.args, node.keywords)
    elif isinstance(node, ast.Break):
        yield ast.Continue()
    elif isinstance(node, ast.Continue):
        yield ast.Break()


def _other_constants(node: ast.Constant) -> Iterator[ast.expr]:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield ast.Constant(node.value + 1)
        yield ast.Constant(node.value - 1)
    elif isinstance(node.value, float):
        yield ast.Constant(node.value * 2 or 1.0)


def _text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or isinstance(node, ast.Constant) and isinstance(node.value, str | bytes)


def _none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None
