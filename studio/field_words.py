"""What a field says when something is missing or too much: in the voice of the pages, not in the framework's.

A field or form that has words of its own keeps them.
"""

from __future__ import annotations

from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.forms import Field
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy


def take_over() -> None:
    """For every form of this process; once, when it starts."""
    Field.default_error_messages["required"] = _("Fill this in.")
    MinValueValidator.message = _("Choose %(limit_value)s or more.")
    MaxValueValidator.message = _("Choose %(limit_value)s or less.")
    MaxLengthValidator.message = ngettext_lazy(  # type: ignore[assignment]  # a text that waits for its number
        "At most %(limit_value)d letter fits here, and there are %(show_value)d. Shorten it.",
        "At most %(limit_value)d letters fit here, and there are %(show_value)d. Shorten it.",
        "limit_value",
    )
