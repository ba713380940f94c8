"""How a worker process begins. Apart from what workers do, so that each kind of work loads only what it needs."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from multiprocessing import connection


def begin() -> None:
    """Set a worker up: Ctrl-C is for its parent to hear, and where the parent dies, so does the worker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_outlive_nobody, daemon=True).start()


def _outlive_nobody() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
