"""A teacher's pages of ensembles: giving out notes, who has sent them, and how even the section is."""

from __future__ import annotations

import json
import uuid

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse
from django.utils import timezone

from analysis.core.tables import hz_of_midi
from analysis.models import Analysis, Result
from assignments import ensembles, plans
from assignments.models import Chord, Part, Take, Try
from assignments.queries import ensembles as ensembles_query
from assignments.queries import section as section_query
from tests import builders, people, played
from tests.unit.ensemble_cast import *  # noqa: F403  # the cast
from tests.unit.ensemble_cast import unison
from tests.unit.student_cast import queries, shown

pytestmark = pytest.mark.django_db

KEY = "5c1f5a3e-7a51-4d0e-9f8e-2f1f4f3b8a10"


def heard(part: Part, cents: float, *, sounding_midi: int | None = None, kept: bool = True, **about) -> Take:
    """One take of a part as rows, so many cents off; ``about``: fields of its tone."""
    horn, at = part.horn, timezone.now()
    if not part.exercises.exists():
        plans.plan_for(horn, builders.week(horn, part.chord.by).starts_on)
    name = default_storage.save(f"takes/{uuid.uuid4()}", ContentFile(b"any bytes")) if kept else ""
    analysis = Analysis.objects.create(
        audio=name, audio_bytes=9, sha256="0" * 64, request={}, state=Analysis.State.MEASURED, sent_at=at
    )
    sounding = sounding_midi or part.sounding_midi
    report = played.report(part.written_midi + sounding - part.sounding_midi, "mf")
    f0_hz = hz_of_midi(sounding) * 2 ** (cents / 1200)
    report["tones"][0] |= {"sounding_midi": sounding, "f0_hz": f0_hz, "uncertainty": {"pitch_cents": 0.2}, **about}
    Result.objects.create(analysis=analysis, engine="rows", report=report)
    take = Take.objects.create(
        horn=horn, exercise=part.exercises.get(), analysis=analysis, on=horn.studio.today(), client_key=uuid.uuid4(),
        asked=[{"slot": 0, "written_midi": part.written_midi, "tone": "mf", "partial": None, "lane": ""}],
        received_at=at, settled_at=at,
    )  # fmt: skip
    Try.objects.create(
        take=take, horn=horn, on=take.on, played_at=at, slot=0, counts=False, written_midi=part.written_midi, tone="mf",
        outcome="hit", tone_index=0,
    )  # fmt: skip
    return take


@pytest.fixture
def chord(quartet) -> Chord:
    return unison(quartet)


def parts_of(chord: Chord) -> list[Part]:
    return list(chord.parts.select_related("horn__player__studio", "chord__by"))


def test_nothing_sent_says_so_and_offers_nothing_to_hear(signed_in, client, chord):
    text = shown(client, "chord", chord.pk)
    assert "0 of 4 have sent it." in text
    assert text.count("Not sent yet.") == 4
    assert "data-hear-together" not in text


def test_one_tone_is_shown_and_no_section_is_made_of_it(signed_in, client, chord):
    heard(parts_of(chord)[1], 4.0)
    text = shown(client, "chord", chord.pk)
    assert "1 of 4 has sent it." in text
    assert "Two tones that can be heard, and it is told here." in text
    assert 'aria-label="4.0 ± 0.5 cents against equal temperament."' in text


def test_who_lies_apart_is_named_and_how_often_they_beat(chord):
    for part, cents in zip(parts_of(chord), (7.0, -3.0, -12.0, 0.0), strict=True):
        heard(part, cents)
    page = section_query.page(chord)
    pitch = page.sentences[0]
    assert pitch.words == (
        "19 ± 1 cents apart: Rufus lies lowest, Saskia highest. Together these two beat about 2.6 times a second."
    )
    assert pitch.is_apart
    assert [row.from_middle for row in page.rows] == ["+8.5", "−1.5", "−10.5", "+1.5"]
    assert page.is_unison


def test_they_begin_at_once_equally_loud_and_together_no_louder_than_one(chord):
    levels = (-30.0, -20.0, -26.0, -26.0)
    for part, level_db in zip(parts_of(chord), levels, strict=True):
        heard(part, 0.0, level_db=level_db, start_s=1.25, end_s=9.25)
    page = section_query.page(chord)
    assert [stretch[1:] for stretch in json.loads(page.together_json)] == [[1.25, 9.25]] * 4
    assert json.loads(page.gains_json) == [pytest.approx(-26.0 - level_db - 6.0, abs=0.05) for level_db in levels]


def test_of_a_chord_each_pure_place_is_shown_beside(signed_in, client, quartet):
    chord = unison(quartet, quality="major", sounding=46, notes=[58, 53, 50, 46])
    for part in parts_of(chord):
        heard(part, 2.0)
    page = section_query.page(chord)
    assert [row.pure for row in page.rows] == ["0.0", "+2.0", "−13.7", "0.0"]
    assert page.sentences[0].words == "Even: 0 ± 1 cents from the lowest to the highest, where 10 are heard."
    assert "Colour" not in {one.heading for one in page.sentences}
    assert "Nobody is measured against it." in shown(client, "chord", chord.pk)


def test_the_newest_take_stands_and_another_note_is_said_to_be_one(chord):
    alto, tenor = parts_of(chord)[1:3]
    heard(alto, 20.0)
    heard(alto, 1.0)
    heard(tenor, 0.0, sounding_midi=60)
    rows = section_query.page(chord).rows
    assert rows[1].pitch == "1.0 ± 0.5"
    assert rows[2].words == "Another note: written D5. Ask for another take."
    assert not rows[2].is_heard


def test_a_deleted_recording_leaves_its_numbers(chord):
    for part in parts_of(chord)[:2]:
        heard(part, 3.0, kept=False)
    page = section_query.page(chord)
    assert page.rows[0].words == "The recording was deleted when its time was over."
    assert page.rows[0].pitch
    assert page.heard == ()
    assert page.sentences


def test_a_take_on_its_way_says_where_it_is(chord, own_store):
    part = parts_of(chord)[1]
    take = heard(part, 0.0)
    Try.objects.all().delete()
    Analysis.objects.update(state=Analysis.State.QUEUED)
    assert section_query.page(chord).rows[1].words == "It’s here and safe, and waiting its turn."
    Analysis.objects.filter(pk=take.analysis_id).update(state=Analysis.State.REFUSED)
    assert section_query.page(chord).rows[1].words == "Couldn’t be heard. Ask for another take."


def test_it_takes_as_many_queries_for_four_as_for_one(chord):
    parts = parts_of(chord)
    heard(parts[0], 0.0)
    one = queries(lambda: section_query.page(chord))
    for part in parts:
        heard(part, 5.0)
    assert queries(lambda: section_query.page(chord)) == one


def test_the_first_tones_of_two_are_never_said_to_be_even_about_loudness(signed_in, client, chord):
    for part in parts_of(chord)[:2]:
        heard(part, 0.0)
    assert "Can’t be compared: one phone lies nearer than another" in shown(client, "chord", chord.pk)


def test_taken_back_it_says_so(signed_in, client, chord):
    assert client.post(reverse("take_chord_back", args=[chord.pk])).status_code == 302
    chord.refresh_from_db()
    assert chord.taken_back_on == chord.ensemble.studio.today()
    assert "Taken back on" in shown(client, "chord", chord.pk)
    assert "taken back" in shown(client, "ensemble", chord.ensemble_id)


def test_with_none_there_is_one_thing_to_do(signed_in, client):
    text = shown(client, "ensembles")
    assert "None yet. Two horns make one." in text
    assert reverse("new_ensemble") in text


def test_seats_are_kept_in_their_order_and_a_refusal_keeps_what_was_chosen(signed_in, client, horns):
    seats = [str(horns[2].pk), "", str(horns[0].pk)]
    client.post(reverse("new_ensemble"), {"name": "Pair", "seats": seats})
    (view,) = ensembles_query.overview(horns[0].studio)
    assert view.seats == (horns[2], horns[0])
    answer = client.post(reverse("new_ensemble"), {"name": "Solo", "seats": [str(horns[1].pk)]})
    assert answer.status_code == 400
    assert f'value="{horns[1].pk}" selected' in answer.content.decode()


def test_nobody_of_another_studio_can_be_seated(signed_in, client, horns):
    far = people.horn(people.studio("Far Quay"), "Yara Dale")
    answer = client.post(reverse("new_ensemble"), {"name": "Pair", "seats": [str(horns[0].pk), str(far.pk)]})
    assert answer.status_code == 400


def test_closing_and_opening_again(signed_in, client, quartet):
    address = reverse("ensemble_seats", args=[quartet.pk])
    client.post(address, {"close": "1"})
    assert "Closed on" in shown(client, "ensemble", quartet.pk)
    assert client.get(reverse("new_chord", args=[quartet.pk])).status_code == 302
    client.post(address, {"open": "1"})
    assert "Set a unison or a chord" in shown(client, "ensemble", quartet.pk)


def test_the_form_gives_out_notes_says_what_cannot_be_played_and_takes_the_nearest(signed_in, client, quartet):
    address = reverse("new_chord", args=[quartet.pk])
    asked = {"key": KEY, "quality": "unison", "root": "46", "inversion": "0", "tone": "mf", "words": "",
             "for_on": str(quartet.studio.today())}  # fmt: skip
    given = client.post(address, {**asked, "do": "give", "of": "", "notes": []})
    assert "too low for Saskia’s soprano" in given.content.decode()
    assert [seat.sounding_midi for seat in given.context["seats"]] == [46, 46, 46, 46]
    sent = {**asked, "of": given.context["of"], "notes": ["46"] * 4}
    assert client.post(address, {**sent, "do": "set"}).status_code == 400
    nearest = client.post(address, {**sent, "do": "nearest"})
    notes = [seat.sounding_midi for seat in nearest.context["seats"]]
    assert notes == [58, 58, 46, 46]
    answer = client.post(address, {**sent, "notes": notes, "do": "set"})
    assert answer.url == reverse("chord", args=[Chord.objects.get().pk])


def test_another_chord_than_the_notes_were_given_out_for_is_shown_before_it_is_set(signed_in, client, quartet):
    body = {"key": KEY, "quality": "major", "root": "46", "inversion": "0", "tone": "mf", "words": "",
            "of": "unison 58 0", "notes": ["58"] * 4, "do": "set", "for_on": str(quartet.studio.today())}  # fmt: skip
    answer = client.post(reverse("new_chord", args=[quartet.pk]), body)
    assert "These notes are new." in answer.content.decode()
    assert not Chord.objects.exists()


def test_set_twice_it_is_one_chord(signed_in, client, quartet):
    address = reverse("new_chord", args=[quartet.pk])
    assert 'name="key" value="' in client.get(address).content.decode()
    body = {"key": KEY, "quality": "unison", "root": "58", "inversion": "0", "tone": "mf", "words": "",
            "of": "unison 58 0", "notes": ["58"] * 4, "do": "set", "for_on": str(quartet.studio.today())}  # fmt: skip
    addresses = [client.post(address, body).url for _ in range(2)]
    assert addresses == [reverse("chord", args=[KEY])] * 2
    assert (Chord.objects.count(), Part.objects.count()) == (1, 4)
    client.post(address, {**body, "key": str(uuid.uuid4())})
    assert Chord.objects.count() == 2


def test_a_horn_that_is_put_away_leads_nowhere(signed_in, client, chord, horns):
    horns[0].put_away_on = horns[0].studio.today()
    horns[0].save()
    for text in (shown(client, "ensemble", chord.ensemble_id), shown(client, "chord", chord.pk)):
        assert "Saskia Brill" in text
        assert reverse("student", args=[horns[0].pk]) not in text
        assert reverse("student", args=[horns[1].pk]) in text


def test_the_list_takes_as_many_queries_for_one_as_for_three(studio, teacher, quartet, horns):
    unison(quartet)
    one = queries(lambda: ensembles_query.overview(studio))
    for name in ("Duo", "Trio"):
        more = ensembles.keep(studio=studio, by=teacher, name=name, horns=horns[:3])
        unison(more)
        unison(more, days=5)
    assert queries(lambda: ensembles_query.overview(studio)) == one
