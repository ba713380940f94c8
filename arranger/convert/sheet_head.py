"""Read the lines above the first section: title, people, rights, order, facts; and find the song's key."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.model import Remark, SheetFacts, SheetLine
from arranger.habits.calls import order_of
from arranger.habits.free_form import SIGNS, facts_in, tempo_of_manner
from arranger.song.model import Capo, Meter
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.keyfinding import key_of_chords
from arranger.theory.pitch import NoteName

_SMALL_WORDS = ("a", "an", "and", "at", "but", "by", "for", "from", "in", "into", "nor", "of", "on", "or", "the", "to")
_SMALL_IN_NAMES = ("and", "the", "van", "von", "de", "der", "trad", "arr.", "trad.")
_TEXT = (
    r"(?:words|lyrics|text|tekst|tex\.|worte?|wor\.|par\.|paroles|letras?|parole|testo|söz(?:ler)?|słowa|sł\.|слова|сл\.|sanat|san\.|sanoitus|"
    r"szöveg|"
    r"lirik|lời|versuri|στίχοι|besedilo|lletra)"
)
_TUNE = (
    r"(?:music|melody|tune|melodi[ea]?|mel\.|weise|mu[sz]\.|musik|muziek|musikk|muzyka|musique|música|musica|müzik|beste|музыка|музика|"
    r"муз\.|"
    r"säv(?:el|ellys)?\.?|zene|nhạc|muzic[ăa]|μουσική|glazba|glasba|hudba)"
)
_AND = r"\s*(?:and|&|\+|/|,|-|–|und|et|y|och|og|en|e|i|ve|ja|és|și|και|и|і|та|a|dan)\s*"
_BOTH = rf"{_TEXT}{_AND}{_TUNE}|{_TUNE}{_AND}{_TEXT}"
_WHO = (
    r"written(?: and composed)?|song|author|songwriters?|writers?|by|composed and written|T\+M|T/M|T & M|aut(?:or|"
    r"eur)e?[is]*|"
    r"composi(?:ção|ción|tores)|автор[ы]?|pencipta|cipt(?:aan)?\.?"
)
_PEOPLE = (
    (("words", "music"), rf"(?:{_BOTH}|{_WHO})"),
    (("words",), rf"(?:{_TEXT}|lyricist|T)"),
    (("music",), rf"(?:{_TUNE}|composer|composed|M)"),
)
LONGEST_TITLE = 8  # words of a line that may be a title
LONGEST_NAMES = 80  # characters of who made a song; a longer text is something else
_LABEL = r"\s*(?:by\b\s*[:=]?|[:=]|(?<=\.)(?=\s))\s*(?P<who>\S.*)"
_LABEL_OF_PEOPLE = re.compile("|".join(label + _LABEL for _, label in _PEOPLE).replace("?P<who>", ""), re.I)
_BY = re.compile(r"(?:di|von|par|por|de|av|af|door|przez|od|от|by)\s+(?=[^\W\d_])", re.I)  # a name stands behind
_DECORATION = re.compile(r"^[~*=_•·<>\-–—\s]{2,}|[~*=_•·<>\-–—\s]{2,}$")  # around a title
_KEY_ALONE = re.compile(r"[A-H](?:#|b|♯|♭|is|es)?(?:m|[ \-]?(?:minor|major|moll|dur))?")
_SUBJECT = re.compile(r"(?:subject|betreff)\s?:\s*(?:(?:re|fwd?|aw)\s?:\s*)*(\S.*)", re.I)  # of a mail
_OF_BOTH = re.compile(f"(?:{_BOTH}){_LABEL}".replace("?P<who>", ""), re.I)
_NUMBER = re.compile(r"(?:no\.?\s?|#)?[0-9]{1,3}[.)]\s+(?=\D)", re.I)  # of a song in a book or a list
_TITLE = re.compile(
    r"(?:song(?: title)?|title|titel|name|titolo|titre|título|tytuł|název|názov|tittel|cím|naslov|titlu|judul|başlık|"
    r"название|назва|τίτλος|曲名)\s*[:=]\s*(?P<title>\S.*)",
    re.I,
)
_RIGHTS = re.compile(
    r"(?:copyright\b|\(c\)\s|©|all rights|(?:words|text|music).{0,30}(?:©|\(c\)\s)|ccli\b.*[0-9]|"
    r"used by permission)\s*.*",
    re.I,
)
_TRAIL = re.compile(r".*\s[»›]\s.*|(?:[^>]+\s>\s){2,}[^>]+")  # where a web page stands: Home » Folk » Apple Cart
_EMPHASIS = re.compile(r"(\*{1,3}|_{1,3})(?=\S)([^*_]+)(?<=\S)\1")  # **Bb**
_LETTERS = re.compile(r"play(?:ed)?:?\s+(?P<order>[A-H](?:\s?x[0-9])?(?:[\s,]+[A-H](?:\s?x[0-9])?)+)\.?", re.I)  # AABB
# At the end of a line: the number of a page.
PAGE = re.compile(
    r"(?:^|\s{2,})(?:-\s?[0-9]{1,3}\s?-|(?:page|seite|p\.)\s?[0-9]{1,3}(?:\s?(?:of|/|von)\s?[0-9]{1,3})?)\s*$", re.I
)
# What a browser prints at the edge of a page: when, and from where.
PRINTED = re.compile(
    r"\s*(?:[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{2,4},?\s+[0-9]{1,2}:[0-9]{2}\b|(?:file|https?)://\S).*", re.I
)
_MAIL = re.compile(r"(?:from|to|cc|date|sent|subject|betreff|von|an|re|fwd?)\s?:\s", re.I)  # the head of a mail
_ORDER = re.compile(
    r"(?:order|structure|form|road ?map|arrangement|sequence|ablauf|song order|play order)\s*[:=]\s*(?P<order>\S.*)",
    re.I,
)
_GAP = re.compile(r"\s{2,}|\s*[|;•·]\s*|\s*,\s*(?=\w+\s*(?:by|:))")


def head_of(lines: Iterable[SheetLine]) -> tuple[SheetFacts, tuple[Remark, ...]]:
    """Read the lines above the first section. What is no fact is a note."""
    facts = SheetFacts()
    notes: list[Remark] = []
    plain: list[tuple[int, str]] = []  # what has no label
    for line in lines:
        text = line.text.strip()
        if text.startswith("<") and text.endswith(">"):  # <Key: A>
            text = text[1:-1].strip()
        if not text.strip("-=_*~#. "):
            continue
        page = PAGE.search(text)
        if page is not None:
            notes.append(Remark("left", line.number, page[0].strip()))
            text = text[: page.start()].strip()
        if (
            _MAIL.match(text)
            or PRINTED.fullmatch(text)
            or (_TRAIL.fullmatch(text) and not states_order(text))
            or (facts.rights and _RIGHTS.fullmatch(text))
            or (text.startswith("{") and text.endswith("}"))
        ):
            notes.append(Remark("left", line.number, text))
        elif text:
            facts, rests = _labelled(text, facts, line.number)
            plain += [(line.number, rest) for rest in rests]
    subject = next((m[1] for note in notes if (m := _SUBJECT.fullmatch(note.text)) is not None), "")
    if not facts.title and not plain and subject:
        facts = _titled(subject, facts)
    title = -1
    if not facts.title and plain:  # the first of these lines that is no greeting and no sentence
        short = (i for i, (_, text) in enumerate(plain) if len(text.split()) <= LONGEST_TITLE)
        good = [i for i in short if not plain[i][1].endswith((",", ".", ":", ";"))]
        title = next((i for i in good if good[0] and plain[i][1].isupper()), next(iter(good), 0))  # under a greeting
        counted = _NUMBER.match(plain[title][1])
        notes += [Remark("left", plain[title][0], counted[0].strip())] if counted is not None else []
        facts = _titled(plain[title][1][counted.end() if counted is not None else 0 :], facts)
    for index, (number, text) in enumerate(plain):
        by = _BY.match(_unwrapped(text))
        named = _unwrapped(text)[by.end() :] if by is not None else _unwrapped(text)
        if index == title + 1 and not facts.words and not facts.music and _name_like(named):  # who made the song
            who = _uncapped(named)
            facts = replace(facts, words=who, music=who)
            notes.append(Remark("check", number, f"`{who}` is taken for who wrote words and music"))
        elif index != title and not facts.tempo and tempo_of_manner(text):
            facts = replace(facts, tempo=tempo_of_manner(text))
            notes.append(Remark("check", number, f"`{text}` is taken for the tempo"))
        elif index != title and _ORDER.fullmatch(text):
            notes.append(Remark("check", number, f"the roadmap is the sheet's own order of sections, not `{text}`"))
        elif index != title:
            notes.append(Remark("left", number, text))
    return facts, tuple(sorted(notes, key=lambda note: note.line))


def states_order(text: str) -> bool:
    """Return whether a line states the playing order: `Form: V1, C, V2, C`."""
    match = _ORDER.fullmatch(text.strip()) or _LETTERS.fullmatch(text.strip())
    return match is not None and bool(order_of(match["order"]))


def states_rights(text: str) -> bool:
    """Return whether a line says whose rights a song is: `© 2011 The Hedge Singers`."""
    return _RIGHTS.fullmatch(text.strip()) is not None


def _labelled(text: str, facts: SheetFacts, line: int) -> tuple[SheetFacts, tuple[str, ...]]:
    """Read one line of the head; return the facts and what is left of it."""
    text = re.sub(r"([:=])\s+", r"\1 ", _EMPHASIS.sub(r"\2", text))
    text = text.strip("*_= \t") if not text.startswith("#") else text.lstrip("# \t")
    title = _TITLE.fullmatch(text)
    if title is not None and not facts.title:
        facts, rest = eat(title["title"], facts, line)  # facts may stand behind it
        return (_titled(rest, facts) if rest else replace(facts, title=title["title"])), ()
    order = _ORDER.fullmatch(text) or _LETTERS.fullmatch(text)
    if order is not None:
        steps = order_of(order["order"])
        if not steps:
            return facts, (text,)
        return replace(facts, order=steps, order_line=line, order_text=order["order"]), ()
    if _RIGHTS.fullmatch(text) and not facts.rights:
        return replace(facts, rights=text), ()
    parts = [part.strip(SIGNS) for part in _GAP.split(text)]
    slashed = re.split(r"\s*[/,;]\s*|\s+[-–]\s+", _unwrapped(text))
    if len(slashed) > 1 and all(_LABEL_OF_PEOPLE.match(part) for part in slashed):
        parts = slashed  # words: Nell Tarrant / music: Ivo Quill
    dashed = re.split(r"\s+[-–—]{1,2}\s+", text)
    if (
        len(parts) == 1
        and not _OF_BOTH.match(text)
        and any(_people(part, facts) or facts_in(part)[0] for part in dashed[1:])
    ):
        parts = dashed
    if len(parts) > 1:  # several things on one line: each is read by itself
        rests: list[str] = []
        for part in parts:
            facts, found = _labelled(part, facts, line)
            rests += found
        if len(rests) < len(parts) and facts.key is None:  # Em - tempo 120 - 4/4
            keys = [rest for rest in rests if _KEY_ALONE.fullmatch(rest)]
            if len(keys) == 1:
                facts, _ = eat(f"Key: {keys[0]}", facts, line)
                rests.remove(keys[0])
        return facts, tuple(rests)
    people = _people(text, facts)
    if people is not None:
        return people, ()
    facts, rest = eat(text, facts, line)
    people = _people(rest, facts) if rest != text else None
    return (people, ()) if people is not None else (facts, (rest,) if rest else ())


def eat(text: str, facts: SheetFacts, line: int) -> tuple[SheetFacts, str]:
    """Return the facts with the key, capo, tempo, meter and feel of a line, and what is left of its text.

    >>> eat("Slow Boats  (Key: G, 3/4, 72 bpm)", SheetFacts(), 1)[1]
    'Slow Boats'
    """
    found, rest = facts_in(text, [n for n in ("key", "capo", "shapes", "tempo", "meter", "feel") if getattr(facts, n)])
    if "meter" in found:
        found["meter"] = Meter(*found["meter"])
    return replace(facts, **found, key_line=line if "key" in found else facts.key_line), rest


def _titled(text: str, facts: SheetFacts) -> SheetFacts:
    """Take a title with who made it behind it: `Slow Boats - Nell Tarrant`, `Slow Boats (Nell Tarrant)`."""
    text = _uncapped(_DECORATION.sub("", text).strip('"“”„ '))
    behind = re.fullmatch(r"(.+?)\s*[(\[]([^()\[\]]+)[)\]]", text)
    if behind is not None and (people := _people(behind[2], facts)) is not None:
        return _titled(behind[1], people)
    match = re.fullmatch(r"(.+?)(?:\s+[-–—]{1,2}\s+(?:by\s+)?|,?\s+by\s+|\s*\((?:by\s+)?)([^()]+?)\)?", text)
    if match is not None and _name_like(match[2]) and not facts.words and not facts.music:
        return replace(facts, title=match[1].strip('"“”„ '), words=match[2].strip(), music=match[2].strip())
    return replace(facts, title=text)


def _people(text: str, facts: SheetFacts) -> SheetFacts | None:
    """Read who made words and music; None where a line does not say it."""
    bare = _unwrapped(text.strip())
    if re.match(r"tune\s*:", bare, re.I) and bare.partition(":")[2].isupper():
        return None  # the name that a hymn's tune has, and nobody's
    for fields, label in _PEOPLE:
        match = re.fullmatch(label + _LABEL, bare, re.I)
        if match is None and len(fields) == 2:
            match = re.fullmatch(r"by\s+(?P<who>\S.*)", bare, re.I)
        if match is not None and len(match["who"]) <= LONGEST_NAMES:
            who = _uncapped(re.sub(r"^by\s+", "", match["who"].strip(), flags=re.I))
            new = replace(
                facts,
                words=facts.words or who if "words" in fields else facts.words,
                music=facts.music or who if "music" in fields else facts.music,
            )
            return None if new == facts else new
    return None


def _unwrapped(text: str) -> str:
    return text[1:-1].strip() if text.startswith("(") and text.endswith(")") else text


def _uncapped(text: str) -> str:
    """Return what is typed all in capitals as titles and names are printed.

    >>> _uncapped("COUNT THE ROPES"), _uncapped("Count me")
    ('Count the Ropes', 'Count me')
    """
    if not text.isupper() or " " not in text:
        return text
    return " ".join(w if w in _SMALL_WORDS and i else w.capitalize() for i, w in enumerate(text.lower().split()))


def _name_like(text: str) -> bool:
    """Return whether a text looks like people's names: a few words with capitals, no sentence."""
    words = [w for w in re.split(r"[\s,&/+]+|\band\b", text.strip("()")) if w]
    if not 1 < len(words) <= 8 or any(c.isdigit() or c == ":" for c in text) or text.endswith((".", "!", "?", ":")):
        return False
    return all(w[:1].isupper() or w.lower() in _SMALL_IN_NAMES for w in words)


_FOUND = "found from the chords (Krumhansl and Schmuckler's method), a guess"
_LAST_RESORT = Key(NoteName("C"))  # of a sheet whose chords name no key (none but N.C.)


def keys_of(facts: SheetFacts, chords: Sequence[tuple[Chord, Fraction]]) -> tuple[Key, Capo | None, tuple[Remark, ...]]:
    """Return the key that sounds, the capo with the key of its shapes, and what is to be said of them."""
    guess = key_of_chords(chords) or _LAST_RESORT
    stated = in_mode(facts.key, guess) if facts.key is not None else None
    if not facts.capo:
        if stated is not None and stated.minor and not guess.minor and stated.tonic == guess.tonic:
            # A small letter may be the typist's, and no minor key.
            said = f"the sheet's key reads as {stated.words}, its chords are in {guess.words}"
            return guess, None, (Remark("check", facts.key_line, said),)
        if stated is not None:
            return stated, None, ()
        return guess, None, (Remark("assumed", 0, f"the key is {guess.words}: {_FOUND}"),)
    shapes = guess
    notes: tuple[Remark, ...] = ()
    if facts.shapes is not None:
        shapes = in_mode(facts.shapes, guess)
    elif stated is not None:
        down = moved(stated, -facts.capo)
        # The key may be that of the shapes or the one that sounds: the chords tell which.
        sounding_meant = down.tonic.pitch_class == guess.tonic.pitch_class and down.minor == guess.minor
        shapes = down if sounding_meant else stated
        which = "the key that sounds" if sounding_meant else "the key of the guitarist's shapes"
        notes = (Remark("check", facts.key_line, f"`{stated}` is taken for {which}"),)
    else:
        notes = (Remark("assumed", 0, f"the shapes are in {guess.words}: {_FOUND}"),)
    return moved(shapes, facts.capo), Capo(facts.capo, shapes), notes


def in_mode(stated: Key, guess: Key) -> Key:
    """Take a key that was named by its letter for minor where the chords are minor."""
    if not stated.minor and guess.minor and stated.tonic.pitch_class == guess.tonic.pitch_class:
        minor = Key(stated.tonic, True)
        return minor if minor.exists else minor.enharmonic() or stated
    return stated


def moved(key: Key, semitones: int) -> Key:
    """Return a key so many semitones higher; of two names the one with fewer signs."""
    pitch = (key.tonic.pitch_class + semitones) % 12
    names = [NoteName.at_fifths(place) for place in range(-8, 12)]
    keys = [Key(n, key.minor) for n in names if n.pitch_class == pitch]
    return min((k for k in keys if k.exists), key=lambda k: (abs(k.signature), -k.signature))
