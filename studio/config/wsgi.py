"""The web process's door."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
application = get_wsgi_application()

from studio.config.celery import app  # noqa: E402 - the settings must stand first

# A page that waits for a frozen broker holds one of the server's few threads.
app.conf.broker_transport_options = {**app.conf.broker_transport_options, "socket_timeout": 2}
