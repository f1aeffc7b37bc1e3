"""Addresses of this package: what programs call, what students see, what teachers see."""

from django.urls import path

from assignments import api
from assignments.views import files

urlpatterns = [
    path("api/takes/", api.Takes.as_view(), name="api-takes"),
    path("api/takes/<uuid:take_id>/", api.OneTake.as_view(), name="api-take"),
    path("api/uploads/<uuid:client_key>/", api.Uploads.as_view(), name="api-upload"),
    path("api/horns/<uuid:horn_id>/standing/", api.Standing.as_view(), name="api-standing"),
    path("api/plans/<uuid:plan_id>/sound-check/", api.SoundCheck.as_view(), name="api-sound-check"),
    path("takes/<uuid:take_id>/audio", files.take_audio, name="take_audio"),
    # --- students ---
    # --- teachers ---
]
