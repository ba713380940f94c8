"""List what sections are called in many languages, by what they are. Patterns, to be matched without case.

Common practice of song books and typed sheets in each language; no source lists them.
"""

from __future__ import annotations

import re
from functools import cache

from arranger.habits.unknown_lines import SECTION_NAMES

# What is sung to other words each time.
VERSES = (
    "verses?|vers[io]|vers|strophen?|couplets?|estrof[ae]s?|strof[aăey]|copla|cobla|sloka|versszak|zwrotka|kupl[ei]t|"
    "säkeistö|kitica|salm|pants|posmas|pennill|v[ée]arsa|rann|erindi|kıta|bait|phiên khúc|куплет|строфа|вірш|"
    "κουπλ[έε]|στροφ[ήη]|[Aa]メロ|主歌|[1-9]절|[1-9]番|bertsoa"
)
# What comes again with its words.
_REFRAINS = (
    "chorus(?:es)?|refrains?|refr[eé]n(?:ul)?|refrein|refräng(?:en)?|refrenget|refreng|refrão|refrán|refrengo|kehrvers|"
    "coro|estribillo|ritornello|omkvæd(?:et)?|kertosäe|tornada|pripjev|odpev|priedainis|piedziedājums|refrään|cytgan|"
    "curfá|s[èe]ist|viðlag|nakarat|reff|điệp khúc|đk|kiitikio|koro|lelo|припев|приспів|рефрен|припјев|"
    "ρεφρ[έε]ν|サビ|大サビ|副歌|후렴|פזמון"
)
# What is played, and not sung.
_PLAYED = (
    "intro|introduction|introdu[cç](?:ão|ção|ción|cció)|intro[dt]u[cz]ione|introducere|"
    "instrumental(?: break| section)?|"
    "interlude|interludio|interlúdio|solos?|outro|break(?:down)?|turn[- ]?around|riff|vorspiel|zwischenspiel|nachspiel|"
    "tussenspel|voorspel|naspel|förspel|mellanspel|efterspel|forspill?|mellomspill|etterspill|mellemspil|efterspil|"
    "intermedio|interm[eè]de|intermezzo|prélude|préambule|wstęp|przejście|přehrávka|předehra|predohra|mezihra|medzihra|"
    "dohra|alkusoitto|väliosa|välisoitto|loppusoitto|bevezető|átvezető|közjáték|befejezés|eelmäng|vahemäng|giriş|"
    "ara(?: müzi[ğk]i?)?|ara nağme|pembuka|penutup|dạo đầu|dạo giữa|nhạc dạo|ad[- ]?lib|"
    "вступление|вступ|проигрыш|програш|соло|увод|εισαγωγ[ήη]|σ[όο]λο|イントロ|間奏|アウトロ|前奏|间奏|尾奏|전주|간주|후주"
)
_ALSO_PLAYED = "musi[ck]|müzik|музыка"  # where chords stand behind it: else it says who made the music
# Everything else.
_OTHERS = (
    "pre[- ]?chorus|post[- ]?chorus|middle(?: ?8| eight)?|bridge|tag|coda|ending|vamp|link|end|hook|head|"
    "build(?:[- ]?up)?|opening|finale|part|section|theme|strain|drop|channel|lift|schluss|pont|puente|ponte|brug|stick|"
    "pr[ée][- ]?(?:refrain|refrão|estribillo|coro|ritornello)|parte|(?:primeira|segunda|terceira|quarta) parte|final|"
    "inciso|special|slot|loppu|most|bro|bridž|c-stykke|c-del|köprü|híd|кода|мост|бридж|γ[έε]φυρα|φιν[άα]λε|"
    "[BC]メロ|ブリッジ|桥段|橋段|브릿지"
)
NAMES = "|".join((_PLAYED, _REFRAINS, VERSES, _OTHERS, *sorted(SECTION_NAMES)))


@cache
def _kind(names: str) -> re.Pattern[str]:
    return re.compile(f"(?:{names})", re.IGNORECASE)


def is_refrain(base: str) -> bool:
    """Return whether a name without its number is one of what comes again with its words.

    >>> is_refrain("chorus"), is_refrain("припев"), is_refrain("verse")
    (True, True, False)
    """
    return _kind(_REFRAINS).fullmatch(base) is not None


def is_played(base: str) -> bool:
    """Return whether a name without its number is one of what is played, and not sung."""
    return _kind(f"{_PLAYED}|{_ALSO_PLAYED}").fullmatch(base) is not None


def is_verse(base: str) -> bool:
    """Return whether a name without its number is one of what is sung to other words each time."""
    return _kind(VERSES).fullmatch(base) is not None
