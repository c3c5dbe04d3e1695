"""The pages for a server that speaks WSGI."""

from __future__ import annotations

from django.core.wsgi import get_wsgi_application

from kilter.store.start import start_store

start_store("kilter.web.settings")
application = get_wsgi_application()
