"""A form that came back: it says so at the top, where one looks first, says what to do, and keeps what was typed."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]
SENT_BACK = "Nothing was kept yet."


def test_a_form_that_comes_back_says_so_above_everything(client, teacher):
    answer = client.post(reverse("add_student"), {"name": "", "username": "pim"})
    text = answer.content.decode()
    assert answer.status_code == 400
    assert text.index(SENT_BACK) < text.index("<h1>")
    assert "Fill this in." in text
    assert 'value="pim"' in text
    assert SENT_BACK not in client.get(reverse("add_student")).content.decode()


def test_what_is_too_long_is_counted_in_the_pages_words(client, teacher, studio):
    horn = people.horn(studio)
    text = client.post(reverse("week", args=[horn.pk]), {"focus": "x" * 61, "words": "Warm air."}).content.decode()
    assert "At most 60 letters fit here, and there are 61. Shorten it." in text
    assert "Warm air." in text


def test_a_number_outside_its_range_says_which_would_do(client, teacher):
    text = client.post(reverse("student_codes"), {"how_many": "0"}).content.decode()
    assert "Choose 1 or more." in text
