"""A student's data as files, and its end: for the family, and for those who run the studio."""

from __future__ import annotations

import uuid
from tempfile import TemporaryFile

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import erasure, export, number_tables
from assignments.home_forms import DeleteForm
from assignments.queries import kept
from studio import access_log
from studio.access import Role, is_of_family, of_family_or_studio
from studio.models import User
from studio.signed_in import SignedInRequest


@login_required
@require_POST
def copy_of_everything(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponseBase:
    """One file with everything; written to the disk first, since it may be large."""
    student = of_family_or_studio(request.user, membership_id)
    file = TemporaryFile(prefix="footing-copy-")  # noqa: SIM115  # the answer closes it when it is sent
    export.write(student, file, by=request.user)
    file.seek(0)
    name = f"footing-{student.user.username}-{student.studio.today()}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")


@login_required
@require_safe
def numbers(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponseBase:
    """Every number as tables; written to the disk first, since they may be long."""
    student = of_family_or_studio(request.user, membership_id)
    file = TemporaryFile(prefix="footing-numbers-")  # noqa: SIM115  # the answer closes it when it is sent
    number_tables.zipped(student, file)
    file.seek(0)
    access_log.write(access_log.What.EXPORTED, studio=student.studio, who=request.user, about=student)
    name = f"footing-{student.user.username}-numbers.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def delete_everything(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """Asks once more, by name; then deletes. For the family and the studio's owner."""
    student = of_family_or_studio(request.user, membership_id, (Role.OWNER,))
    form = DeleteForm(request.POST or None, name=student.user.name)
    before = "home_kept" if is_of_family(request.user, student.pk) else "person"
    context = {
        "student": student,
        "form": form,
        "backups_forget_days": kept.BACKUPS_FORGET_DAYS,
        "back": reverse(before, args=[student.pk]),
    }
    if request.method == "POST" and form.is_valid():
        erasure.erase(student, by=request.user)
        if not User.objects.filter(pk=request.user.pk).exists():
            logout(request)
        return render(request, "assignments/at_home/deleted.html", context)
    return render(request, "assignments/at_home/delete.html", context, status=400 if form.errors else 200)
