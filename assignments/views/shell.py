"""What the browser keeps so that Today opens without network."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

STYLES = ("base", "parts", "pictures", "student", "print")
FONTS = ("accidentals", "alegreya-700", "alegreya-sans-500", "alegreya-sans-800")
SCRIPTS = (
    *("after", "allowed", "board", "click", "click_ear", "count_in", "file_form", "hear", "inbox", "levels"),
    *("listening", "matching", "microphone", "mine"),
    *("phases", "play", "player", "progress", "range", "run", "sender", "set_up", "sha256", "shell", "sound_check"),
    *("store", "tape", "writing"),
)
KEPT = (  # what the pages that open without network need of the static files
    *(f"studio/css/{name}.css" for name in STYLES),
    *(f"studio/fonts/{name}.woff2" for name in FONTS),
    "studio/icons/footing.svg",
    "assignments/student.css",
    "assignments/play.css",
    *(f"assignments/{name}.js" for name in SCRIPTS),
)


@cache
def version() -> str:
    """Changes whenever one of the kept files does."""
    digest = hashlib.sha256()
    for name in KEPT:
        digest.update(Path(str(finders.find(name))).read_bytes())
    return digest.hexdigest()[:12]


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """At the root, because a service worker looks after the folder it comes from."""
    context = {"names": KEPT, "version": version()}
    response = render(request, "assignments/service_worker.js", context, content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response


@require_safe
def offline(request: HttpRequest, page: str) -> HttpResponse:
    """Shown without network in place of what needs one: ``page`` is the template that says so."""
    response = render(request, f"assignments/student/{page}.html")
    response["Cache-Control"] = "no-cache"
    return response
