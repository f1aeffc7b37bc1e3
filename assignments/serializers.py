"""What the API takes and gives. Fields are named one by one, so that nothing else can be set or seen."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from assignments.models import Take
from assignments.progress import progress


class RefusalSerializer(serializers.Serializer):
    code = serializers.CharField()
    text = serializers.CharField(help_text="What went wrong and what to do next, for the person.")


MOST_CHARACTERS = 4000  # that a phone says of itself


class Told(serializers.JSONField):
    """What a phone says of its own sound. Letters that no database keeps cost no recording: they are left out."""

    def to_internal_value(self, data: Any) -> Any:
        try:
            value = super().to_internal_value(data)
            if isinstance(value, dict) and len(str(value)) <= MOST_CHARACTERS:
                return _keepable(value)
        except RecursionError:
            pass
        raise serializers.ValidationError("An object of at most 4,000 characters.")


def _keepable(value: Any) -> Any:
    if isinstance(value, dict):
        return {_keepable(name): _keepable(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [_keepable(one) for one in value]
    return value.encode(errors="replace").decode().replace("\0", "") if isinstance(value, str) else value


class TakeUpload(serializers.Serializer):
    """One recording with what was asked for in it."""

    client_key = serializers.UUIDField(help_text="Made by the phone, once per recording: sending twice makes one take.")
    exercise = serializers.UUIDField()
    plan = serializers.UUIDField(required=False, help_text="The day's plan that it was recorded from.")
    slots = serializers.RegexField(
        r"^\d{1,3}(,\d{1,3})*$", required=False, help_text="Places in the plan, comma-separated; left out: all."
    )
    audio = serializers.FileField(required=False, help_text="The recording; left out when it was sent in parts.")
    parts = serializers.BooleanField(required=False, default=False)
    recorder = Told(required=False, help_text="What the browser said of its microphone.")

    def validate(self, sent: dict[str, object]) -> dict[str, object]:
        if bool(sent.get("audio")) == bool(sent.get("parts")):
            raise serializers.ValidationError("Send either the audio, or parts=true after sending it in parts.")
        return sent


class TrySerializer(serializers.Serializer):
    id = serializers.UUIDField()
    slot = serializers.IntegerField()
    written_midi = serializers.IntegerField()
    partial = serializers.IntegerField(allow_null=True)  # type: ignore[assignment]  # of the tone, not of the request
    tone = serializers.CharField()
    outcome = serializers.ChoiceField(["hit", "miss", "unreadable"])
    reasons = serializers.ListField(child=serializers.CharField())


class TakeSerializer(serializers.ModelSerializer):
    state = serializers.SerializerMethodField()
    words = serializers.SerializerMethodField()
    sha256 = serializers.CharField(source="analysis.sha256_as_sent")
    page = serializers.CharField(source="get_absolute_url")
    tries = TrySerializer(many=True, read_only=True)

    class Meta:
        model = Take
        fields = ["id", "client_key", "on", "exercise", "state", "words", "sha256", "page", "received_at", "tries"]
        read_only_fields = fields

    def get_state(self, take: Take) -> str:
        return progress(take).state

    def get_words(self, take: Take) -> str:
        return progress(take).words


class UploadState(serializers.Serializer):
    stored = serializers.BooleanField()
    take = serializers.UUIDField(allow_null=True)
    offset = serializers.IntegerField(min_value=0)


class DaySerializer(serializers.Serializer):
    on = serializers.DateField()
    readable = serializers.IntegerField()
    hits = serializers.IntegerField()
    on_target = serializers.BooleanField(allow_null=True)


class StandingSerializer(serializers.Serializer):
    state = serializers.CharField()
    notice = serializers.BooleanField()
    days = DaySerializer(many=True)
    notes_short = serializers.ListField(child=serializers.IntegerField())
    opened_on = serializers.DateField(allow_null=True)
    shut_on = serializers.DateField(allow_null=True)
    reasons = serializers.ListField(child=serializers.CharField())


class SoundCheckSerializer(serializers.Serializer):
    """What the phone heard before the first tone: the player's own soft-to-loud of the day."""

    softest_db = serializers.FloatField(min_value=-120, max_value=6)
    loudest_db = serializers.FloatField(min_value=-120, max_value=6)
    noise_db = serializers.FloatField(min_value=-160, max_value=6, required=False)
    settings = Told(required=False)

    def validate(self, heard: dict[str, object]) -> dict[str, object]:
        if heard["loudest_db"] <= heard["softest_db"]:  # type: ignore[operator]  # both are floats here
            raise serializers.ValidationError("The loudest tone must be louder than the softest.")
        return heard
