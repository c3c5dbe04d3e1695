"""Serve the pages: `python -m kilter.web HOST PORT`; `kilter start` calls it."""

from __future__ import annotations

import os
import sys
import threading
import time


def main(host: str, port: int) -> None:
    """Serves until the process ends, or the one that started it has gone."""
    import waitress

    from kilter.web.wsgi import application

    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    waitress.serve(application, host=host, port=port, threads=8, ident="kilter", max_request_body_size=1 << 29,
                   channel_timeout=60)  # fmt: skip


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
