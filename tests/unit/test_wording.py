"""What grown-ups agree to: it says what they must know, and it is never changed afterwards."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from django.template.loader import render_to_string

from studio import consent
from studio.models import Studio

WORDINGS = Path(__file__).resolve().parents[2] / "templates" / "studio" / "wordings"
# What somebody once agreed to is never changed: a new text is a new file, and a new line here.
AGREED_TO = {"2026-11": "e5bd423c224bb375"}


def test_the_wording_in_force_says_what_a_grown_up_must_know():
    text = render_to_string(
        "studio/_consent_wording.html", {"studio": Studio(name="Lantern Quay Studio"), "wording": consent.WORDING}
    )
    plain = re.sub(r"<[^>]+>|\s+", " ", text)
    for part_of_it in (
        "What is recorded", "Who can hear it", "How long", "deleted after 60 days", "take a yes back at any time",
        "within a minute", "35 days", "nothing is trained with it", "your school ask for recordings of children",
    ):  # fmt: skip
        assert part_of_it in plain


def test_a_wording_is_never_changed_once_it_was_agreed_to():
    assert consent.WORDING in AGREED_TO
    found = {file.stem: hashlib.sha256(file.read_bytes()).hexdigest()[:16] for file in WORDINGS.glob("*.html")}
    assert found == AGREED_TO
