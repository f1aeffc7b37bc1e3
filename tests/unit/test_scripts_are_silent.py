"""The phone's scripts have no words of their own: what they show is handed over by the page, translated."""

from __future__ import annotations

import re

import pytest

from tests.unit.test_house import ROOT

SCRIPTS = sorted(
    file
    for folder in ("assignments/static/assignments", "studio/static/studio/js")
    for file in (ROOT / folder).glob("*.js")
)
COMMENT = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL)
STRING = re.compile(r"""'((?:[^'\\\n]|\\.)*)'|"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`""")
SHOWN = re.compile(r"(?:textContent|innerText|innerHTML|placeholder|title|ariaLabel)\s*=\s*[\"'`]\s*[A-Za-z]")
THROWN = "no sound"  # an error that is caught where it is thrown


def sentences(script: str) -> list[str]:
    """Strings in which two words of letters stand side by side; selectors and classes have signs between theirs."""
    strings = ["".join(parts) for parts in STRING.findall(COMMENT.sub("", script))]
    return [one for one in strings if re.search(r"(?:^|\s)[A-Za-z’']{2,} [A-Za-z’']{2,}(?:[\s.,:!?]|$)", one)]


@pytest.mark.parametrize("file", SCRIPTS, ids=lambda file: file.name)
def test_a_script_says_nothing_of_its_own(file):
    script = file.read_text("utf-8")
    assert [one for one in sentences(script) if one != THROWN] == []
    assert SHOWN.findall(script) == []


def test_what_a_script_would_say_is_found():
    assert len(SCRIPTS) > 15
    assert sentences('place.textContent = "Nothing waits here."; // no sound here') == ["Nothing waits here."]
    assert SHOWN.findall('label.textContent = "Stop";') != []
