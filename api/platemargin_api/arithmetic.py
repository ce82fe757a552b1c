"""The arithmetic that a line of working may be written in, and nothing else of Python."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable

__all__ = ["evaluate"]

_OPERATORS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: math.pow,
}
_FUNCTIONS: dict[str, Callable[..., float]] = {
    "sqrt": math.sqrt,
    "ln": math.log,
    "max": max,
    "min": min,
    "Phi": lambda x: math.erfc(-x / math.sqrt(2)) / 2,
}


def evaluate(line: str) -> float:
    """Evaluate a line of working: + - * / ^, brackets, sqrt, ln, max, min, and Phi, the normal distribution.

    Raises
    ------
    ValueError
        For anything else, and where the line has no real value.

    Examples
    --------
    >>> evaluate("sqrt(0.15^2 + 0.2^2)")
    0.25
    """
    try:
        return _value(ast.parse(line.replace("^", "**"), mode="eval").body)
    except (SyntaxError, ArithmeticError, TypeError) as error:
        raise ValueError(str(error)) from error


def _value(node: ast.expr) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(left), _value(right))
        case ast.Call(func=ast.Name(id=name), args=arguments, keywords=[]) if name in _FUNCTIONS:
            return _FUNCTIONS[name](*map(_value, arguments))
    raise ValueError(f"{ast.unparse(node)} is not arithmetic")
