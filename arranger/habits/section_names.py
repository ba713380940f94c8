"""List what sections are called in many languages, by what they are; and find names that are cut short with a dot.

Common practice of song books and typed sheets in each language; no source lists them. In
the tables `-` stands where a blank, a hyphen or nothing may, `_` for a blank.
"""

from __future__ import annotations

import re
from functools import cache

from arranger.habits.unknown_lines import SECTION_NAMES

# What is sung to other words each time.
_VERSES = (
    "verse verses versi verso vers strophe strophen couplet couplets estrofa estrofe estrofas estrofes strofa strofe "
    "strofă strofy copla cobla sloka versszak zwrotka kuplet kuplett kuplit säkeistö kitica salm pants posmas pennill "
    "véarsa vearsa rann erindi kıta bait phiên-khúc куплет строфа вірш κουπλέ κουπλε στροφή στροφη aメロ 主歌 "
    "1절 2절 3절 4절 1番 2番 3番 "
    "bertsoa"
)
# What comes again with its words.
_REFRAINS = (
    "chorus choruses refrain refrains refrén refren refrenul refrein refräng refrängen refrenget refreng refrão refrán "
    "refrengo kehrvers coro estribillo ritornello omkvæd omkvædet kertosäe tornada pripjev odpev priedainis "
    "piedziedājums "
    "refrään cytgan curfá sèist séist viðlag nakarat reff điệp-khúc đk kiitikio koro lelo припев приспів рефрен "
    "припјев "
    "ρεφρέν ρεφρεν サビ 大サビ 副歌 후렴 פזמון"
)
# What is played, and not sung.
_PLAYED = (
    "intro introduction introdução introducción introducció introduzione introducere instrumental instrumental_break "
    "instrumental_section interlude interludio interlúdio solo solos outro break breakdown turn-around riff vorspiel "
    "zwischenspiel nachspiel tussenspel voorspel naspel förspel mellanspel efterspel forspill forspil mellomspill "
    "etterspill "
    "mellemspil efterspil intermedio intermède intermezzo prélude préambule wstęp przejście přehrávka předehra "
    "predohra "
    "mezihra medzihra dohra alkusoitto väliosa välisoitto loppusoitto bevezető átvezető közjáték befejezés eelmäng "
    "vahemäng "
    "giriş ara ara_müzik ara_müziği ara_nağme pembuka penutup dạo-đầu dạo-giữa nhạc-dạo ad-lib вступление вступ "
    "проигрыш "
    "програш соло увод εισαγωγή εισαγωγη σόλο イントロ 間奏 アウトロ 前奏 间奏 尾奏 전주 간주 후주"
)
_ALSO_PLAYED = "musik music müzik музыка"  # where chords stand behind it: else it says who made the music
# Everything else.
_OTHERS = (
    "pre-chorus post-chorus mid-8 middle middle-8 middle-eight bridge tag coda ending vamp link end hook "
    "head build build-up opening finale part section theme strain drop channel lift schluss pont puente "
    "ponte brug stick pré-refrain pre-refrain pré-refrão pre-refrão pre-estribillo pre-coro "
    "pre-ritornello parte primeira_parte segunda_parte terceira_parte quarta_parte final inciso special "
    "slot loppu most bro bridž c-stykke c-del köprü híd кода мост бридж γέφυρα γεφυρα φινάλε bメロ cメロ ブリッジ "
    "桥段 橋段 브릿지"
)
SHORTEST = 3  # letters of a name that is cut short; fewer may be anything
_OTHER_MEANINGS = frozenset(("rit", "rall", "fin", "sol", "ver", "par", "men", "bre"))  # cut short of other words


def _pattern(names: str) -> str:
    texts = sorted((re.escape(name) for name in names.split()), key=len, reverse=True)
    return "|".join(text.replace("_", " ").replace(r"\-", "[- ]?") for text in texts)


VERSES = _pattern(_VERSES)
NAMES = _pattern(" ".join((_PLAYED, _REFRAINS, _VERSES, _OTHERS, *sorted(SECTION_NAMES))))


@cache
def _kind(names: str) -> re.Pattern[str]:
    return re.compile(f"(?:{_pattern(names)})", re.IGNORECASE)


def is_refrain(base: str) -> bool:
    """Return whether a name without its number is one of what comes again with its words.

    >>> is_refrain("chorus"), is_refrain("припев"), is_refrain("verse")
    (True, True, False)
    """
    return _kind(_REFRAINS).fullmatch(base) is not None


def is_played(base: str) -> bool:
    """Return whether a name without its number is one of what is played, and not sung."""
    return _kind(f"{_PLAYED} {_ALSO_PLAYED}").fullmatch(base) is not None


@cache
def cut_short(text: str) -> str:
    """Return the name that is meant by one cut short, without its dot; empty where none is, or several kinds are.

    Of several names of one kind, the shortest is meant.

    >>> cut_short("omkv"), cut_short("säk"), cut_short("pr")
    ('omkvæd', 'säkeistö', '')
    """
    short = text.casefold()
    if short in _OTHER_MEANINGS or len(short) < SHORTEST or not short.isalpha():
        return ""
    kinds = []
    for names in (_VERSES, _REFRAINS, _PLAYED, _OTHERS):
        found = [name for name in names.split() if name.startswith(short) and len(name) > len(short)]
        kinds += [min(found, key=len)] if found and "-" not in found[0] else []
    return kinds[0] if len(kinds) == 1 else ""
