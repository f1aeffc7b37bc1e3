"""Sheets of paper: one page each, what stands on them, and that the days follow the planner."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

import pypdfium2
import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import translation

from assignments import comments, plans
from assignments.models import DayPlan
from assignments.queries import at_home, card
from assignments.sheets import card as card_sheet
from assignments.sheets import faces, month, pdf
from assignments.sheets.records import PAPERS
from studio.models import Membership
from studio.qr import drawn
from tests import builders, people, played
from tests.unit import pseudo

pytestmark = pytest.mark.django_db
SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
ADDRESS = "https://quay.example.org/today/"


@pytest.fixture
def horn(studio):
    return people.horn(studio)


def read(content: bytes) -> tuple[int, tuple[float, float], str]:
    """Pages, size of the first in mm, its text."""
    with pypdfium2.PdfDocument(content) as file:
        page = file[0]
        width, height = page.get_size()
        return len(file), (width * 25.4 / 72, height * 25.4 / 72), page.get_textpage().get_text_range()


def ink(content: bytes):
    """The sheet as dark and light at 72 dpi, and whether anything in it has a colour."""
    with pypdfium2.PdfDocument(content) as file:
        picture = file[0].render(scale=1.0).to_pil().convert("RGB")
    grey = all(red == green == blue for _count, (red, green, blue) in picture.getcolors(1 << 24))
    return picture.convert("L"), grey


@pytest.mark.parametrize("paper", PAPERS)
def test_the_card_is_one_sheet_of_the_papers_size_in_black_and_white(horn, teacher, paper):
    builders.week(horn, teacher, focus="Clean starts", budget_minutes=15)
    page = card.page(horn, horn.studio.today())
    content = pdf.drawn(card_sheet.laid(page, PAPERS[paper], ADDRESS))
    pages, size, text = read(content)
    assert pages == 1
    assert size == pytest.approx(SIZES_MM[paper], abs=0.1)
    assert "Pim’s tones" in text
    assert "Clean starts" in text
    picture, is_grey = ink(content)
    assert is_grey
    edge = 14  # points: what a printer can't reach stays empty
    width, height = picture.size
    for side in (
        (0, 0, width, edge),
        (0, height - edge, width, height),
        (0, 0, edge, height),
        (width - edge, 0, width, height),
    ):
        assert picture.crop(side).getextrema() == (255, 255), side


def test_nothing_on_the_card_lies_outside_it_whatever_the_notes(horn, teacher):
    horn.kind, horn.lowest_written_midi, horn.highest_keyed_written_midi = "baritone", 57, 91
    horn.save()
    builders.week(horn, teacher, focus="A very long focus that goes on " * 2)
    for paper in PAPERS.values():
        sheet = card_sheet.laid(card.page(horn, horn.studio.today()), paper, ADDRESS)
        for words in sheet.words:
            wide = faces.width_mm(words.text, words.face, words.size_pt)
            left = words.x_mm - (wide / 2 if words.anchor == "middle" else 0)
            assert left >= 5.0
            assert left + wide <= paper.width_mm - 5.0, words.text
            assert 5.0 <= words.y_mm <= paper.height_mm - 5.0
        for rule in sheet.rules:
            for x, y in (rule.from_mm, rule.to_mm):
                assert 5.0 <= x <= paper.width_mm - 5.0
                assert 5.0 <= y <= paper.height_mm - 5.0


SAFE = (
    "Work for the air, never pain.",
    "If lip, jaw, neck, hand or head hurts, or you feel light-headed, stop for today.",
)


def test_what_to_do_when_it_hurts_is_never_cut_in_any_language(horn, teacher):
    builders.week(horn, teacher)
    for language, _name in settings.LANGUAGES:
        with translation.override(language):
            said = " ".join(map(translation.gettext, SAFE))
            for paper in PAPERS.values():
                code = next(one for one in drawn_words(horn, paper) if one.anchor == "middle" and one.face == "plain")
                assert code.x_mm + wide(code) / 2 <= paper.width_mm - 9.9
                lines = foot(horn, paper)
                assert " ".join(one.text for one in lines).startswith(said), language
                assert all(one.x_mm + wide(one) <= paper.width_mm - 10.0 for one in lines)
    with pseudo.spoken(pseudo.longer):
        longer = " ".join(map(translation.gettext, SAFE))
        assert " ".join(one.text for one in foot(horn, PAPERS["a4"])).startswith(longer)


@pytest.mark.parametrize("language", [code for code, _name in settings.LANGUAGES])
def test_how_to_play_is_said_whole_in_every_language(horn, teacher, language):
    builders.week(horn, teacher)
    with translation.override(language):
        said = [one.text for one in drawn_words(horn, PAPERS["a4"])]
    assert not [text for text in said if text.endswith("…")]


def foot(horn, paper):
    """The words below the days, from above."""
    return sorted(
        (one for one in drawn_words(horn, paper) if one.y_mm > paper.height_mm - card_sheet.FOOT_MM),
        key=lambda one: one.y_mm,
    )


def drawn_words(horn, paper):
    return card_sheet.laid(card.page(horn, horn.studio.today()), paper, ADDRESS).words


def wide(words) -> float:
    return faces.width_mm(words.text, words.face, words.size_pt)


def test_each_day_has_a_head_and_a_box_for_every_tone(horn, teacher):
    builders.week(horn, teacher)
    page = card.page(horn, horn.studio.today())
    sheet = card_sheet.laid(page, PAPERS["a4"], ADDRESS)
    assert [len(day.tones) for day in page.days] == [20] * 7
    heads = [one for one in sheet.outlines if one.path.startswith("M86 -50C33")]
    assert len(heads) == 140
    levels = Counter(words.text for words in sheet.words if words.face == "level")
    asked = Counter(
        tone.tone for day in page.days for tone in day.tones if not tone.tone.endswith(("swell", "stepped"))
    )
    assert levels == asked


def test_the_days_of_the_card_are_the_planners_and_no_plan_is_kept(horn, teacher):
    builders.week(horn, teacher)
    today = horn.studio.today()
    laid = plans.ahead(horn, today, 7, 20)
    assert not DayPlan.objects.exists()
    opened = plans.slots(plans.plan_for(horn, today))
    assert laid[0] == (today, opened)
    assert plans.ahead(horn, today, 7, 20) == laid
    notes = {tone.written_midi for _on, tones in laid[:3] for tone in tones}
    assert notes == set(range(58, 91))  # every note within three days of twenty tones: none is forgotten


def test_without_a_week_there_is_no_card_but_a_word(horn, client):
    client.force_login(horn.player.user)
    answer = client.get(reverse("practice_card", args=[horn.pk]))
    assert "No week is set for Pim" in answer.content.decode()
    assert '<svg class="sheet' not in answer.content.decode()


def test_the_print_page_and_the_file_are_the_same_sheet(horn, teacher, client):
    builders.week(horn, teacher)
    client.force_login(horn.player.user)
    page = client.get(reverse("practice_card", args=[horn.pk]), {"paper": "letter"}).content.decode()
    assert 'viewBox="0 0 215.9 279.4"' in page
    answer = client.get(reverse("practice_card_pdf", args=[horn.pk]), {"paper": "letter"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"] == "private, no-store"
    _pages, size, text = read(answer.content)
    assert size == pytest.approx(SIZES_MM["letter"], abs=0.1)
    shown = re.findall(r'<text class="head"[^>]*>([^<]+)</text>', page)
    assert len(shown) == 8
    for words in shown:
        assert words in text


def test_the_code_on_the_card_leads_to_today(horn, teacher):
    builders.week(horn, teacher)
    sheet = card_sheet.laid(card.page(horn, horn.studio.today()), PAPERS["a4"], ADDRESS)
    assert drawn(ADDRESS).path in [one.path for one in sheet.outlines]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_month_is_one_sheet_in_plain_words(horn, teacher, paper):
    today = horn.studio.today()
    first = today.replace(day=1)
    played.day(played.long_week(horn, teacher), first, [(60, "mf"), (62, "p")])
    comments.note(horn, by=teacher, text="The low notes speak now. " * 15)
    horn.player.lesson_weekday, horn.player.lesson_at = 3, dt.time(16, 30)
    horn.player.save()
    page = at_home.month(horn.player)
    pages, size, text = read(pdf.drawn(month.laid(page, PAPERS[paper])))
    assert pages == 1
    assert size == pytest.approx(SIZES_MM[paper], abs=0.1)
    for words in ("What was practised", "Tones were played on 1 day.", "What came on", "What is next", "16:30"):
        assert words in text
    assert not re.search(r"%|out of|better than|worse|average|mark", text)


def test_a_month_without_playing_is_said_kindly(horn):
    _pages, _size, text = read(pdf.drawn(month.laid(at_home.month(horn.player), PAPERS["a4"])))
    assert "That breaks nothing" in text


def test_a_day_that_ended_in_pain_is_on_the_studios_sheet_only_where_it_may_know(horn, teacher, client):
    builders.week(horn, teacher)
    plan = plans.plan_for(horn, horn.studio.today())
    home = people.person("Jo Larkspur", horn.studio, Membership.Role.GUARDIAN)
    home.wards.add(horn.player)

    def tells(user) -> bool:
        client.force_login(user)
        content = client.get(reverse("month_pdf", args=[horn.player_id])).content
        return "something hurt" in " ".join(read(content)[2].split())

    plans.stop_because_it_hurts(plan, teacher_may_know=False)
    assert [tells(teacher), tells(home.user)] == [False, True]
    plans.stop_because_it_hurts(plan, teacher_may_know=True)
    assert [tells(teacher), tells(home.user)] == [True, True]
