"""Read what calls sections again, and orders in which they are played: `Repeat Chorus x2`, `Chorus again`, `V1, C`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from arranger.habits.headings import COUNT, SHORT_FORMS, SPARE_LETTERS, Heading, heading_of, own_name, times_said
from arranger.habits.signs import times_in_words, times_of

# Words before the name of what is played again, in many languages (common practice of typed sheets).
_BEFORE = (
    r"repeat|rpt\.?|(?:go )?back to|go to|return to|sing|play|wdh\.?|wiederholung|wiederhole[nr]?|nochmals?|"
    r"noch ?einmal|"
    r"zurück zu[mr]?|zu[mr]|reprise|reprendre|répéte[rz]|retour|refaire|au|à|repet(?:ir|ição|i[rt]e|e)|(?:se )?repite|"
    r"volver|vuelve|volta[r]?|al|ripet(?:ere|i|e)|si ripete|torna(?:re)?|herhaal|herhalen|herhaling|terug naar|"
    r"nog (?:een keer|eens)|naar|upprepa|gjenta|gjentas|gentag|tillbaka till|tilba[kg]e til|till?|kertaa|toista|"
    r"takaisin|"
    r"powt(?:[óo]rz(?:yć|enie)?|\.)|opakov(?:at|ání)|opakuj(?:te|eme)?|zpět na|повтор(?:ить|яем|ение|ити)?|"
    r"kembali|ulang(?:i|an)?|balik|tekrar|lặp lại|hát lại|trở lại|ismétlés|ismételd|vissza|обратно"
)
_ARTICLES = (
    r"(?:\s*(?:\b(?:the|from|to|le|la|les|el|los|den|de[rs]?|die|das|dem|du|do|da|del|della|il|lo|het|o|a|al|ao|au|"
    r"para|à|ke|"
    r"на|к|з)\b|\bl['’]|:))*"
)
# Words behind it.
_BEHIND = (
    r"again|once more|repeats?|noch ?einmal|nochmals?|wdh\.?|wiederhol(?:en|ung)|herhalen|herhaling|nogmaals|"
    r"nog (?:een keer|eens)|igjen|igen|en gång till|en gang til|otra vez|de nuevo|(?:se )?repite|"
    r"encore(?: une fois)?|ancora|"
    r"de novo|mais uma vez|outra vez|jeszcze raz|powt\.?|znovu|ještě jednou|opakovat|ещё раз|еще раз|снова|повтор|lagi|"
    r"tekrar|uudestaan|uudelleen|ismét"
)
_AGAIN = re.compile(
    rf"[\[(*\-–—\s]*(?:(?:then|and)\s+)?(?:{_BEFORE})(?![^\W\d_]){_ARTICLES}\s*(?P<what>.*)", re.IGNORECASE
)
_AGAIN_AFTER = re.compile(rf"(?P<what>.+?)\s+(?:{_BEHIND})(?![^\W\d_])(?P<rest>.*)", re.IGNORECASE)
_THEN = re.compile(
    r"\s*[,;]?\s*(?:\b(?:and\s+)?(?:then|dann|puis|luego|después|poi|depois|daarna|dan|sedan|så|затем|потом|potem|"
    r"pak|lalu)\b"
    r"|->|→)\s+(?:the\s+)?",
    re.IGNORECASE,
)
_REFERENCE = re.compile(
    r"(?:=|(?:(?:same|chords?)\s+)*(?:over|as|like|on|of|from|wie|to)(?:\s+(?:in|for|over)\b)?)\s*"
    r"(?:the\s+)?(?:chords of (?:the\s+)?)?"
    r"(?P<what>[^,;]+?)(?:\s+chords?)?",
    re.IGNORECASE,
)
_OVER = re.compile(r"(?P<name>[^,;:]{3,30}?)\s+(?P<what>(?:over|on|as|like)\s+.+)", re.IGNORECASE)
MOST_SAID = 3  # words behind a name: `solo over verse`, `chorus to finish`
_ALONE = ("repeat", "rpt")  # they call the section in which they stand
_BETWEEN = re.compile(
    r"\s*(?:[,&+;]|\b(?:and|then|und|dann|et|puis|y|luego|e|poi|en|dan|och|og|i|и|a)\b|->|→)\s*", re.IGNORECASE
)
_BRACKETED = re.compile(r"(?:\[[^\[\]]+\][\s,]*){2,}")
_COUNT_AT_END = re.compile(rf"\s*[-–,]?\s*({COUNT}|[xX×])\s*[\])]*\s*$", re.IGNORECASE)


def called_again(text: str, names: Iterable[str]) -> Heading | None:
    """Return whether a line is one of some names again, with how often: `KERTO x2` of `Kerto`."""
    bare = text.strip("[](){}<>*#:=-–—. ")
    again = re.search(rf"\s*,?\s*\b(?:{_BEHIND})(?![^\W\d_])", bare, re.IGNORECASE)
    bare = bare[: again.start()] + bare[again.end() :].replace(",", " ") if again is not None else bare
    count = _COUNT_AT_END.search(bare)
    times = times_said(count[1]) if count is not None else 0
    bare = bare[: count.start()].strip("[]():. ") if count is not None and times else bare
    bare = f"Part {bare}" if again is not None and re.fullmatch("[A-H]", bare) else bare
    name = next((name for name in names if name.casefold() == bare.casefold()), None)
    return None if name is None else Heading(name, times or 1)


def calls_within(text: str, names: Iterable[str]) -> tuple[Heading, ...]:
    """Return the sections that a remark names, the last one with all of it as a remark; empty where it names none.

    >>> [step.name for step in calls_within("and now the chorus, very softly", ["Verse 1", "Chorus"])]
    ['Chorus']
    """
    known = {name.casefold(): name for name in names}
    pattern = "|".join(re.escape(name) for name in sorted(known, key=len, reverse=True))
    found = [known[match[0]] for match in re.finditer(rf"(?<!\w)(?:{pattern})(?!\w)", text.casefold())] if known else []
    count = re.search(rf"(?<!\w){COUNT}(?!\w)", text, re.IGNORECASE)
    times = times_said(count[0]) if count is not None else 0
    steps = [Heading(name) for name in found]
    return (*steps[:-1], Heading(found[-1], times or 1, text.strip(" ()[]*-–—.:"))) if steps else ()


def again_of(text: str) -> tuple[Heading, ...] | None:
    """Return the sections that a line calls again: `Repeat Chorus x2`, `(Chorus again)`, `repeat`; None where none.

    An empty name is the section in which the line stands.

    >>> again_of("(repeat chorus x2)"), again_of("Sing to the sea")
    ((Heading(name='Chorus', times=2, remark=''),), None)
    """
    line = text.strip().rstrip(".!")
    alone = times_of(line.strip("[]*")) or times_in_words(line.strip("()[]* "))
    if alone:
        return (Heading("", alone),)
    if _BRACKETED.fullmatch(line):
        return _steps(re.findall(r"\[([^\[\]]+)\]", line))
    match = _AGAIN.fullmatch(line) or _AGAIN_AFTER.fullmatch(line)
    if match is None:
        return None
    what = match["what"].strip(" )]*-–—.:")
    if not what:
        return (Heading("", 2),) if line.lower().strip("()[]* -").startswith(_ALONE) else None
    said_of_it = re.fullmatch(r"([^()\[\]]+?)\s*[(\[]([^()\[\]]*[^\W\d_][^()\[\]]*)", what)
    remark = said_of_it[2] if said_of_it is not None and not times_said(said_of_it[2]) else ""
    what = said_of_it[1] if said_of_it is not None and remark else what
    steps = _steps(_BETWEEN.split(what.lstrip("([ ")))
    if steps and remark:  # repeat verse 1 (faster)
        return (*steps[:-1], replace(steps[-1], remark=remark))
    after = match.groupdict().get("rest") or ""
    said = times_said(after.strip(" )]"))
    if steps and said:
        return (*steps[:-1], replace(steps[-1], times=said))
    followed = re.fullmatch(r"\W*(?:and\s+)?then\s+(?:the\s+)?(.+)", after, re.IGNORECASE)
    then = heading_of(followed[1]) if followed is not None else None
    if steps and then is not None:  # Verse 1 again, then Chorus to fade
        return (*steps, replace(then[0], remark=then[1] or then[0].remark))
    if steps and any(c.isalnum() for c in after):
        return (*steps[:-1], replace(steps[-1], remark=after.strip(" )]-–—:,.")))
    return steps


def chain_of(text: str) -> tuple[Heading, ...]:
    """Return sections that are played one after the other: `Chorus, then Chorus again softly`; empty where none are.

    >>> [step.name for step in chain_of("ch x2 then outro")], chain_of("Chorus, then fade")
    (['Chorus', 'Outro'], ())
    """
    parts = _THEN.split(text.strip(" ()[]*.-–—:"))
    if len(parts) < 2:
        return ()
    found: list[Heading] = []
    for part in parts:
        again = again_of(part)
        step = again[-1] if again is not None and len(again) == 1 and again[0].name else _step(part.strip(" ,.;"))
        if step is None and found and (named := heading_of(part)) is not None:
            step = replace(named[0], remark=named[1]) if len(named[1].split()) <= MOST_SAID else None
        over = _OVER.fullmatch(part.strip(" ,.;"))
        if step is None and found and over is not None and reference_of(over["what"]):
            step = Heading(
                own_name(f"[{over['name']}]") or over["name"], remark=over["what"]
            )  # whistle solo over verse
        if step is None or not step.name:
            return ()
        found.append(step)
    return tuple(found)


def _steps(texts: Iterable[str]) -> tuple[Heading, ...] | None:
    """Return some names with how often each; None where one is none."""
    steps = [_step(text) for text in texts]
    return tuple(step for step in steps if step) if all(steps) else None


def _step(text: str) -> Heading | None:
    """Return one name with how often."""
    count = _COUNT_AT_END.search(text)
    times = 0
    if count is not None and count.start() == 0:
        times = times_said(count[1])
        return Heading("", times) if times else None
    if count is not None:
        times = times_said(count[1])
        text = text[: count.start()]
    found = heading_of(text)
    if found is None or found[1]:
        return None
    return replace(found[0], times=times) if times else found[0]


def reference_of(text: str) -> str:
    """Return the section whose chords are meant: `as Verse 1`, `(same chords as the intro)`; empty where none is.

    >>> reference_of("over Verse 1"), reference_of("softly")
    ('Verse 1', '')
    """
    bare = text.strip(" ()[].*-")
    match = _REFERENCE.fullmatch(bare) or re.fullmatch(r"(?:on\s+)?(?:the\s+)?(?P<what>[^,;]+?)\s+chords?", bare, re.I)
    found = heading_of(match["what"]) if match is not None else None
    return found[0].name if found is not None and not found[1] else ""


def order_of(text: str) -> tuple[Heading, ...]:
    """Return a playing order typed in one line: `V1, C, V2, C x2, Bridge`; empty where it is none."""
    parts = [p for p in re.split(r"\s*(?:[,;>→|]|->)\s*|\s+[-–—]\s+", text.strip()) if p]
    if len(parts) == 1:
        parts = text.split()
    if len(parts) == 1:
        parts = re.split("[-–—]", text)
    known = dict(SHORT_FORMS) if "A" in parts else {**SHORT_FORMS, **{c.lower(): n for c, n in SPARE_LETTERS.items()}}
    steps = [_order_step(p, known) for p in parts]
    return tuple(s for s in steps if s) if len(steps) > 1 and all(steps) else ()


def _order_step(text: str, short: Mapping[str, str]) -> Heading | None:
    bare = text.strip(" .")
    step = _step(bare)
    if step is not None and step.name:
        return step
    match = re.fullmatch(rf"([A-Za-z]{{1,4}})\.?\s?([0-9]{{0,2}})\s*({COUNT})?", bare)
    name = short.get(match[1].lower()) if match else None
    if match is not None and name is None and re.fullmatch("[A-H]", match[1]):
        name = f"Part {match[1]}"
    if match is None or name is None:
        return None
    return Heading(f"{name} {match[2]}".strip(), times_said(match[3] or "") or 1)
