"""The REST API: takes and standings, by the same functions as the pages."""

from __future__ import annotations

import datetime as dt
import io
import json
import uuid
from typing import Any

from django.core.files.base import File
from django.http import Http404
from django.utils.translation import gettext
from drf_spectacular.utils import OpenApiParameter, OpenApiTypes, extend_schema
from rest_framework.exceptions import NotFound, ParseError, Throttled, ValidationError
from rest_framework.parsers import BaseParser, JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assignments import access, plans, standings, takes, uploads
from assignments.models import Take
from assignments.refusals import Refusal
from assignments.serializers import (
    RefusalSerializer,
    SoundCheckSerializer,
    StandingSerializer,
    TakeSerializer,
    TakeUpload,
    UploadState,
)
from studio.access import signed_in

MOST_JSON_BYTES = 65_536
TOO_OFTEN = {429: RefusalSerializer}
REFUSED = {
    400: RefusalSerializer,
    403: RefusalSerializer,
    404: RefusalSerializer,
    409: RefusalSerializer,
    413: RefusalSerializer,
    503: RefusalSerializer,
    507: RefusalSerializer,
    **TOO_OFTEN,
}


class RawParser(BaseParser):
    """The body as it came."""

    media_type = "application/octet-stream"

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        return stream.read(uploads.MOST_PART_BYTES + 1)


class SmallJSON(JSONParser):
    """A few thousand characters, nested as deep as anybody means it."""

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        body = stream.read(MOST_JSON_BYTES + 1)
        if len(body) > MOST_JSON_BYTES:
            raise ParseError("That is longer than anything asked for here.")
        try:
            return super().parse(io.BytesIO(body), media_type, parser_context)
        except RecursionError as trouble:
            raise ParseError("That is nested too deep.") from trouble


class FootingView(APIView):
    """An API view that answers a Refusal with its status, code and words."""

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, uploads.WrongOffset):
            return Response({"code": exc.code, "text": exc.text, "offset": exc.offset}, status=exc.status)
        if isinstance(exc, Refusal):
            when = {"Retry-After": str(exc.again_in_s)} if exc.again_in_s is not None else {}
            return Response({"code": exc.code, "text": exc.text}, status=exc.status, headers=when)
        if isinstance(exc, ValidationError):
            return Response({"code": "invalid", "text": _said(exc.detail), "fields": exc.detail}, status=400)
        if isinstance(exc, (Http404, NotFound)):
            return Response({"code": "not_there", "text": gettext("That isn’t here, or it isn’t yours.")}, status=404)
        answer = super().handle_exception(exc)
        if isinstance(exc, Throttled):  # its header says when to come again
            words = gettext("That was very often. Nothing is lost: it goes on by itself after a while.")
            answer.data = {"code": "too_often", "text": words}
        return answer

    def get_throttles(self):  # type: ignore[no-untyped-def]  # reading and sending are counted apart
        self.throttle_scope = {"GET": "reads", "PATCH": "parts"}.get(self.request.method or "", "uploads")
        return super().get_throttles()


class Takes(FootingView):
    parser_classes = [MultiPartParser]

    @extend_schema(
        parameters=[OpenApiParameter("on", OpenApiTypes.DATE, description="Studio-local day; left out: the last 50.")],
        responses={200: TakeSerializer(many=True), 400: RefusalSerializer, **TOO_OFTEN},
    )
    def get(self, request: Request) -> Response:
        """Own takes, and those of the students one may hear, newest first."""
        rows = access.takes_within_sight(signed_in(request)).prefetch_related("tries").order_by("-received_at")
        if "on" in request.query_params:
            rows = rows.filter(on=_day(request.query_params["on"]))
        return Response(TakeSerializer(rows[: 50 if "on" not in request.query_params else 400], many=True).data)

    @extend_schema(
        request={"multipart/form-data": TakeUpload}, responses={200: TakeSerializer, 201: TakeSerializer, **REFUSED}
    )
    def post(self, request: Request) -> Response:
        """Send one recording. The same client key again gives the first answer again."""
        sent = TakeUpload(data=_with_json(request.data))
        sent.is_valid(raise_exception=True)
        upload = sent.validated_data
        take, is_new = (
            self._of_parts(request, upload) if upload["parts"] else self._submit(request, upload, upload["audio"])
        )
        return Response(TakeSerializer(take).data, status=201 if is_new else 200)

    def _of_parts(self, request: Request, upload: dict[str, Any]) -> tuple[Take, bool]:
        try:
            with uploads.finished(signed_in(request), upload["client_key"]) as draft:
                return self._submit(request, upload, File(draft, name="parts"))
        except uploads.NoParts:  # looked for first: the same sending may have made a take of them just now
            take = access.own_takes(signed_in(request)).filter(client_key=upload["client_key"]).first()
            if take is None:
                raise
            return take, False

    def _submit(self, request: Request, upload: dict[str, Any], audio: File) -> tuple[Take, bool]:
        exercise = access.exercise_of_player(signed_in(request), upload["exercise"])
        plan = access.plan_of_player(signed_in(request), upload["plan"]) if "plan" in upload else None
        wanted = [int(place) for place in upload["slots"].split(",")] if "slots" in upload else None
        on, slots = plans.asked_for(exercise, plan, wanted)
        return takes.submit(
            horn=exercise.week.horn,
            exercise=exercise,
            on=on,
            slots=slots,
            client_key=upload["client_key"],
            audio=audio,
            recorder=upload.get("recorder", {}),
        )


class OneTake(FootingView):
    @extend_schema(responses={200: TakeSerializer, 404: RefusalSerializer, **TOO_OFTEN})
    def get(self, request: Request, take_id: uuid.UUID) -> Response:
        """Where one recording is on its way, and what came of it."""
        return Response(TakeSerializer(access.take_within_sight(signed_in(request), take_id)).data)


class Uploads(FootingView):
    parser_classes = [RawParser]

    @extend_schema(responses={200: UploadState, **TOO_OFTEN})
    def get(self, request: Request, client_key: uuid.UUID) -> Response:
        """Whether a recording is stored, and how much of it has come in parts."""
        take = access.own_takes(signed_in(request)).filter(client_key=client_key).first()
        here = 0 if take else uploads.offset(signed_in(request), client_key)
        return Response({"stored": take is not None, "take": take and take.pk, "offset": here})

    @extend_schema(
        request={"application/octet-stream": OpenApiTypes.BINARY},
        parameters=[
            OpenApiParameter("Upload-Offset", OpenApiTypes.INT, OpenApiParameter.HEADER, required=True),
            OpenApiParameter("Upload-Length", OpenApiTypes.INT, OpenApiParameter.HEADER, required=True),
        ],
        responses={200: UploadState, **REFUSED},
    )
    def patch(self, request: Request, client_key: uuid.UUID) -> Response:
        """Append one part; then POST the take with “parts=true”."""
        player = takes.may_send(signed_in(request))
        at, whole = _header(request, "Upload-Offset"), _header(request, "Upload-Length")
        part: Any = request.data or b""  # bytes, as the parser left them
        others, arrived = uploads.others_of(signed_in(request), client_key)
        takes.has_room_today(player, arrived + len(part), more_takes=others)
        here = uploads.append(signed_in(request), client_key, part, at, whole)
        try:
            takes.may_send(signed_in(request))
        except (Refusal, Http404):  # taken back, or the student deleted, while it was written: nothing of it stays
            uploads.forget(signed_in(request))
            raise
        return Response({"stored": False, "take": None, "offset": here})


class Standing(FootingView):
    @extend_schema(responses={200: StandingSerializer, 404: RefusalSerializer, **TOO_OFTEN})
    def get(self, request: Request, horn_id: uuid.UUID) -> Response:
        """Where the first gate of one horn stands today, with the days it counted."""
        return Response(
            StandingSerializer(standings.standing(access.horn_within_sight(signed_in(request), horn_id))).data
        )


class SoundCheck(FootingView):
    parser_classes = [SmallJSON]

    @extend_schema(request=SoundCheckSerializer, responses={200: SoundCheckSerializer, **REFUSED})
    def post(self, request: Request, plan_id: uuid.UUID) -> Response:
        """Keep what the phone heard before the first tone of the day."""
        plan = access.plan_of_player(signed_in(request), plan_id)
        takes.may_send(signed_in(request))
        heard = SoundCheckSerializer(data=request.data)
        heard.is_valid(raise_exception=True)
        plans.keep_sound_check(plan, heard.validated_data)
        return Response(heard.validated_data)


def _said(detail: Any, where: str = "") -> str:
    """The first thing that is wrong, with the field's name."""
    if isinstance(detail, dict):
        name, inner = next(iter(detail.items()))
        return _said(inner, "" if name == "non_field_errors" else name)
    if isinstance(detail, list):
        return _said(detail[0], where)
    return f"{where}: {detail}" if where else str(detail)


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as trouble:
        raise Refusal("no_such_day", "Write the day like 2026-03-01.") from trouble


def _header(request: Request, name: str) -> int:
    text = request.headers.get(name, "")
    if not text.isdecimal() or len(text) > 12:
        raise Refusal("header", f"{name} must be a number of bytes.")
    return int(text)


def _with_json(form: Any) -> dict[str, Any]:
    """A form field can't hold an object, so the recorder's settings come as JSON text."""
    values = {name: form[name] for name in form}
    if "recorder" in values:
        try:
            values["recorder"] = json.loads(values["recorder"])
        except (TypeError, ValueError, RecursionError) as trouble:
            raise Refusal("recorder", "“recorder” must be JSON.") from trouble
    return values
