"""Which texts the program hands to gettext, read from its source without GNU gettext, which users do without."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from django.utils.translation.template import templatize

from studio.config.management.commands.makemessages import TEXTS, texts

STRING = r"""(u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*")"""
CALL = re.compile(rf"\b(_|n?p?gettext)\(\s*{STRING}(?:\s*,\s*{STRING})?(?:\s*,\s*{STRING})?", re.DOTALL)
Text = tuple[str, str, str]  # context, one, many


def gathered(root: Path) -> set[Text]:
    found: set[Text] = set()
    for package in ("studio", "assignments", "analysis"):
        for file in (root / package).rglob("*.py"):
            found.update(_of_code(file.read_text("utf-8")))
    for file in [*(root / "templates").rglob("*.html"), *(root / "templates").rglob("*.txt")]:
        found.update(_of_template(file.read_text("utf-8")))
    for table, fields in TEXTS.items():
        found.update(("", one, many or "") for one, many in texts(root / table, fields))
    return found


def _of_code(source: str) -> Iterator[Text]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            strings = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
            if strings:
                yield from _text(node.func.id.removesuffix("_lazy"), strings)


def _of_template(source: str) -> Iterator[Text]:
    for name, *literals in CALL.findall(templatize(source)):
        yield from _text(name, [ast.literal_eval(one) for one in literals if one])


def _text(name: str, strings: list[str]) -> Iterator[Text]:
    if name in ("_", "gettext"):
        yield "", strings[0], ""
    elif name == "pgettext":
        yield strings[0], strings[1], ""
    elif name == "ngettext":
        yield "", strings[0], strings[1]
    elif name == "npgettext":
        yield strings[0], strings[1], strings[2]
