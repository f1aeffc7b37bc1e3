"""Whom the week for many is ticked for, and what stands there while nobody is."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]


def ticked(client, who=""):
    text = client.get(reverse("many_weeks"), {"who": who} if who else {}).content.decode()
    return len(re.findall(r'name="horns" value="[^"]+" checked', text))


def test_everybody_whose_week_is_over_or_nobody(client, studio, teacher):
    horns = [people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane", "Cy Larkspur")]
    builders.week(horns[0], teacher)
    assert [ticked(client, who) for who in ("", "over", "all", "none", "nonsense")] == [2, 2, 3, 0, 2]


def test_with_nobody_here_nobody_is_said_to_have_a_week(client, studio):
    text = client.get(reverse("many_weeks")).content.decode()
    assert "Weeks are given to students; there is none yet." in text
    assert "Everybody has a week." not in text
