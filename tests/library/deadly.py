"""A worker that some songs end, to be put in the place of the real one. A file of its own, so that workers find it."""

import os

from arranger.library.make import Job, Made, make

DEADLY = b"song deadly"


def deadly(job: Job) -> tuple[Made, ...]:
    """Make songs; die of one."""
    if any(task.data.startswith(DEADLY) for task in job.tasks):
        os._exit(9)
    return make(job)
