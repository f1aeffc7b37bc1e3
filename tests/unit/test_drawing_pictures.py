"""Pictures in a page: what they show, what they say aloud, and that they need no inline style."""

import datetime as dt
import re
from html.parser import HTMLParser
from typing import Any

import pytest
from django.template import Context, Template
from django.utils import translation

from analysis import drawing
from assignments.exercises import TONE_WORDS
from tests.unit.drawn_tones import between, target, tone

ROWS = [
    {
        "written_midi": midi,
        "cells": {
            "pp": {"outcome": "miss", "played_on": dt.date(2026, 3, 9), "today": True},
            "mf": {"outcome": "hit", "played_on": dt.date(2026, 3, 8)},
            "swell": {"outcome": "unreadable", "played_on": dt.date(2026, 3, 7)},
        },
        "stands": midi != 73,
        "short": "2 of 5" if midi == 73 else "",
    }
    for midi in range(90, 57, -1)
]
DAYS = [{"on": dt.date(2026, 3, 2 + i), "on_target": verdict} for i, verdict in enumerate((True, True, False, None))]
GROUND = {
    "days_on_target": 7, "opens_at": 8, "notes_standing": 31, "notes_in_range": 33,
    "teacher_confirms": True, "teacher_said_yes": False, "open": False,
}  # fmt: skip
STRIP = drawing.strip(tone(between(4, 6, 20.0)), target=target(), dynamic="pp", flagged=(7.0, 9.0))
RUN = [(midi, -30.0 - (8 if midi == 73 else 0)) for midi in range(58, 91)]
TONES = [{"written_midi": 73, "tone": "pp"}, {"written_midi": 60, "tone": "swell"}]
PROFILE = drawing.profile([(60, 3.5), (61, -2.5)], allowance=10)
PICTURES: dict[str, tuple[str, dict[str, Any]]] = {
    "mark": ('{% mark "miss" today=True %}', {}),
    "legend": ('{% legend today=True stands="3 of 5" %}', {}),
    "icon": ('{% icon "horn" %}', {}),
    "shape": ('{% shape_icon "swell" %}', {}),
    "stave": ("{% stave 58 %}", {}),
    "plan": ("{% plan_grid tones %}", {"tones": TONES}),
    "to play": ('{% to_play "reverse_swell" %}', {}),
    "range": ("{% range_table rows %}", {"rows": ROWS}),
    "days": ("{% days days %}", {"days": DAYS}),
    "days, small": ("{% days_small days %}", {"days": DAYS}),
    "tally": ("{% tally days %}", {"days": [True, False] * 7}),
    "piers": ("{% piers ground %}", {"ground": GROUND}),
    "strip": ('{% strip drawn "It climbs." %}', {"drawn": STRIP}),
    "wall": ('{% wall drawn "One hole." %}', {"drawn": drawing.wall(RUN, room_db=2.9, holes=(73,))}),
    "neighbours": ('{% neighbours drawn "Softer." %}', {"drawn": drawing.neighbours(RUN[13:18], room_db=2.9, hole=73)}),
    "profile": ('{% profile drawn "Sharp on top." %}', {"drawn": PROFILE}),
}  # fmt: skip
SILENT = {"mark", "legend", "icon", "shape", "plan", "range"}  # words stand beside or inside these


def render(source: str, **context: Any) -> str:
    return Template("{% load notes pictures %}" + source).render(Context(context))


def picture(name: str) -> str:
    source, context = PICTURES[name]
    return render(source, **context)


class Outline(HTMLParser):
    """Tags that are opened and not shut again, and every attribute."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.attributes: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag != "col":
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_well_formed_and_has_no_style_or_script_of_its_own(name: str) -> None:
    outline = Outline()
    outline.feed(picture(name))
    assert outline.open == []
    assert not [attribute for attribute, _ in outline.attributes if attribute == "style" or attribute.startswith("on")]


@pytest.mark.parametrize("name", [name for name in PICTURES if name not in SILENT])
def test_a_picture_says_what_it_shows(name: str) -> None:
    found = re.search(r'role="img" aria-label="([^"]+)"', picture(name))
    assert found
    assert found.group(1).endswith(".")
    assert not set(found.group(1)) & set("♯♭")


@pytest.mark.parametrize("name", PICTURES)
def test_numbers_of_a_drawing_keep_their_points_in_other_languages(name: str) -> None:
    outline = Outline()
    with translation.override("de"):
        outline.feed(picture(name))
    drawn = {"x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "d", "width", "height", "viewbox"}
    assert not [value for attribute, value in outline.attributes if attribute in drawn and "," in value]


def test_the_range_is_a_table_of_notes_and_tones() -> None:
    html = picture("range")
    assert html.count('<th scope="row">') == 33
    assert html.count('<th scope="col"') == 11
    assert html.count("<td data-tone=") == 33 * 11
    assert len(re.findall(r'<tr class="break">', html)) == 3


def test_a_cell_of_the_range_is_said_in_words() -> None:
    html = picture("range")
    assert "not yet, played 9 March, in today’s set" in html
    assert "on target, played 8 March" in html
    assert "couldn’t hear, played 7 March" in html
    assert "not played" in html


def test_a_row_ends_in_a_post_or_in_what_is_short() -> None:
    html = picture("range")
    assert html.count('<span class="post"') == 32
    assert html.count("2 of 5") == 1


def test_a_range_may_have_fewer_tones() -> None:
    html = render("{% range_table rows tones=tones %}", rows=ROWS[:2], tones=("p", "mf"))
    assert html.count("<td data-tone=") == 4
    assert "steps" not in html


def test_days_that_could_not_be_counted_are_gravel() -> None:
    html = picture("days")
    assert re.findall(r'class="mark (\w+)"', html) == ["hit", "hit", "miss", "unreadable"]
    assert "2 of the last 4 practice days on target." in html
    assert "No practice days yet." in render("{% days days %}", days=[])


def test_the_tally_draws_a_stroke_a_day_and_a_dot_for_none() -> None:
    html = picture("tally")
    strokes, dots = re.findall(r' d="([^"]+)"', html)
    assert re.findall(r"M(\d+) 0", strokes) == [str(1 + 18 * place) for place in range(7)]
    assert re.findall(r"M([\d.]+) 12.8", dots) == [f"{9 + 18 * place}.9" for place in range(7)]
    assert "Practised on 7 of the last 14 days." in html


def test_the_flagged_moment_stands_between_stakes_with_the_word() -> None:
    html = picture("strip")
    assert 'class="stakes"' in html
    assert ">here<" in html
    assert ">8</span>" in html
    assert ">here<" not in render('{% strip drawn "It climbs." compact=True %}', drawn=STRIP)


def test_the_piers_say_how_far_they_are() -> None:
    html = picture("piers")
    assert "The high notes wait. Days: 7 of 8. Notes: 31 of 33. Teacher: not asked yet." in html
    assert 'class="piers ltr open' in render("{% piers ground %}", ground=GROUND | {"open": True})


def test_an_unplayed_mark_is_the_ground() -> None:
    assert "mark-unplayed" in render("{% mark nothing %}", nothing=None)
    assert "not yet" in render('{% mark "miss" word=True %}')


def test_the_board_to_fill_has_eight_beats_and_four_of_rest() -> None:
    html = render('{% to_play "pp" %}')
    assert 'data-beats="8"' in html
    assert 'data-rest="4"' in html
    assert html.count("<li>") == 8
    assert html.count('<li class="rest">') == 4
    assert "To play: very soft, 8 beats, then breathe for 4." in html


@pytest.mark.parametrize("tone_word", TONE_WORDS)
def test_every_tone_has_a_board(tone_word: str) -> None:
    assert re.search(r'class="plank" d="M[^"]+"', render("{% to_play tone %}", tone=tone_word))


def test_values_may_be_records_as_well_as_mappings() -> None:
    class Day:
        on = dt.date(2026, 3, 2)
        on_target = True

    assert 'class="mark hit"' in render("{% days days %}", days=[Day()])
