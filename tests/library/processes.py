"""Processes as the system lists them: which of a group have not ended."""

from __future__ import annotations

from pathlib import Path


def of_group(group: int) -> list[int]:
    """Give the processes of a group that are not ended (Linux)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == group and fields[0] != "Z":
            found.append(int(path.parent.name))
    return found
