"""Every mutant of a file: the file's text with one thing in it changed.

What is changed into what are mutmut's own operators, and two that it lacks: a return that gives nothing, a condition turned
round. Its runner isn't used, because it passes over every decorated function (each formula under `@elementwise`, each property)
and every constant of a module.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from difflib import unified_diff
from pathlib import Path
from random import Random

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators, operator_arg_removal, operator_assignment, operator_string

AT_THE_TOP_LEFT_OUT = (operator_assignment, operator_arg_removal)
"""Outside functions these would only break the import or take a type's other name away."""

DECORATES = ("booth/physics/elementwise.py",)
"""Files whose functions have done their work when everything is imported: changing them afterwards would change nothing."""

TYPING = {"Literal", "TypeVar", "ParamSpec", "Callable", "Annotated"}
PLAIN_CONDITION = (cst.Name, cst.Attribute, cst.Call)
"""Conditions in which mutmut finds no operator to change."""


@dataclass(frozen=True)
class Mutant:
    name: str
    path: str
    function: str  # its qualified name; empty for what runs when the module is imported
    lines: range  # of what is changed
    body: range  # of that function
    text: str  # of the whole file

    @property
    def module(self) -> str:
        return self.path.removesuffix(".py").replace("/", ".")

    def unchanged(self) -> Mutant:
        return replace(self, name=f"{self.name}, unchanged", text=Path(self.path).read_text(encoding="utf-8"))

    def change(self) -> list[str]:
        """The lines that differ, with - and + before them."""
        was = Path(self.path).read_text(encoding="utf-8").splitlines()
        return [
            line for line in unified_diff(was, self.text.splitlines(), lineterm="", n=0) if line[:2] not in ("--", "++", "@@")
        ]


def mutants(path: Path, share: float, seed: int) -> list[Mutant]:
    """A random share of the mutants of one file. With the same seed a smaller share is a part of a larger one."""
    wrapper = MetadataWrapper(cst.parse_module(path.read_text(encoding="utf-8")))
    visitor = _Visitor()
    wrapper.visit(visitor)
    order = list(range(len(visitor.found)))
    Random(f"{seed} {path}").shuffle(order)
    return [_made(wrapper.module, path, number, visitor.found[number]) for number in sorted(order[: round(share * len(order))])]


@dataclass(frozen=True)
class _Change:
    function: str
    lines: range
    body: range
    old: cst.CSTNode
    new: cst.CSTNode


def _made(module: cst.Module, path: Path, number: int, change: _Change) -> Mutant:
    text = module.deep_replace(change.old, change.new).code
    function = "" if str(path) in DECORATES else change.function
    return Mutant(f"{path}:{change.lines.start}:{number}", str(path), function, change.lines, change.body, text)


class _Visitor(cst.CSTVisitor):
    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self) -> None:
        self.found: list[_Change] = []
        self._names: list[str] = []
        self._body = range(0)  # of the outermost function
        self._bodies = 0  # function bodies that we are in

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.Annotation | cst.Decorator | cst.Import | cst.ImportFrom) or _is_typing(node) or _is_doc(node):
            return False
        if isinstance(node, cst.FunctionDef | cst.ClassDef) and not self._bodies:
            self._names.append(node.name.value)
            self._body = self._lines(node)
        function = ".".join(self._names) if self._bodies else ""
        self.found += (
            _Change(function, self._lines(node), self._body, node, new) for new in _changed(node, at_the_top=not self._bodies)
        )
        return True

    def on_leave(self, node: cst.CSTNode) -> None:
        if isinstance(node, cst.FunctionDef | cst.ClassDef) and not self._bodies:
            self._names.pop()

    def _lines(self, node: cst.CSTNode) -> range:
        place = self.get_metadata(PositionProvider, node)
        return range(place.start.line, place.end.line + 1)

    def on_visit_attribute(self, node: cst.CSTNode, attribute: str) -> None:
        self._bodies += isinstance(node, cst.FunctionDef) and attribute == "body"

    def on_leave_attribute(self, node: cst.CSTNode, attribute: str) -> None:
        self._bodies -= isinstance(node, cst.FunctionDef) and attribute == "body"


def _is_typing(node: cst.CSTNode) -> bool:
    called = node.value if isinstance(node, cst.Subscript) else node.func if isinstance(node, cst.Call) else None
    return isinstance(called, cst.Name) and called.value in TYPING


def _is_doc(node: cst.CSTNode) -> bool:
    return isinstance(node, cst.Expr) and isinstance(node.value, cst.BaseString)


def _changed(node: cst.CSTNode, at_the_top: bool) -> Iterator[cst.CSTNode]:
    for kind, operator in mutation_operators:
        if isinstance(node, kind) and not (at_the_top and operator in AT_THE_TOP_LEFT_OUT):
            yield from _words(node) if operator is operator_string else operator(node)
    if isinstance(node, cst.Return) and node.value is not None and not _is_none(node.value):
        yield node.with_changes(value=cst.Name("None"), whitespace_after_return=cst.SimpleWhitespace(" "))
    if isinstance(node, cst.If | cst.IfExp | cst.While | cst.CompIf) and isinstance(node.test, PLAIN_CONDITION):
        turned = cst.UnaryOperation(cst.Not(), node.test, lpar=[cst.LeftParen()], rpar=[cst.RightParen()])
        yield node.with_changes(test=turned)


def _words(node: cst.BaseString) -> Iterable[cst.CSTNode]:
    """A key, a kind or a unit is changed once; a sentence not at all: it is checked where it is shown."""
    return () if isinstance(node, cst.SimpleString) and " " in node.value else list(operator_string(node))[:1]


def _is_none(node: cst.CSTNode) -> bool:
    return isinstance(node, cst.Name) and node.value == "None"
