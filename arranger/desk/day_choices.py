"""Read what is chosen on the page for today, and a player's settings as a form.

Values are texts, as they are typed after the options of the same names; THE table of them is `settings`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

import tomlkit

from arranger.intake import Wishes, wishes_of_player
from arranger.player import CHOICES, EASY, Player, WrongValueError, read_player, typed_value, value_of, written
from arranger.settings import SETTINGS
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.text.diagnostics import Diagnostic, error, has_errors, render
from arranger.theory.key import Key, another_key
from arranger.theory.pitch import NoteName

_LINE = re.compile(r'(?P<unset># )?(?P<key>\w+) = (?P<value>"[^"]*"|[^\s#]+)(?:\s*#\s*(?P<says>.*))?')
KINDS = {field: kind for _, _, field, kind, _ in SETTINGS} | {"hands": "hands", "pages": "pages", "date": "date"}
TODAY = (  # what the page can choose for a day, over the settings
    "paper", "hands", "verses", "pages", "suspensions", "octaves", "arc", "distance", "stage_paper", "stage_words",
    "stage_dark",
)  # fmt: skip
FIFTHS = range(-7, 11)  # of tonics on the line of fifths: from C flat (major) to A sharp (minor)
NOT_IN_FORM = ("fonts", "patches")  # paths of files, and a table: those are changed in the file


class BadQuestionError(ValueError):
    """A question that the page does not ask: said in words."""


class DayChoices(NamedTuple):
    """What is wished for, and what is wrong with the settings or the choices; then the defaults hold.

    `shown` are the choices that hold, by the names of `TODAY`, as the page shows them.
    """

    wishes: Wishes
    problems: tuple[Diagnostic, ...]
    shown: dict[str, str | bool]


def chosen(day: Mapping[str, Any], settings: str, fonts: tuple[str, ...]) -> DayChoices:
    """Return what is wished for: what is chosen today over the player's settings.

    Args:
        day: names of `TODAY` with their values as texts; `easy`, true or false.
        settings: the text of player.toml; empty where there is none.
        fonts: the paths of the player's own fonts.

    Raises:
        BadQuestionError: a name that is none of these, or a value that is no text.
    """
    player, problems = player_of(settings)
    changes: dict[str, Any] = {}
    for name, value in day.items():
        if name == "easy" and isinstance(value, bool):
            continue
        if name not in TODAY or not isinstance(value, str):
            raise BadQuestionError(f"nothing can be chosen by the name {name!r} with that value")
        try:
            changes[name] = _value(name, value)
        except WrongValueError as wrong:
            found = f"expected {wrong}, found `{value}`"
            problems = (*problems, error("bad-choice", found, None, *wrong.hints))
    easy = day.get("easy") is True
    if easy:
        changes |= EASY
    player = player._replace(**changes)
    return DayChoices(wishes_of_player(player, easy=easy, fonts=fonts), problems, _shown(player))


def _shown(player: Player) -> dict[str, str | bool]:
    return {
        "paper": player.paper,
        "hands": player.hands,
        "verses": player.verses,
        "stage_paper": player.stage_paper,
        "distance": f"{player.distance:g} m",
        "stage_dark": player.stage_dark,
        "suspensions": player.suspensions > 0,
        "octaves": player.octaves != "none",
    }


def _value(name: str, value: str) -> Any:
    """Read a choice, as it is typed after the option of that name."""
    kind = KINDS[name]
    if kind == "yes or no":
        if value not in ("yes", "no"):
            raise WrongValueError("yes or no")
        return value == "yes"
    return typed_value(kind, value)


def in_key(wishes: Wishes, song: Song, key: str) -> tuple[Wishes, tuple[Diagnostic, ...]]:
    """Return wishes for a song in another key today; its own key where none is named."""
    if not key.strip():
        return wishes, ()
    try:
        return wishes._replace(key=another_key(key, song.key)), ()
    except ValueError as problem:
        return wishes, (error("bad-choice", str(problem)),)


def keys_for(song: Song) -> list[Key]:
    """Return the keys that a song may be played in, upward from its own, each with as few signs as can be."""
    every = [Key(NoteName.at_fifths(fifths), song.key.minor) for fifths in FIFTHS]
    found = {song.key.tonic.pitch_class: song.key}
    for key in sorted((key for key in every if key.exists), key=lambda key: (abs(key.signature), -key.signature)):
        found.setdefault(key.tonic.pitch_class, key)
    home = song.key.tonic.pitch_class
    return [found[(home + step) % 12] for step in range(12)]


def player_of(settings: str) -> tuple[Player, tuple[Diagnostic, ...]]:
    """Return the player of a text of settings; the defaults, and what is wrong, where it has mistakes."""
    source, problems = decode("player.toml", settings.encode("utf-8", "replace"))
    player = Player()
    if not problems:
        player, problems = read_player(source)
    if has_errors(problems):
        told = tuple(error("bad-settings", render(one, source).splitlines()[0]) for one in problems)
        return Player(), told
    return player, ()


# --- the form of the settings -----------------------------------------------------------------------------------------


class FormField(NamedTuple):
    """A field of the form: its name, the table it stands in, its value as text, and what can be chosen, if listed."""

    name: str
    table: str
    value: str
    choices: tuple[str, ...]
    says: str


def form(settings: str) -> tuple[tuple[FormField, ...], tuple[Diagnostic, ...]]:
    """Return a player's settings as a form, but for those that name files or are tables."""
    player, problems = player_of(settings)
    lines = {}
    table = ""
    for line in written(player).splitlines():
        found = _LINE.fullmatch(line)
        if line.startswith("["):
            table = line.strip("[]").partition("]")[0]
        elif found is not None:
            value = "" if found["unset"] else found["value"].strip('"')
            lines[table, found["key"]] = value, found["says"]
    fields = []
    for table, key, field, kind, _ in SETTINGS:
        if field in NOT_IN_FORM:
            continue
        value, says = lines[table, key]
        listed = ("true", "false") if kind == "yes or no" else tuple(CHOICES.get(kind, ()))
        fields.append(FormField(f"{table}.{key}", table, value, listed, says))
    return tuple(fields), problems


def filled_in(settings: str, values: Mapping[str, Any]) -> tuple[str, tuple[Diagnostic, ...]]:
    """Return the text of the settings with other values in the form; what is not in the form stays as it is.

    Args:
        settings: the text of player.toml as it is; empty where there is none.
        values: by the names of the form; a text each.

    Returns:
        The text, and what is wrong with the values; then the text is as it was.

    Raises:
        BadQuestionError: a name that the form does not have.
    """
    _, problems = player_of(settings)
    if problems:
        return settings, problems
    kinds = {f"{table}.{key}": kind for table, key, field, kind, _ in SETTINGS if field not in NOT_IN_FORM}
    document = tomlkit.parse(settings) if settings.strip() else tomlkit.parse(written(Player()))
    for name, value in values.items():
        if name not in kinds or not isinstance(value, str):
            raise BadQuestionError(f"there is no setting {name!r} in the form")
        table, _, key = name.partition(".")
        if not value.strip() and kinds[name] == "key" and key == "split":
            document.get(table, {}).pop(key, None)
            continue
        plain = _plain(kinds[name], value.strip())
        try:
            value_of(kinds[name], plain)
        except WrongValueError as wrong:
            problems = (*problems, error("bad-choice", f"{key}: expected {wrong}, found `{value}`", None, *wrong.hints))
            continue
        document.setdefault(table, tomlkit.table())[key] = plain
    text = tomlkit.dumps(document)
    _, told = player_of(text)  # limits that only hold together: lowest and highest
    problems = (*problems, *told)
    return (settings, problems) if problems else (text, ())


def _plain(kind: str, value: str) -> str | int | bool:
    """Return a text of the form as TOML's own value."""
    if kind == "yes or no" and value in ("true", "false"):
        return value == "true"
    return int(value) if kind == "notes" and value in ("3", "4") else value
