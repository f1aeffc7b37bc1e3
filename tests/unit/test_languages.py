"""Languages: whose choice counts, what the notes are called, how dates and numbers are written."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from django.conf import settings as site_settings
from django.template import Context, Template
from django.urls import reverse
from django.utils import formats, translation

from assignments import naming
from studio import languages
from studio.formats.de.formats import PATTERNS
from studio.models import User
from tests import people

ROOT = Path(__file__).resolve().parents[2]
GERMAN, FRENCH = {"HTTP_ACCEPT_LANGUAGE": "de-AT,de;q=0.8"}, {"HTTP_ACCEPT_LANGUAGE": "fr-CH"}


@pytest.fixture
def own_names():
    """Sets whose note names are used, as a request does."""
    token = languages._own_names.set("")
    yield languages._own_names.set
    languages._own_names.reset(token)


def language_of(answer) -> str:
    return re.search(r'<html lang="(\w+)"', answer.content.decode())[1]


@pytest.mark.django_db
def test_whoever_is_not_signed_in_reads_what_the_browser_asks_for(client):
    assert language_of(client.get(reverse("sign-in"), **GERMAN)) == "de"
    assert language_of(client.get(reverse("join"), **FRENCH)) == "fr"
    assert language_of(client.get(reverse("sign-in"), HTTP_ACCEPT_LANGUAGE="pt")) == "en"


@pytest.mark.django_db
def test_a_language_is_chosen_before_signing_in_and_stays_on_the_device(client):
    answer = client.post(reverse("language"), {"language": "fr", "next": reverse("join")}, **GERMAN)
    assert answer.headers["Location"] == reverse("join")
    assert language_of(client.get(reverse("sign-in"), **GERMAN)) == "fr"


def test_a_persons_own_choice_is_laid_over_the_browsers(client, studio):
    user = people.teacher(studio).user
    client.force_login(user)
    client.post(reverse("language"), {"language": "de", "note_names": "fr", "next": reverse("my_doors")})
    user.refresh_from_db()
    assert (user.language, user.note_names) == ("de", "fr")
    client.cookies.pop(site_settings.LANGUAGE_COOKIE_NAME)
    answer = client.get(reverse("my_doors"), **FRENCH)
    assert language_of(answer) == answer.headers["Content-Language"] == "de"
    client.post(reverse("language"), {"language": "", "note_names": ""})
    assert language_of(client.get(reverse("my_doors"), **FRENCH)) == "fr"


def test_one_persons_choice_does_not_reach_the_next(client, studio):
    people.teacher(studio)
    User.objects.update(language="fr", note_names="fr")
    client.force_login(User.objects.get())
    assert language_of(client.get(reverse("my_doors"))) == "fr"
    client.logout()
    assert language_of(client.get(reverse("sign-in"), **GERMAN)) == "de"
    assert languages.names_language() == "de"


@pytest.mark.django_db
@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_choosing_a_language_leads_nowhere_else(client, back):
    assert client.post(reverse("language"), {"language": "de", "next": back}).headers["Location"] == reverse("home")


@pytest.mark.django_db
def test_a_language_that_is_not_there_is_refused(client):
    assert client.post(reverse("language"), {"language": "tlh"}).status_code == 400


@pytest.mark.parametrize(
    ("language", "names"),
    [
        ("en", "C C♯ D E♭ E F F♯ G G♯ A B♭ B"),
        ("de", "C Cis D Es E F Fis G Gis A B H"),
        ("fr", "do do♯ ré mi♭ mi fa fa♯ sol sol♯ la si♭ si"),
    ],
)
def test_notes_are_named_as_the_language_does_and_as_a_person_chose(language, names, own_names):
    with translation.override(language):
        assert " ".join(naming.note_name(midi) for midi in range(60, 72)) == names
    own_names(language)
    assert " ".join(naming.note_name(midi) for midi in range(60, 72)) == names


def test_names_are_said_as_they_are_seen(own_names):
    own_names("de")
    assert [naming.note_said(midi) for midi in (70, 71)] == ["B 4", "H 4"]
    own_names("fr")
    assert [naming.note_said(midi) for midi in (66, 70, 71)] == ["fa dièse 4", "si bémol 4", "si 4"]


def test_every_date_of_the_pages_has_its_german_form():
    pages = [file.read_text("utf-8") for file in (ROOT / "templates").rglob("*.*") if file.suffix in (".html", ".txt")]
    code = [file.read_text("utf-8") for file in (ROOT / "assignments").rglob("*.py")]
    used = set(re.findall(r'\|date:"([^"]*j[^"]*)"', " ".join(pages)))
    used |= set(re.findall(r'date_words\([^"\n]*"([^"]*j[^"]*)"', " ".join(code)))
    assert used
    assert used - set(PATTERNS) == set()


def test_dates_and_numbers_are_written_as_the_language_does():
    day = Template('{{ day|date:"l j F Y" }} {{ size|floatformat:1 }}')
    values = Context({"day": dt.date(2026, 3, 7), "size": 1.5})
    shown = {}
    for language, _name in site_settings.LANGUAGES:
        with translation.override(language):
            shown[language] = day.render(values)
    assert shown == {
        "en": "Saturday 7 March 2026 1.5",
        "de": "Samstag, 7. März 2026 1,5",
        "fr": "samedi 7 mars 2026 1,5",
    }
    with translation.override("de"):
        assert formats.get_format("H:i") == "H:i"
