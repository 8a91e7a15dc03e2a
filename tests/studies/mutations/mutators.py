"""Small changes of code that may turn a sign: where one can be made in a module, and the module with it.

Task: the mutants of a module's source. A mutant is one node of the syntax tree changed in one way; types,
docstrings and imports are left alone. It is of one of two kinds:

- ``sign``: what it changes can turn an answer over: a sign, + against -, a factor that is a sign dropped, a
  comparison, ``not``, ``and`` against ``or``, min against max, real part against imaginary, a conjugate or a
  magnitude left out, a constant negated, the first of two taken for the second;
- ``measure``: how much something counts: a constant doubled or halved (thresholds, priors, widths), a product
  made a quotient (which has the same sign), a 0 made a 1.
"""

from __future__ import annotations

import ast
import copy
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

OPPOSITE: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Lt: ast.GtE,
    ast.GtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
NAMES = {
    "min": "max",
    "max": "min",
    "argmin": "argmax",
    "argmax": "argmin",
    "minimum": "maximum",
    "maximum": "minimum",
    "any": "all",
    "all": "any",
    "real": "imag",
    "cos": "sin",
    "sin": "cos",
}
DROPPED = {"conj", "abs"}
"""Functions whose argument stands in for the call."""
SIGNED = ("sign", "gesture", "factor", "turn")
"""A product with one of these is also tried without it."""
IDLE_KEYWORDS = {"strict", "axis", "keepdims", "dtype", "optimize", "rcond", "scramble"}

Kind = Literal["sign", "measure"]
Change = tuple[Kind, Callable[[ast.AST], ast.AST]]


@dataclass(frozen=True)
class Mutant:
    """One change: where it is, what stood there and what stands there now, and which node it is."""

    module: str
    line: int
    column: int
    was: str
    became: str
    index: int
    way: int
    kind: Kind

    @property
    def key(self) -> str:
        """The same for as long as the line's place and text are."""
        told = f"{self.module} {self.line} {self.column} {self.was} {self.became}"
        return hashlib.sha256(told.encode()).hexdigest()[:16]


def mutants_of(module: str, path: Path) -> list[Mutant]:
    """Every mutant of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = []
    for index, node in enumerate(_eligible(tree)):
        for way, (kind, change) in enumerate(_changes(node)):
            became = ast.unparse(ast.fix_missing_locations(change(copy.deepcopy(node))))
            was = ast.unparse(node)
            if was != became:
                found.append(Mutant(module, node.lineno, node.col_offset, was, became, index, way, kind))
    return found


def changed_tree(path: Path, mutant: Mutant) -> ast.Module:
    """The module's tree with the change made."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    node = list(_eligible(tree))[mutant.index]
    _, change = _changes(node)[mutant.way]
    new = ast.copy_location(change(copy.deepcopy(node)), node)

    class Put(ast.NodeTransformer):
        def visit(self, at: ast.AST) -> ast.AST:
            return new if at is node else self.generic_visit(at)

    return ast.fix_missing_locations(Put().visit(tree))


def _eligible(tree: ast.Module) -> Iterator[ast.expr]:
    """Expressions that do something, in order of the text."""
    stack: list[ast.AST] = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, ast.expr) and _changes(node):
            yield node
        stack.extend(reversed(list(_children(node))))


def _children(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Import() | ast.ImportFrom() | ast.JoinedStr() | ast.Raise() | ast.arg():
            return
        case ast.Expr(value=ast.Constant()):
            return
        case ast.AnnAssign(value=value):
            if value is not None:
                yield value
        case ast.FunctionDef(body=body, args=args):
            yield from (d for d in (*args.defaults, *args.kw_defaults) if d is not None)
            yield from body
        case ast.ClassDef(body=body):
            yield from body
        case ast.keyword(arg=name) if name in IDLE_KEYWORDS:
            return
        case ast.Subscript(value=value, slice=ast.Constant(value=0 | 1)):
            yield value  # the index itself is changed by the subscript
        case ast.Assign(targets=[ast.Name(id=name)]) if name.endswith(("Array", "Piece", "Integers")):
            return  # an alias of a type
        case _:
            yield from ast.iter_child_nodes(node)


def _changes(node: ast.AST) -> list[Change]:  # noqa: PLR0911, PLR0912  # one return a kind of node
    match node:
        case ast.BinOp(op=op, left=left, right=right):
            ways: list[Change] = []
            if type(op) in OPPOSITE and not _of_text(node):
                same_sign = isinstance(op, ast.Mult | ast.Div)
                ways.append(("measure" if same_sign else "sign", _opposite))
            if isinstance(op, ast.Mult):
                ways += [("sign", _left)] if _signed(right) else []
                ways += [("sign", _right)] if _signed(left) else []
            return ways
        case ast.BoolOp():
            return [("sign", _opposite)]
        case ast.Compare(ops=[one]) if type(one) in OPPOSITE:
            return [("sign", _compared)]
        case ast.UnaryOp(op=ast.USub() | ast.Not()):
            return [("sign", lambda n: n.operand)]
        case ast.Subscript(slice=ast.Constant(value=0 | 1)):
            return [("sign", _other_of_two)]
        case ast.Constant(value=bool() as value):
            return [("sign", lambda n: ast.Constant(not value))]
        case ast.Constant(value=int() | float() as number):
            if number == 0:
                return [("measure", lambda n: ast.Constant(1))]
            ways = [("sign", lambda n: ast.UnaryOp(ast.USub(), n))]
            if isinstance(number, float) and number not in (0.5, 1.0, 2.0):
                ways += [
                    ("measure", lambda n: ast.Constant(2 * number)),
                    ("measure", lambda n: ast.Constant(number / 2)),
                ]
            return ways
        case ast.Call(func=ast.Attribute(attr=name) | ast.Name(id=name), args=[_]) if name in DROPPED:
            return [("sign", lambda n: n.args[0])]
        case ast.Attribute(attr=name) | ast.Name(id=name) if name in NAMES:
            return [("sign", _renamed)]
    return []


def _of_text(node: ast.AST) -> bool:
    return any(isinstance(n, ast.Constant) and isinstance(n.value, str) for n in ast.walk(node))


def _signed(node: ast.AST) -> bool:
    return isinstance(node, ast.Name | ast.Attribute | ast.Subscript) and any(
        word in ast.unparse(node).lower() for word in SIGNED
    )


def _opposite(node: ast.AST) -> ast.AST:
    node.op = OPPOSITE[type(node.op)]()
    return node


def _compared(node: ast.AST) -> ast.AST:
    node.ops = [OPPOSITE[type(node.ops[0])]()]
    return node


def _other_of_two(node: ast.AST) -> ast.AST:
    node.slice = ast.Constant(1 - node.slice.value)
    return node


def _left(node: ast.AST) -> ast.AST:
    return node.left


def _right(node: ast.AST) -> ast.AST:
    return node.right


def _renamed(node: ast.AST) -> ast.AST:
    if isinstance(node, ast.Name):
        node.id = NAMES[node.id]
    else:
        node.attr = NAMES[node.attr]
    return node
