"""Mutants of a module: its source with one small mistake each.

Operators of cosmic-ray, one replacement for each operator of the language, and some that a
library of physics needs: a coefficient changed by 1 %, a check left out, an option not passed on.
Left alone is what no test should look at: annotations, the words of messages, imports.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from typing import Any, NamedTuple

from cosmic_ray.ast import ast_nodes, get_ast, is_number
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Operator
from cosmic_ray.operators.provider import OperatorProvider
from parso.python.tree import Name, Number

COSMIC_RAY = (
    *(f"ReplaceBinaryOperator_{swap}" for swap in (
        "Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "Pow_Mul", "FloorDiv_Div", "Mod_FloorDiv",
        "BitAnd_BitOr", "BitOr_BitAnd",
    )),
    *(f"ReplaceComparisonOperator_{swap}" for swap in (
        "Eq_NotEq", "NotEq_Eq", "Lt_LtE", "Lt_Gt", "LtE_Lt", "LtE_Gt", "Gt_GtE", "Gt_Lt",
        "GtE_Gt", "GtE_Lt", "Is_IsNot", "IsNot_Is",
    )),
    *(f"ReplaceUnaryOperator_Delete_{sign}" for sign in ("USub", "Not", "Invert")),
    "AddNot", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr",
    "ReplaceOrWithAnd", "ReplaceBreakWithContinue", "ReplaceContinueWithBreak",
    "ExceptionReplacer", "NumberReplacer", "RemoveDecorator", "ZeroIterationForLoop",
)  # fmt: skip


class Mutant(NamedTuple):
    """A mistake and the whole source with it."""

    operator: str
    line: int
    source: str


class _Own(Operator):
    @classmethod
    def examples(cls) -> tuple[Any, ...]:
        return ()


class FloatByOnePercent(_Own):
    """0.3164 -> 0.319564: a tolerance has to be smaller than that."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if is_number(node) and isinstance(value := ast.literal_eval(node.value), float) and value:
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        return Number(f" {ast.literal_eval(node.value) * 1.01!r}", node.start_pos)


class RemoveCall(_Own):
    """A call or a raise on a line of its own -> pass."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.type == "simple_stmt" and node.children[0].type in ("atom_expr", "raise_stmt"):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        first = node.children[0]
        node.children[0] = Name("pass", first.start_pos, first.get_first_leaf().prefix)
        return node


class RemoveKeyword(_Own):
    """f(a, b=c) -> f(a)."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        for child in node.children if node.type == "arglist" else ():
            if _is_keyword(child):
                yield child.start_pos, child.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        where = [i for i, child in enumerate(node.children) if _is_keyword(child)][index]
        first = where if where + 1 < len(node.children) else where - 1  # the comma goes with it
        node.children = node.children[:first] + node.children[first + 2 :]
        return node


class SwapInPlace(_Own):
    """Add in place of subtracting, multiply in place of dividing."""

    SWAPS = {"+=": "-=", "-=": "+=", "*=": "/=", "/=": "*="}  # noqa: RUF012

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.type == "operator" and node.value in self.SWAPS:
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        node.value = self.SWAPS[node.value]
        return node


class SwapIn(_Own):
    """In -> not in, and back."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.type == "comparison" and node.children[1].get_code().strip() in ("in", "not in"):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        now = node.children[1].get_code().strip()
        node.children[1] = Name("not in" if now == "in" else "in", node.start_pos, " ")
        return node


def mutants(source: str) -> list[Mutant]:
    """Return every mutant of a source that differs from it and can be parsed."""
    nodes = list(ast_nodes(get_ast(source)))
    skipped = _skipped(source)
    same = ast.dump(ast.parse(source))
    found = []
    for name, operator in _operators().items():
        places = [place for node in nodes for place in operator.mutation_positions(node)]
        for occurrence, (start, end) in enumerate(places):
            if any(first <= tuple(start) and tuple(end) <= last for first, last in skipped):
                continue
            changed = mutate_code(source, operator, occurrence)
            if changed is not None and _differs(changed, same):
                found.append(Mutant(name, start[0], changed))
    return found


def _operators() -> dict[str, Operator]:
    provider = OperatorProvider()
    own = (FloatByOnePercent, RemoveCall, RemoveKeyword, SwapInPlace, SwapIn)
    return {name: provider[name]() for name in COSMIC_RAY} | {each.__name__: each() for each in own}


def _is_keyword(child: Any) -> bool:
    return child.type == "argument" and getattr(child.children[1], "value", "") == "="


def _differs(changed: str, same: str) -> bool:
    try:
        return ast.dump(ast.parse(changed)) != same
    except SyntaxError:
        return False


def _skipped(source: str) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Return the places of what no test should look at."""
    nodes: list[Any] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            nodes += [argument.annotation for argument in _arguments(node)] + [node.returns]
            names = [each.id for each in node.decorator_list if isinstance(each, ast.Name)]
            nodes += [node] if "overload" in names or node.name == "__repr__" else []
            nodes += [each for each in node.decorator_list if "abstractmethod" in ast.dump(each)]
        elif isinstance(node, ast.AnnAssign):
            nodes.append(node.annotation)
        elif isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
            nodes += [*node.exc.args, *node.exc.keywords]
        elif isinstance(node, (ast.JoinedStr, ast.Import, ast.ImportFrom, ast.Assert)) or (
            isinstance(node, ast.Assign) and _is_type_alias_or_list_of_names(node)
        ):
            nodes.append(node)
    return [
        ((node.lineno, node.col_offset), (node.end_lineno, node.end_col_offset))
        for node in nodes
        if node is not None
    ]


def _arguments(node: ast.FunctionDef) -> list[ast.arg]:
    given = node.args
    more = [each for each in (given.vararg, given.kwarg) if each is not None]
    return [*given.posonlyargs, *given.args, *given.kwonlyargs, *more]


def _is_type_alias_or_list_of_names(node: ast.Assign) -> bool:
    name = getattr(node.targets[0], "id", "")
    is_alias = name[:1].isupper() and not name.isupper() and isinstance(node.value, ast.BinOp)
    return is_alias or name in ("__all__", "__slots__")
