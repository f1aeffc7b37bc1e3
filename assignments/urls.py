"""Addresses of this package: what programs call, what students see, what teachers see."""

from django.urls import path

from assignments import api
from assignments.views import deciding, files, own, people, playing, routines, shell, student, teacher, week

urlpatterns = [
    path("api/takes/", api.Takes.as_view(), name="api-takes"),
    path("api/takes/<uuid:take_id>/", api.OneTake.as_view(), name="api-take"),
    path("api/uploads/<uuid:client_key>/", api.Uploads.as_view(), name="api-upload"),
    path("api/horns/<uuid:horn_id>/standing/", api.Standing.as_view(), name="api-standing"),
    path("api/plans/<uuid:plan_id>/sound-check/", api.SoundCheck.as_view(), name="api-sound-check"),
    path("takes/<uuid:take_id>/audio", files.take_audio, name="take_audio"),
    # --- students ---
    path("", student.home, name="home"),
    path("service-worker.js", shell.service_worker, name="service_worker"),
    path("offline/", shell.offline, name="offline"),
    path("today/", student.today, name="today"),
    path("today/set-up/", playing.set_up, name="set_up"),
    path("today/play/", playing.play, name="play"),
    path("after/", student.after, name="after"),
    path("range/", student.whole_range, name="range"),
    path("tones/<uuid:try_id>/", student.one_tone, name="one_tone"),
    path("evenness/", student.evenness, name="evenness"),
    path("high-notes/", student.high_notes, name="high_notes"),
    path("lesson/", student.lesson, name="lesson"),
    path("hurts/", own.hurts, name="hurts"),
    path("mine/", own.mine, name="mine"),
    path("exercises/<uuid:exercise_id>/", playing.exercise, name="exercise"),
    path("exercises/<uuid:exercise_id>/file/", playing.take_file, name="take_file"),
    path("takes/<uuid:take_id>/", playing.take, name="take"),
    # --- teachers ---
    path("studio/", teacher.studio_today, name="studio_today"),
    path("studio/everyone/", teacher.everyone, name="everyone"),
    path("studio/students/<uuid:horn_id>/", teacher.student, name="student"),
    path("studio/students/<uuid:horn_id>/note/", teacher.note, name="note"),
    path("studio/students/<uuid:horn_id>/week/", week.week, name="week"),
    path("studio/students/<uuid:horn_id>/decide/", deciding.decide, name="decide"),
    path("studio/students/<uuid:horn_id>/gate/", deciding.gate, name="gate"),
    path("studio/takes/<uuid:take_id>/comment/", teacher.comment, name="comment"),
    path("studio/tries/<uuid:try_id>/heard/", teacher.heard, name="heard"),
    path("studio/routines/", routines.routines, name="routines"),
    path("studio/routines/new/", routines.new_routine, name="new_routine"),
    path("studio/routines/<uuid:routine_id>/", routines.routine, name="routine"),
    path("studio/people/", people.people, name="people"),
    path("studio/people/add-student/", people.add_student, name="add_student"),
    path("studio/people/add-staff/", people.add_staff, name="add_staff"),
    path("studio/people/consent-form/", people.consent_form, name="consent_form"),
    path("studio/people/<uuid:membership_id>/", people.person, name="person"),
]
