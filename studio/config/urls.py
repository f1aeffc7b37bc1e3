"""Every address: people's pages, work's pages and API, support, and what machines ask."""

from django.contrib import admin
from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from studio import support
from studio.config.api_page import ApiPage
from studio.config.health import alive, ready
from studio.config.metrics import metrics

handler500 = "studio.config.troubles.our_fault"
urlpatterns = [
    path("healthz", alive, name="alive"),
    path("readyz", ready, name="ready"),
    path("metrics", metrics, name="metrics"),
    path("api/", ApiPage.as_view(), name="api-page"),
    path("api/schema/", SpectacularJSONAPIView.as_view(), name="api-schema"),
    path("support/login/", support.door, name="support-login"),
    path("support/", admin.site.urls),
    path("", include("studio.urls")),
    path("", include("assignments.urls")),
]
