"""``{% sound_of comment %}``: what can be heard with a word: the word itself, said aloud, or the lesson's tone."""

from __future__ import annotations

import json
import re
from typing import Any

from django import template
from django.urls import reverse
from django.utils.translation import gettext as _

from analysis.models import Analysis
from assignments.models import Comment
from assignments.naming import note_plain, tone_said
from assignments.progress import of_recording

register = template.Library()

LEAD_S, FOLLOW_S = 2.0, 3.0  # of the take, before and after the second that a word is pinned to
TO_THE_END_S = 3600.0


@register.filter
def day_with_month(date: str) -> str:
    """``Tuesday 1 December`` of a heading, which breaks before the 1 and never after it."""
    return re.sub(r"(\d\.?) ", "\\1\N{NO-BREAK SPACE}", date)


@register.inclusion_tag("assignments/_sound_of_word.html")
def sound_of(comment: Comment) -> dict[str, Any]:
    """``comment`` came with ``voice`` and ``take__analysis``; nothing here asks the database."""
    if comment.voice is not None:
        return {"list": _spoken(comment), "words": _why_silent(comment.voice), "label": _label(comment)}
    take = comment.take
    if take is None or not take.in_lesson:
        return {"list": "", "words": ""}
    tone = take.asked[0]
    label = _("From the lesson: %(note)s, %(tone)s") % {
        "note": note_plain(tone["written_midi"]),
        "tone": tone_said(tone["tone"]),
    }
    is_kept = bool(take.analysis.audio)
    heard = [[reverse("take_audio", args=[take.pk]), 0.0, TO_THE_END_S]] if is_kept else []
    return {"list": json.dumps(heard) if heard else "", "words": "" if is_kept else _gone(), "label": label}


def _label(comment: Comment) -> str:
    return _("Hear %(name)s") % {"name": comment.by.get_short_name()}


def _spoken(comment: Comment) -> str:
    """The take up to the second, the word, and how the take goes on; the word alone where there is no such second."""
    voice = comment.voice
    if voice is None or voice.state != Analysis.State.MEASURED or not voice.audio:
        return ""
    heard: list[list[Any]] = [[reverse("voice_audio", args=[comment.pk]), 0.0, TO_THE_END_S]]
    take, at_s = comment.take, comment.at_s
    if take is not None and take.analysis.audio and at_s is not None:
        address = reverse("take_audio", args=[take.pk])
        heard.insert(0, [address, round(max(0.0, at_s - LEAD_S), 3), round(at_s, 3)])
        heard.append([address, round(at_s, 3), round(at_s + FOLLOW_S, 3)])
    return json.dumps(heard)


def _why_silent(voice: Analysis) -> str:
    if voice.state == Analysis.State.MEASURED:
        return "" if voice.audio else _gone()
    if not voice.is_over:
        return _("It is being read through. Open this page again in a moment.")
    return of_recording(voice, settled=True).words


def _gone() -> str:
    return _("The sound was deleted when its time was over.")
