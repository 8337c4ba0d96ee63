"""Works printed arithmetic out again from its text alone: numbers, units and signs as they stand on the page."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Callable

TO_CANONICAL = {
    "V": 1.0, "mV": 1e-3, "µV": 1e-6, "A": 1.0, "mA": 1e-3, "µA": 1e-6, "Ω": 1.0, "mΩ": 1e-3, "kΩ": 1e3, "MΩ": 1e6, "Ah": 1.0,
    "mAh": 1e-3, "Wh": 1.0, "mWh": 1e-3, "kWh": 1e3, "W": 1.0, "mW": 1e-3, "kW": 1e3, "s": 1.0, "ms": 1e-3, "min": 60.0,
    "h": 3600.0, "d": 86400.0, "m": 1.0, "mm": 1e-3, "cm": 1e-2, "mm²": 1.0, "g": 1.0, "kg": 1e3, "%": 1e-2, "K": 1.0, "°C": 1.0, "C": 1.0,
    "A²s": 1.0, "EUR": 1.0, "mV/d": 1e-3, "mAh/d": 1e-3, "Ah/d": 1.0}
"""Factors to the units the program computes in: the prefixes of the SI, hours and days in seconds."""
_UNITS = "|".join(sorted((re.escape(u) for u in TO_CANONICAL), key=len, reverse=True))
_SPREAD = re.compile(r" ?± ?[\d.]+(?:e[+-]?\d+)?")
_NUMBER = re.compile(rf"(?<![\w.])(\d+(?:\.\d+)?(?:e[+-]?\d+)?)(?: ({_UNITS})(?![^\W²]|/))?(²?)")
_FUNCTIONS: dict[str, Callable[..., float]] = {"min": min, "max": max, "floor": math.floor, "ceil": math.ceil, "abs": abs,
                                               "sqrt": math.sqrt, "round": round}


def plain(text: str) -> str:
    """Text with plain spaces and signs."""
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("−", "-").replace("·", "×")


def expression(text: str) -> str:
    """Printed arithmetic as an expression of Python; hours are seconds here already, so 3600 s/h is a bare 3600."""
    text = plain(text).replace("3600 s/h", "3600")

    def number(found: re.Match[str]) -> str:
        value, unit, squared = found.groups()
        return f"({value}*{TO_CANONICAL.get(unit or '', 1.0)!r}){'**2' if squared else ''}"

    return _NUMBER.sub(number, _SPREAD.sub("", plain(text))).replace("×", "*").replace("²", "**2").replace("√", "sqrt")


def worked_out(text: str) -> float | None:
    """The value of printed arithmetic in the units the program computes in; None where the text is not arithmetic."""
    try:
        tree = ast.parse(expression(text).strip(), mode="eval")
    except SyntaxError:
        return None
    return _value(tree.body)


def _value(node: ast.expr) -> float | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, (int, float)):
        return float(node.value)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        inner = _value(node.operand)
        return None if inner is None else -inner
    if isinstance(node, ast.BinOp):
        left, right = _value(node.left), _value(node.right)
        if left is None or right is None:
            return None
        match node.op:
            case ast.Add():
                return left + right
            case ast.Sub():
                return left - right
            case ast.Mult():
                return left * right
            case ast.Div():
                return left / right
            case ast.Pow():
                return float(left**right)
        return None
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _FUNCTIONS:
        given = [_value(a) for a in node.args]
        return None if None in given else float(_FUNCTIONS[node.func.id](*given))
    return None


def shown(text: str) -> tuple[float, float] | None:
    """A printed result in the units the program computes in, and one step of its last digit; None for words."""
    found = re.fullmatch(rf"(-?\d+(?:\.\d+)?)(?: ± [\d.]+)?(?: ({_UNITS}))?", plain(text).strip())
    if found is None:
        return None
    factor = TO_CANONICAL.get(found.group(2) or "", 1.0)
    places = len(found.group(1).partition(".")[2])
    return float(found.group(1)) * factor, 10.0**-places * factor
