"""Sheets of paper: the practice card of a week and the month for the family, to print or as a file.

What draws them is loaded with the first sheet: its libraries take a fifth of the memory of a web process.
"""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from assignments import access
from assignments.queries import at_home as at_home_query
from assignments.queries import card as card_query
from assignments.sheets.records import PAPERS, Paper, Sheet
from assignments.views.at_home import asked_month
from studio.access import is_of_family, of_family_or_studio
from studio.signed_in import SignedInRequest

USUAL_PAPER = "a4"  # the paper, where none is asked for


@login_required
@require_safe
def practice_card(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """The card as a page for the browser's printer."""
    page, sheet = _card(request, horn_id)
    papers = [("a4", _("A4")), ("letter", _("Letter"))]
    return render(request, "assignments/sheets/practice_card.html", {"page": page, "sheet": sheet, "papers": papers})


@login_required
@require_safe
def practice_card_pdf(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    _page, sheet = _card(request, horn_id)
    return _file(sheet, f"tones-{sheet.paper.key}.pdf")


@login_required
@require_safe
def month_pdf(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """One student's month on one sheet, for the family."""
    from assignments.sheets import month  # noqa: PLC0415  # what draws comes with the first sheet

    student = of_family_or_studio(request.user, membership_id)
    at_home = is_of_family(request.user, membership_id)
    page = at_home_query.month(student, asked_month(request.GET.get("month", "")), at_home=at_home)
    return _file(month.laid(page, _paper(request)), f"month-{page.first_on:%Y-%m}.pdf")


def _card(request: SignedInRequest, horn_id: uuid.UUID) -> tuple[card_query.CardPage, Sheet]:
    from assignments.sheets import card  # noqa: PLC0415  # what draws comes with the first sheet

    horn = access.horn_within_sight(request.user, horn_id)
    page = card_query.page(horn, horn.studio.today())
    return page, card.laid(page, _paper(request), request.build_absolute_uri(reverse("today")))


def _paper(request: SignedInRequest) -> Paper:
    return PAPERS.get(request.GET.get("paper", USUAL_PAPER), PAPERS[USUAL_PAPER])


def _file(sheet: Sheet, name: str) -> HttpResponse:
    from assignments.sheets import pdf  # noqa: PLC0415  # what draws comes with the first sheet

    answer = HttpResponse(pdf.drawn(sheet), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
