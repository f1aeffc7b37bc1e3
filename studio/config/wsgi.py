"""The web process's door."""

import os
from importlib import import_module

from celery import current_app
from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
application = get_wsgi_application()

import_module(settings.ROOT_URLCONF)  # a page that cannot be loaded ends the process now, not at the first request
# A page that waits for a frozen broker holds one of the server's few threads.
current_app.conf.broker_transport_options = {**current_app.conf.broker_transport_options, "socket_timeout": 2}
