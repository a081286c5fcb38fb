"""Work as people write it: "cleaned head, greased rails" named by the procedures of the book."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.written.forms import is_blank, tidy, word_set
from collection.errors import fold


class Work(NamedTuple):
    """One piece of work: the words as written, the procedure they name or None, a doubt as a sentence or ""."""

    words: str
    procedure: str | None
    doubt: str = ""


# What is done, and to what, in the forms that people write; the first word of a row stands for all of it.
_VERBS = (
    "clean cleaned cleaning cleans cleanup wiped wipe wiping washed gereinigt reinigen reinigung geputzt",
    (
        "lube lubed lubing re-lube relube relubed re-lubed relubricated re-lubricated lubricated lubricate"
        " lubrication grease greased greasing regreased re-greased oil oiled oiling"
        " gefettet geschmiert geölt fetten schmieren"
    ),
    (
        "replace replaced replacing replacement change changed changing swapped swap new fitted fit renewed renew"
        " exchanged getauscht gewechselt ersetzt erneuert neuer neue neues tauschen wechseln"
    ),
    "set setting adjusted adjust adjusting adjustment trimmed trim tweaked eingestellt einstellen",
    (
        "check checked checking inspected inspect inspection tested test testing verified measured measure geprüft"
        " kontrolliert gemessen prüfen"
    ),
    "align aligned aligning alignment realigned re-aligned realign justiert justage",
    "dust dusted dusting entstaubt",
    "store stored storing eingelagert",
)
_THINGS = (
    "head heads kopf köpfe tonkopf schreibkopf",
    "rail rails rods guides guide führung führungen schiene schienen",
    "belt belts riemen antriebsriemen",
    "speed rpm drehzahl",
    "capacitor capacitors caps cap kondensatoren elkos",
    "stop anschlag",
    "arrival ankunft",
    "spindle spindel",
)
_STEMS = {form: forms.split()[0] for forms in (*_VERBS, *_THINGS) for form in forms.split()}
_VERB_STEMS = frozenset(forms.split()[0] for forms in _VERBS)
_PHRASES = (
    (re.compile(r"\btrack[\s-]*(?:zero|00|0)\b"), "track-zero"),
    (re.compile(r"\bre[\s-]+(?=lube|grease|align|lubricat)"), "re"),
    (re.compile(r"\b(?:blew|blown|blow)\s+out\b"), "dust out"),
    (re.compile(r"\bpower supply rails?\b|\bvoltages?\b"), "rail"),
)
_FILLERS = word_set(
    "and the a an of both all again with in on to from up its it und der die das den beide mit am im then also "
    "drive unit to"
)
_UNDONE = re.compile(
    r"\b(?:not|no|never|didn't|did not|needs?|todo|to do|must|should|pending|later|skipped|next time|nicht|"
    r"kein|muss|braucht|noch)\b|n't\b"
)
_VERB_ALONE = 0.4  # "cleaned" fits every procedure that cleans as well as any other
_SPLIT = re.compile(r"\s*(?:[,;\n]|\.(?=\s|$)|\s\+\s|\s&\s|/(?=\s)|\s-\s)\s*")
_AND = re.compile(r"\s+(?:and|und|then)\s+", re.IGNORECASE)


def split_work(text: str, procedures: Sequence[str]) -> list[Work]:
    """Return the pieces of work that a cell lists, each with the procedure of the book that it names.

    A piece that has every word of a procedure's name, whatever their forms, names it for sure. One that has some of
    them, and no other verb, names it with a doubt that says what is missing; one that fits several, none of them, or
    says that something was not done, names none.
    """
    named = {procedure: _stems(procedure) for procedure in procedures}
    return [work for piece, verbs in _pieces(text, frozenset(named.values())) for work in _named(piece, verbs, named)]


@lru_cache(maxsize=4096)
def _stems(text: str) -> frozenset[str]:
    """Return the words of a text in one form each, without those that tell nothing."""
    folded = fold(text)
    for pattern, instead in _PHRASES:
        folded = pattern.sub(instead, folded)
    words = re.findall(r"[^\W_]+(?:-[^\W_]+)*", folded)
    stems = {_STEMS.get(word) or _plain(word) for word in words if word not in _FILLERS}
    return frozenset(stems | ({"spindle"} if "speed" in stems else set()))


def _plain(word: str) -> str:
    """Return a word of no table without the endings of English verbs and plurals."""
    for ending, instead in (("ied", "y"), ("ies", "y"), ("ing", ""), ("ed", ""), ("s", "")):
        if word.endswith(ending) and len(word) - len(ending) >= 4 and not word.endswith("ss"):
            return word[: -len(ending)] + instead
    return word


def _pieces(text: str, whole: frozenset[frozenset[str]]) -> list[tuple[str, frozenset[str]]]:
    """Return the pieces of a cell with the verbs each goes by: "cleaned head and rails" cleans both.

    whole: the words of procedures; what has just these is not parted at "and".
    """
    parts = [part for line in text.splitlines() for part in _SPLIT.split(tidy(line)) if not is_blank(part)]
    pieces: list[tuple[str, frozenset[str]]] = []
    waiting = ""
    last: frozenset[str] = frozenset()
    for part in parts:
        for at, piece in enumerate([part] if _stems(part) in whole else _AND.split(part)):
            verbs, things = _sorted_stems(piece)
            if verbs and not things and piece != parts[-1]:
                waiting = f"{waiting}, {piece}" if waiting else piece
                continue
            joined = f"{waiting} and {piece}" if waiting else piece
            own = _sorted_stems(joined)[0]
            pieces.append((joined, own or (last if at else frozenset())))
            waiting, last = "", own or last
    return pieces + ([(waiting, frozenset())] if waiting else [])


def _sorted_stems(text: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return the verbs and the other words of a text."""
    stems = _stems(text)
    return stems & _VERB_STEMS, stems - _VERB_STEMS


def _named(piece: str, verbs: frozenset[str], named: dict[str, frozenset[str]]) -> list[Work]:
    """Return the work with the procedure that fits it best, or with each that it names in full."""
    stems = _stems(piece) | verbs
    scores = {procedure: _fit(stems, wanted) for procedure, wanted in named.items()}
    best = max(scores.values(), default=0.0)
    fitting = [procedure for procedure, score in scores.items() if score == best and best > 0]
    if fitting and _UNDONE.search(fold(piece)):
        return [Work(piece, None, f'"{piece}" seems to say what was not done')]
    if not fitting:
        return [Work(piece, None)]
    if best == 1:
        whole = [name for name in fitting if not any(named[name] < named[other] for other in fitting)]
        return [Work(piece, name) for name in whole]
    if len(fitting) > 1:
        return [Work(piece, None, f'"{piece}" may be {" or ".join(fitting)}')]
    missing = " and ".join(_said_in(fitting[0], named[fitting[0]] - stems))
    return [Work(piece, fitting[0], f'"{piece}" is read as {fitting[0]}, though it does not say {missing}')]


def _fit(stems: frozenset[str], wanted: frozenset[str]) -> float:
    """Return how much of a procedure's name a piece says, from 0 to 1; 0 where it speaks of other work."""
    if not wanted:
        return 0.0
    shared, verbs = stems & wanted, stems & _VERB_STEMS
    said = len(shared) / len(wanted)
    if said == 1:
        return said
    other_verb = verbs and not verbs & wanted
    things = stems - _VERB_STEMS
    other_thing = things and not (things & wanted if verbs else things <= wanted)
    if other_verb or other_thing or not shared:
        return 0.0
    return said if things else _VERB_ALONE


def _said_in(procedure: str, stems: frozenset[str]) -> list[str]:
    """Return the words of a procedure's name that have these stems, in its order."""
    words = [word for word in re.findall(r"[^\W_]+(?:-[^\W_]+)*", procedure) if fold(word) not in _FILLERS]
    return [f'"{word}"' for word in words if _stems(word) & stems]
