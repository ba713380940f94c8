"""A worker that some songs end, to be put in the place of the real one. A file of its own, so that workers find it."""

import os

from arranger.library.make import MadeSong, SongTask, make
from arranger.pipeline import Wishes

DEADLY = b"song deadly"


def deadly(wishes: Wishes, kinds: tuple[str, ...], tasks: tuple[SongTask, ...]) -> tuple[MadeSong, ...]:
    """Make songs; die of one."""
    if any(task.data.startswith(DEADLY) for task in tasks):
        os._exit(9)
    return make(wishes, kinds, tasks)
