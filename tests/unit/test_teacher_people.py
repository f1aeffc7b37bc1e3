"""People: who belongs to the studio, on which horn, with whose permission."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from assignments import builds
from studio import consent, enrolment
from studio.models import Horn, Membership, User
from tests import people

pytestmark = pytest.mark.django_db

Role = Membership.Role


@pytest.fixture
def studio():
    return people.studio(a4_hz=442.0)


@pytest.fixture
def teacher(studio, client):
    user = people.teacher(studio).user
    client.force_login(user)
    return user


def student_form(**changes):
    return {
        "key": str(uuid.uuid4()),
        "name": "Tove Ashdown",
        "horn": "alto 58 90",
        "level": "beginner",
        "lesson_weekday": "1",
        "lesson_at": "16:30",
        **changes,
    }


def text_of(answer):
    return answer.content.decode()


def test_a_student_is_added_with_a_horn_and_a_slip_that_signs_in(client, studio, teacher):
    answer = client.post(reverse("add_student"), student_form())
    assert answer.status_code == 200
    (horn,) = Horn.objects.all()
    assert (horn.kind, horn.written_range, horn.level, horn.a4_hz) == ("alto", (58, 90), "beginner", 442.0)
    assert (horn.player.lesson_weekday, horn.player.lesson_at) == (1, dt.time(16, 30))
    user = User.objects.get(username="tove-ashdown")
    words = [part for part in text_of(answer).split("<b>") if part.partition("</b>")[0].count("-") == 3]
    assert user.check_password(words[0].partition("</b>")[0])
    assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.parametrize(
    ("value", "tones"),
    [("alto 58 90", 363), ("alto 58 89", 352), ("soprano 58 91", 374), ("baritone 57 90", 374)],
    ids=["with the F sharp key", "without it", "with high G", "with low A"],
)
def test_each_build_of_a_horn_has_its_own_range(client, studio, teacher, value, tones):
    client.post(reverse("add_student"), student_form(horn=value))
    low, high = Horn.objects.get().written_range
    assert (high - low + 1) * 11 == tones
    assert value in {choice for _group, choices in builds.choices() for choice, _words in choices}


def test_a_low_a_on_an_alto_is_no_horn(client, studio, teacher):
    assert client.post(reverse("add_student"), student_form(horn="alto 57 90")).status_code == 400
    assert not Horn.objects.exists()


def test_the_same_form_sent_twice_enrols_one_student(client, studio, teacher):
    sent = student_form()
    client.post(reverse("add_student"), sent)
    answer = client.post(reverse("add_student"), sent)
    assert answer.url == reverse("person", args=[sent["key"]])
    assert Horn.objects.count() == 1


def test_a_name_for_signing_in_that_is_taken_is_sent_back(client, studio, teacher):
    people.horn(studio, "Pim Larkspur")
    answer = client.post(reverse("add_student"), student_form(username="pim"))
    assert answer.status_code == 400
    assert "Somebody signs in with that name already." in text_of(answer)


@pytest.mark.parametrize(
    ("name", "signs_in_as"),
    [
        ("Tamsin Reke", "tamsin-reke"),
        ("Ines Maximiliane Calder-Featherstone", "ines-maximiliane-calder"),
        ("A" * 40, "a" * 30),
        ("♯", "player"),
    ],
)
def test_a_long_name_for_signing_in_ends_with_a_whole_word(name, signs_in_as):
    assert enrolment.free_username(name) == signs_in_as


def test_a_lesson_time_needs_a_day(client, studio, teacher):
    answer = client.post(reverse("add_student"), student_form(lesson_weekday=""))
    assert answer.status_code == 400
    assert "Choose the day of that lesson." in text_of(answer)


def person_page(horn):
    return reverse("person", args=[horn.player_id])


def test_a_signed_paper_opens_the_microphone_and_can_be_taken_back(client, studio, teacher):
    horn = people.horn(studio, agreed=False)
    assert "Not given yet" in text_of(client.get(person_page(horn)))
    client.post(person_page(horn), {"what": "consent", "given_by": "Mr. Larkspur, father", "seen": "on"})
    assert consent.stands(horn.player)
    row = horn.player.consents.get()
    assert (row.given_by, row.how, row.logged_by, row.wording) == (
        "Mr. Larkspur, father",
        "paper",
        teacher,
        consent.WORDING,
    )
    client.post(person_page(horn), {"what": "withdraw"})
    assert not consent.stands(horn.player)


def test_a_paper_nobody_has_seen_is_not_noted(client, studio, teacher):
    horn = people.horn(studio, agreed=False)
    answer = client.post(person_page(horn), {"what": "consent", "given_by": "Somebody"})
    assert answer.status_code == 400
    assert not consent.stands(horn.player)


def test_name_lesson_and_last_day_can_change(client, studio, teacher):
    horn = people.horn(studio)
    last = studio.today() + dt.timedelta(days=3)
    sent = {"what": "details", "name": "Pim L.", "lesson_weekday": "", "lesson_at": "", "ends_on": last.isoformat()}
    assert client.post(person_page(horn), sent).status_code == 302
    horn.player.refresh_from_db()
    assert (str(horn.player.user), horn.player.lesson_weekday, horn.player.ends_on) == ("Pim L.", None, last)


def test_a_second_horn_has_its_own_history_and_the_first_can_be_put_away(client, studio, teacher):
    horn = people.horn(studio)
    client.post(person_page(horn), {"what": "horn", "horn": "soprano 58 91", "level": "intermediate"})
    assert horn.player.horns.count() == 2
    client.post(person_page(horn), {"what": "put_away", "horn_id": str(horn.pk)})
    horn.refresh_from_db()
    assert horn.put_away_on == studio.today()


def test_nobody_elses_horn_can_be_put_away_through_a_students_page(client, studio, teacher):
    pim, other = people.horn(studio, "Pim Larkspur"), people.horn(studio, "Tove Ashdown")
    assert client.post(person_page(pim), {"what": "put_away", "horn_id": str(other.pk)}).status_code == 404
    assert client.post(person_page(pim), {"what": "put_away", "horn_id": "nonsense"}).status_code == 404
    other.refresh_from_db()
    assert other.put_away_on is None


def test_a_lost_slip_is_replaced(client, studio, teacher):
    horn = people.horn(studio)
    answer = client.post(person_page(horn), {"what": "passphrase"})
    assert "Print this for Pim Larkspur" in text_of(answer)
    assert not User.objects.get(pk=horn.player.user_id).check_password(people.PASSWORD)


def test_what_a_page_does_not_know_changes_nothing(client, studio, teacher):
    horn = people.horn(studio)
    assert client.post(person_page(horn), {"what": "promote"}).status_code == 400


def test_only_the_owner_adds_staff(client, studio, teacher):
    sent = {"key": str(uuid.uuid4()), "name": "Teo Wrenfield", "role": "assistant"}
    assert client.post(reverse("add_staff"), sent).status_code == 404
    client.force_login(people.person("Olga Fell", studio, Role.OWNER).user)
    assert client.post(reverse("add_staff"), sent).status_code == 200
    assert Membership.objects.get(user__name="Teo Wrenfield").role == "assistant"


def test_nobody_is_made_an_owner_by_a_form(client, studio):
    client.force_login(people.person("Olga Fell", studio, Role.OWNER).user)
    sent = {"key": str(uuid.uuid4()), "name": "Teo Wrenfield", "role": "owner"}
    assert client.post(reverse("add_staff"), sent).status_code == 400


def test_who_waits_for_permission_is_counted_and_who_left_is_apart(client, studio, teacher):
    people.horn(studio, "Pim Larkspur", agreed=False)
    left = people.horn(studio, "Gone Long")
    left.player.ends_on = studio.today() - dt.timedelta(days=1)
    left.player.save()
    text = text_of(client.get(reverse("people")))
    assert "1 student waits for permission from home" in text
    assert "Gone Long" in text.partition("No longer here")[2]


def test_the_form_for_home_says_how_long_recordings_are_kept(client, studio, teacher):
    text = text_of(client.get(reverse("consent_form")))
    assert "deleted after 60 days" in text
    assert consent.WORDING in text
    assert "goes before anything written here" in text


def test_a_permission_that_was_taken_back_is_told_as_that_and_on_the_students_page(client, studio, teacher):
    horn = people.horn(studio, agreed=False)
    person, student = reverse("person", args=[horn.player_id]), reverse("student", args=[horn.pk])
    assert "Not given yet" in client.get(person).content.decode()
    consent.give(student=horn.player, given_by="Jo Larkspur", how="paper", logged_by=teacher)
    assert "may not be recorded now" not in client.get(student).content.decode()
    client.post(person, {"what": "withdraw"})
    text = client.get(person).content.decode()
    assert "Taken back on" in text
    assert "Not given yet" not in text
    assert "Pim Larkspur may not be recorded now." in client.get(student).content.decode()


def test_with_the_key_and_the_sign_in_of_somebody_elsewhere_a_student_gets_others(client, teacher):
    yara = people.horn(people.studio("Far Quay"), "Yara Dale").player
    answer = client.post(reverse("add_student"), student_form(key=str(yara.pk), username="yara"))
    assert answer.status_code == 200
    assert {(one.name, one.username) for one in User.objects.filter(memberships__role=Role.STUDENT)} == {
        ("Yara Dale", "yara"),
        ("Tove Ashdown", "tove-ashdown"),
    }


@pytest.mark.parametrize("role", [Role.STUDENT, Role.OWNER])
def test_a_name_that_is_read_in_another_studio_too_is_not_one_teachers_to_change(client, studio, teacher, role):
    pim = people.horn(studio).player
    page, sent = reverse("person", args=[pim.pk]), {"what": "details", "lesson_weekday": "", "lesson_at": ""}
    assert client.post(page, {**sent, "name": "Pim L.", "of_age": "on"}).status_code == 302
    Membership.objects.create(user=pim.user, studio=people.studio("Far Quay"), role=role)
    assert client.post(page, {**sent, "name": "Renamed"}).status_code == 302
    pim.refresh_from_db()
    assert (pim.user.name, pim.of_age) == ("Pim L.", False)
