"""Lines that a person could type, of every kind of act, with blanks to be filled from names that often meet.

The names are those of the bench (`tests/support/bench.py`) and of what `FIRST` adds to it; some are in the book only
after another line made them, and some days lie in the future, so that refusals are among the answers too.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Mapping, Sequence

from tests.support.bench import BELT, IPA, SWAB

# What a book of random acts begins with, besides the bench: something of each kind that acts can be about.
FIRST = """
location add bench
location add attic
damage add D2 dented --on 2026-01-20
loan reserve D1 --to "Ilse Vanterpool" --from 2026-05-01 --until 2026-05-05
safety add P1 pass --by "Ilse Vanterpool" --on 2026-02-01
unit dispose D9 --how scrapped --reason worn --on 2026-02-02
person add "Oda Fernley" --role outside --email oda@fernley.example --phone 11
order supplier "Gannet Row" --lead-days 7 --shipping 4.50
order offer "Gannet Row" "foam swab, lint-free" 50 6.00
order place "Gannet Row" "foam swab, lint-free=2" --name O-1 --on 2026-01-10
loan out D4 --to "Bram Oakhollow" --due 2026-04-01 --on 2026-01-15
fault add D3 hums --on 2026-01-20
policy add Q-1 --to 2026-12-31 --insured 2000
medium add M-1 --role scratch --from 2025-01-01
pairing add D1 P1
wanted add D3 lamp --on 2026-01-20
procedure add "listen to it" --every-months 24
limit add ripple --unit D2 --upper 90
supply add "rail grease" --kind lubricant --measured-in g
supply receive "rail grease" 5000 --lot G-1 --on 2025-01-05
service open D2 --on 2026-02-01
photo add D1 {here}/front.png --title front
reading add D1 "spindle speed" 300.4 --instrument "bench counter" --on 2025-11-11
"""

BLANKS: Mapping[str, Sequence[str]] = {
    "unit": ("D1", "D2", "D3", "D4", "D7", "D9", "X1", "X2"),
    "new_unit": ("X1", "X2", "X3", "D1"),
    "model": ("DM-8", "DK-9", "DS-3"),
    "person": ("Ilse Vanterpool", "Bram Oakhollow", "Oda Fernley", "Ada Quill"),
    "place": ("bench", "attic", "shelf A"),
    "supply": (IPA, SWAB, BELT),
    "lot": ("A-2", "S-1", "B-1", "N-1", "N-2"),
    "instrument": ("bench counter", "hand strobe"),
    "procedure": ("clean head", "set spindle speed", "listen to it"),
    "standing": ("ready", "in use", "donor", "missing", "on the bench"),
    "medium": ("M-1", "M-1", "M-2"),
    "screw": ("speed trimmer", "zero stop"),
    "part": ("belt", "mechanism", "front"),
    "day": ("2025-03-05", "2025-09-30", "2026-01-15", "2026-02-10", "2026-02-28", "2026-03-01"),
    "later": ("2026-02-20", "2026-03-20", "2026-05-01"),
    "speed": ("299.6", "300.4", "306.1"),
    "few": ("1", "2", "3"),
    "many": ("400", "900"),
    "sum": ("15", "120.50"),
    "word": ("seen", "worn", "by the window"),
    "grade": ("pass", "marginal", "fail"),
    "order": ("O-1", "O-2", "O-3"),
    "loan": ("L1", "L2"),
    "file": ("front.png", "back.png"),
}

# Of each act that the journal knows by this name, lines that carry it out.
LINES: Mapping[str, Sequence[str]] = {
    "unit add": ('unit add {new_unit} --model {model} --serial {few} --note "{word}"',),
    "unit edit": ('unit edit {unit} --note "{word}" --rom {few}', "unit edit X1 --tag X4 --reason renamed"),
    "unit enter": (
        'unit enter {unit} --location "{place}" --on {day}',
        'unit enter {unit} --standing "{standing}" --owner "{person}" --on {day}',
        "unit enter {unit} --standing gone --reason sold --on {day}",
    ),
    "arrival": (
        'arrival {new_unit} --model {model} --from "{person}" --damage "{word}" --on {day}',
        'arrival {unit} --contents "{word}" --on {day}',
        'arrival {unit} --correct --reason misread --damage "{word}"',
    ),
    "unit turn": ('unit turn {unit} --screw "{screw}" clockwise 1/8 --on {day}',),
    "unit lubricated": ('unit lubricated {unit} rails "rail grease" --on {day}',),
    "location add": ('location add "{place}"',),
    "location edit": ('location edit "{place}" --note "{word}"', "location edit attic --name loft"),
    "model edit": ('model edit {model} --note "{word}" --replacement-value {sum}',),
    "person add": ('person add "{person}" --phone {few}',),
    "person edit": (
        'person edit "{person}" --phone {few} --email {few}@fernley.example',
        'person edit "{person}" --name "Ada Quill" --phone "" --reason married',
    ),
    "person forget": ('person forget "{person}" --reason left --yes',),
    "loan out": (
        'loan out {unit} --to "{person}" --due {later} --on {day}',
        'loan out {unit} P1 --to "{person}" --due {later} --purpose show --deposit {sum}',
        'loan out {unit} --to "{person}" --due {later} --all-the-same "{word}" --along cable',
        'loan out {unit} --to "{person}" --due {later} --on {day} --came-back {day}',
    ),
    "loan back": (
        "loan back {unit} --on {day}",
        'loan back {unit} --condition "{word}" --complaint "{word}" --missing cable',
        "loan back {unit} --damage dented --estimate {sum} --on {day}",
    ),
    "loan edit": ('loan edit {loan} --due {later} --purpose "{word}" --reason "{word}"',),
    "loan extend": (
        "loan extend {unit} --due {later}",
        'loan extend {loan} --due 2026-06-01 --all-the-same "{word}"',
    ),
    "loan deposit": ("loan deposit {loan} {few} --reason kept", "loan deposit {unit}"),
    "loan reserve": ('loan reserve {unit} --to "{person}" --from 2026-03-10 --until {later}',),
    "loan unreserve": ("loan unreserve {unit} --reason called", "loan unreserve D1"),
    "loan in": ('loan in {new_unit} --from "{person}" --due {later} --on {day} --cover "{word}"',),
    "loan give-back": ("loan give-back {new_unit} --on {day}", "loan give-back P1"),
    "condition add": (
        'condition add {unit} --condition "{word}" --grade {grade} --by "{person}" --on {day}',
        'condition add {unit} --condition "{word}" --reading "spindle speed={speed}" --instrument "{instrument}"',
    ),
    "safety add": ('safety add P1 {grade} --by "{person}" --on {day}', 'safety add P1 pass --by "Bram Oakhollow"'),
    "sighting add": (
        'sighting add {unit} --at "{place}" --on {day} --by "{person}"',
        "sighting add {unit} D1 --not-found",
    ),
    "shelf-check": (
        'shelf-check "{place}" --tags {unit},D2 --by "{person}"',
        "shelf-check bench --tags X1 --move",
        'shelf-check "{place}" --tags {unit} --call-missing --on {day}',
    ),
    "damage add": (
        'damage add {unit} "{word}" --estimate {sum} --on {day} --reported-by "{person}"',
        'damage add {unit} "{word}" --lost unit --circumstances "{word}"',
    ),
    "damage edit": ('damage edit DL1 --actions "{word}" --estimate {sum}',),
    "damage close": ("damage close DL1 --outcome mended --settled {sum}", "damage close DL2 --outcome replaced"),
    "unit dispose": (
        'unit dispose {unit} --how given --reason worn --to "{person}" --on {day}',
        "unit dispose D9 --how scrapped --reason worn",
    ),
    "unit edit-disposal": ('unit edit-disposal D9 --note "{word}" --reason slip',),
    "unit move": ('unit move {unit} --to "{place}" --on {day} --by "{person}"',),
    "pairing add": ("pairing add {unit} P1",),
    "pairing end": ("pairing end {unit}",),
    "wanted add": ("wanted add {unit} {part} --on {day} --pieces {few}",),
    "wanted got": ("wanted got {unit} {part}", "wanted got D3 lamp"),
    "wanted drop": ("wanted drop {unit} {part} --reason mended", "wanted drop D3 lamp --reason mended"),
    "part fit": (
        "part fit {unit} {part} --donor D7 --on {day}",
        f'part fit {{unit}} belt --from "{BELT}" --on {{day}}',
        "part fit {unit} mechanism --donor {unit} --on {day}",
    ),
    "part remove": ("part remove {unit} {part} --reason broken --on {day}",),
    "part edit": ("part edit {unit} {part} --fitted-on {day} --reason slip",),
    "service open": ('service open {unit} --on {day} --findings "{word}"',),
    "service add": (
        'service add {unit} --did "{procedure}" --findings "{word}"',
        'service add {unit} --as-found "spindle speed={speed}" --instrument "bench counter"',
        f'service add {{unit}} --used "{SWAB}={{few}}" --minutes {{many}}',
    ),
    "service close": (
        'service close {unit} --outcome "{standing}" --anyway "{word}"',
        "service close {unit} --outcome ready",
    ),
    "service record": (
        'service record {unit} --did "{procedure}" --findings "{word}" --on {day} --minutes {many}',
        'service record {unit} --on {day} --instrument "{instrument}" --as-found "spindle speed={speed}"',
        f'service record {{unit}} --used "{IPA}={{few}} ml" --outcome "{{standing}}" --by "{{person}}" --on {{day}}',
        'service record {unit} --instrument "{instrument}" --as-left "spindle speed={speed}" --outcome ready',
        f'service record {{unit}} --part "belt={BELT}" --turned "{{screw}}=1/8 clockwise" --on {{day}}',
    ),
    "service edit": ("service edit {unit} --minutes {many} --reason counted",),
    "fault add": ('fault add {unit} "{word}" --on {day} --by "{person}"',),
    "fault close": ('fault close {unit} --which 1 --cause "{word}" --on {day}', "fault close {unit} --no-fault-found"),
    "fault edit": ('fault edit {unit} --which 1 --symptom "{word}" --reason heard',),
    "reading add": (
        'reading add {unit} "spindle speed" {speed} --instrument "{instrument}" --on {day}',
        'reading add {unit} "rail voltage[+5 V]" 5.02 --instrument "bench meter" --on {day} --disk M-1',
    ),
    "reading set-aside": ("reading set-aside {unit} --number {few} --reason slipped",),
    "round": ('round --of "spindle speed" {unit}={speed} D1=300.2 --instrument "{instrument}" --on {day}',),
    "photo add": ("photo add {unit} {here}/{file} --title {few}",),
    "photo edit": ('photo edit {unit} {few} --title "{word}"',),
    "supply add": ('supply add "grease {few}" --kind lubricant --measured-in g',),
    "supply edit": ('supply edit "{supply}" --note "{word}"',),
    "supply edit-lot": ('supply edit-lot "{supply}" {lot} --note "{word}"',),
    "supply receive": (
        'supply receive "{supply}" {many} --lot {lot} --on {day} --price {sum}',
        'supply receive "rail grease" {many} --on {day}',
    ),
    "supply use": (
        'supply use "{supply}" {few} --on {day} --unit {unit}',
        'supply use "{supply}" {many} --on {day}',
        'supply use "rail grease" {few} --lot G-1 --on {day}',
    ),
    "supply count": (
        'supply count "{supply}" {many} --on {day}',
        'supply count "{supply}" {few} --lot {lot}',
        'supply count "rail grease" {many} --lot G-1 --on {day}',
    ),
    "supply discard": ('supply discard "{supply}" {few} --lot {lot} --reason spilt --on {day}',),
    "supply return": ('supply return "{supply}" {few} --lot {lot}',),
    "supply move": ('supply move "{supply}" "{place}" --on {day}',),
    "supply open": ('supply open "{supply}" --lot {lot} --on {day}',),
    "supply repack": ('supply repack "{supply}" {few} --into R-{few}',),
    "supply inspect": ('supply inspect "{supply}" {lot} --result pass --on {day}',),
    "supply reverse": ('supply reverse "{supply}" {few} --reason wrong',),
    "order supplier": ('order supplier "Nordlager {few}" --lead-days {few}',),
    "order edit-supplier": ('order edit-supplier "Gannet Row" --lead-days {few}',),
    "order offer": ('order offer "Gannet Row" "{supply}" {many} {sum}',),
    "order edit-offer": ('order edit-offer "Gannet Row" "{supply}" --price {sum}',),
    "order drop-offer": ('order drop-offer "Gannet Row" "{supply}"',),
    "order place": (f'order place "Gannet Row" "{SWAB}={{few}} of 50 pieces @ 6.00" --name {{order}} --on {{day}}',),
    "order confirm": ("order confirm {order} {later}",),
    "order receive": (f'order receive {{order}} "{SWAB}=1" --on {{day}}', "order receive {order}"),
    "order cancel": ("order cancel {order}",),
    "policy add": ("policy add Q-{few} --from {day} --insured {sum}",),
    "policy edit": ("policy edit Q-1 --insured {sum}",),
    "value add": ('value add {unit} {sum} --basis market --on {day} --by "{person}"',),
    "book set": ("book set --accepted-risk {few}%",),
    "procedure add": ('procedure add "dust it {few}" --every-months {few}',),
    "procedure amount": ('procedure amount "{procedure}" "{supply}" {few} --reason weighed',),
    "procedure edit": ('procedure edit "{procedure}" --minutes {many} --every-months {few} --reason learnt',),
    "limit add": ("limit add ripple --unit {unit} --upper {many}",),
    "limit edit": ("limit edit ripple --unit {unit} --upper {many} --reason looser",),
    "limit drop": ("limit drop ripple --unit {unit} --reason wrong",),
    "measurement add": ('measurement add "fan speed {few}" --measured-in r/min',),
    "measurement edit": ('measurement edit "spindle speed" --note "{word}"',),
    "instrument add": ('instrument add "counter {few}" --for "spindle speed" --from {day}',),
    "instrument edit": (
        'instrument edit "{instrument}" --check-every {few}',
        'instrument edit "hand strobe" --name lamp',
    ),
    "instrument check": ('instrument check "{instrument}" {grade} --on {day}',),
    "instrument repaired": ('instrument repaired "{instrument}" --on {day} --reason "new crystal"',),
    "instrument retire": ('instrument retire "hand strobe" --reason "lamp gone"',),
    "medium add": ("medium add M-{few} --role cleaning --from {day}",),
    "medium edit": ("medium edit {medium} --most-uses {many}",),
    "medium use": ("medium use {medium} {few} --on {day} --unit {unit}",),
    "medium check": ("medium check {medium} {grade} --on {day}",),
    "medium retire": ("medium retire {medium} --reason worn --on {day}",),
    "import": ("import {here}/folder --yes", "import {here}/other --yes"),
}  # fmt: skip

# What the lines above bring in: one folder that makes things, and one that changes them and adds to them.
FOLDERS: Mapping[str, Mapping[str, str]] = {
    "folder": {
        "units.csv": "tag,model,location,note\nX1,DM-8,bench,by hand\nD1,DM-8,,first\n",
        "readings.csv": "tag,measurement,taken_on,instrument,value\nD1,spindle speed,2025-12-24,bench counter,300.7\n",
    },
    "other": {
        "people.csv": "person,role,phone\nAda Quill,member,7\nBram Oakhollow,member,8\n",
        "units.csv": "tag,model,note\nX1,DM-8,changed\nX2,DK-9,\n",
        "uses.csv": f'supply,lot,quantity,used_on,what,reason\n"{SWAB}",S-1,1,2026-02-02,use,\n',
    },
}

_BLANK = re.compile(r"\{(\w+)\}")


def filled(line: str, pick: Callable[[Sequence[str]], str]) -> list[str]:
    """Return the words of a line, its blanks filled by `pick`; {here} is left to `placed`."""
    full = _BLANK.sub(lambda found: found[0] if found[1] == "here" else pick(BLANKS[found[1]]), line)
    return shlex.split(full)


def placed(words: Sequence[str], here: object) -> list[str]:
    """Return words with the folder of the test in the place of {here}."""
    return [word.replace("{here}", str(here)) for word in words]
