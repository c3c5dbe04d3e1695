"""Open the record: Django is loaded here, and only when a command asks for the database."""

from __future__ import annotations

import os

from kilter.measure.errors import NotAvailable

SETTINGS = "kilter.store.settings"


def start_store(settings: str = SETTINGS) -> None:
    """
    Makes the models usable; does nothing the second time.

    Args:
        settings: Module of Django settings; what the environment already names comes first.

    Raises:
        NotAvailable: Django is not installed.
        BadInput: The configuration names no usable database.
    """
    try:
        import django
        from django.apps import apps
    except ImportError:
        raise NotAvailable("Cannot open the record", "no Django on this machine", "Kilter with the extra 'store'",
                           "Install it with: pip install 'kilter[store]'") from None  # fmt: skip
    if not apps.ready:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", settings)
        django.setup()
