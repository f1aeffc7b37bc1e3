"""The catalogues are whole: every text of today in every language, its places kept, and compiled as it stands."""

from __future__ import annotations

import gettext
import re
from pathlib import Path

import polib
import pytest
from django.conf import settings

from studio.config.management.commands.makemessages import TEXTS, texts
from tests.unit.gathered import gathered
from tests.unit.test_house import ROOT

LANGUAGES = [code for code, _name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
FOLDERS = ("templates", "studio", "assignments")
PLACES = re.compile(r"%\(\w+\)[sd]|\{\w+\}|%%")


def catalogues(root: Path = ROOT) -> list[Path]:
    return [root / one / "locale" / code / "LC_MESSAGES" / "django.po" for one in FOLDERS for code in LANGUAGES]


def texts_of(entry: polib.POEntry) -> list[str]:
    return list(entry.msgstr_plural.values()) if entry.msgid_plural else [entry.msgstr]


def named(file: Path) -> str:
    return "/".join(file.relative_to(ROOT).parts[::2])


@pytest.mark.parametrize("file", catalogues(), ids=named)
def test_nothing_is_empty_doubtful_or_left_over(file):
    found = polib.pofile(str(file))
    assert len(found) > 50
    wanting = [one.msgid for one in found if one.fuzzy or one.obsolete or not all(texts_of(one))]
    assert wanting == []


@pytest.mark.parametrize("file", catalogues(), ids=named)
def test_a_translation_has_the_places_of_its_text(file):
    wrong = []
    for entry in polib.pofile(str(file)):
        one, many = (set(PLACES.findall(text)) for text in (entry.msgid, entry.msgid_plural or entry.msgid))
        for number, text in enumerate(texts_of(entry)):
            if not (many if number else one) <= set(PLACES.findall(text)) <= one | many:
                wrong.append((entry.msgid, text))
    assert wrong == []


@pytest.mark.parametrize("file", catalogues(), ids=named)
def test_what_is_compiled_is_what_is_written(file):
    """The compiled files are kept beside their sources: who runs the program has no gettext of their own."""
    with file.with_suffix(".mo").open("rb") as compiled:
        kept = gettext.GNUTranslations(compiled)._catalog  # type: ignore[attr-defined]  # the only whole view of it
    written = {}
    for entry in polib.pofile(str(file)):
        key = f"{entry.msgctxt}\4{entry.msgid}" if entry.msgctxt else entry.msgid
        forms = {(key, form): text for form, text in entry.msgstr_plural.items()}
        written.update(forms or {key: entry.msgstr})
    del kept[""]
    assert kept == written


def test_every_text_of_today_is_in_the_catalogues_and_no_other():
    """Else ``manage.py makemessages`` is to be run, and what came is to be translated."""
    today = gathered(ROOT)
    assert len(today) > 1000
    for code in LANGUAGES:
        files = [file for file in catalogues() if code in file.parts]
        kept = {key(one) for file in files for one in polib.pofile(str(file))}
        assert sorted(today - kept) == []
        assert sorted(kept - today) == []


def key(entry: polib.POEntry) -> tuple[str, str, str]:
    return entry.msgctxt or "", entry.msgid, entry.msgid_plural


def test_the_tables_texts_are_gathered():
    found = {one.msgid for file in catalogues() if "de" in file.parts for one in polib.pofile(str(file))}
    for table, fields in TEXTS.items():
        said = {one for one, _many in texts(ROOT / table, fields)}
        assert len(said) >= 3  # the smallest table: builds of horns
        assert said - found == set()
