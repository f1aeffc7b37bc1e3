"""A teacher's answer to a request: yes only with the ears, not yet at any time."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments.decisions import decide
from assignments.models import Decision
from assignments.queries.deciding import deciding
from assignments.refusals import Refusal
from studio.models import Horn, User


def answer(*, horn: Horn, by: User, stage: int, yes: bool, words: str = "") -> Decision:
    """Write the answer down. Raises Refusal for a yes before the six tones were heard, or to what isn't asked."""
    if not yes:
        return decide(horn=horn, by=by, kind=Decision.Kind.NOT_YET, stage=stage, words=words)
    page = deciding(horn, by, stage)
    if page.too_few:
        raise Refusal(
            "too_few_to_hear", _("There are too few recordings left to hear. Ask for some, or open by hand."), 409
        )
    if page.left:
        text = ngettext("Hear %(left)d more before a yes.", "Hear %(left)d more before a yes.", page.left)
        raise Refusal("hear_first", text % {"left": page.left}, 409)
    return decide(horn=horn, by=by, kind=Decision.Kind.CONFIRM, stage=stage, words=words)
