"""A random folder of every file of the form: valid, small, and with texts that a careless writer or reader spoils."""

from __future__ import annotations

import csv
import io
from datetime import timedelta
from random import Random

from tests.support.times import TODAY

_TEXTS = (
    "", "", "plain", '"quoted"', "comma, and; semicolon", "two\nlines", "=1+1", "+49 30 1", "-5", "@home", "'led",
    "  blanks around  ", "tab\there", "Ünïcode ½ µm 磁盤", "NA", "00123", "1E5", "yes", "trailing\n",
)  # fmt: skip
_UNITS = [f"D{number}" for number in range(1, 6)]
_SUPPLIES = [("spirit", "ml"), ("swab 9", "piece"), ("grease 2", "g")]


class _Maker:
    """Makes rows with one source of chance."""

    def __init__(self, dice: Random) -> None:
        self.dice = dice
        self.services: list[tuple[str, str, str]] = []

    def one(self, *choices: str) -> str:
        return self.dice.choice(choices)

    def text(self) -> str:
        return self.dice.choice(_TEXTS)

    def day(self, *, partial: bool = False) -> str:
        day = (TODAY - timedelta(days=self.dice.randrange(1, 1500))).isoformat()
        return day[: self.dice.choice((4, 7, 10))] if partial else day

    def later(self, day: str) -> str:
        from datetime import date

        return min(TODAY, date.fromisoformat(day) + timedelta(days=self.dice.randrange(0, 30))).isoformat()

    def number(self, most: int, digits: int = 2) -> str:
        return f"{self.dice.uniform(0.1, most):.{digits}f}"

    def maybe(self, value: str) -> str:
        return value if self.dice.random() < 0.6 else ""

    def file(self, heading: str, rows: list[list[str]]) -> str:
        stream = io.StringIO(newline="")
        writer = csv.writer(stream)
        writer.writerow(heading.split())
        writer.writerows(rows)
        return stream.getvalue()


def random_folder(dice: Random) -> dict[str, str]:
    """Return the texts of all files of a small random folder, by name without ending."""
    make = _Maker(dice)
    return _names(make) | _equipment(make) | _work(make) | _drawer(make) | _people(make)


def _names(make: _Maker) -> dict[str, str]:
    one, text = make.one, make.text
    return {
        "measurements": make.file(
            "measurement measured_in ratio points note",
            [["jitter", "µs", one("yes", "no", ""), "", text()], ["squeak", "graded", "", "top; bottom", ""]],
        ),
        "models": make.file(
            "model maker kind drive_type nominal_speed replacement_value currency note",
            [
                ["VK 1", "Velkari", "drive", "belt", "300; 360", make.maybe("120"), "", text()],
                ["VK 1", "Drossmere", "", "", "360", make.maybe("99.50"), "USD", text()],
                ["PS 2", "", "supply unit", "", "", "", "", text()],
            ],
        ),
        "locations": make.file(
            "location inside note", [["shelf", "room", text()], ["room", "", ""], ["box", "shelf", ""]]
        ),
        "people": make.file(
            "person role email phone address note",
            [
                ["Ada Quill", one("keeper", "member"), "ada@example.org", text(), text(), text()],
                ["Bo Reed", "", "", "", "", ""],
            ],
        ),
        "supplies": make.file(
            "supply kind measured_in smallest_step density fits note",
            [[name, "x", unit, "", make.maybe("0.79"), "VK 1; PS 2", text()] for name, unit in _SUPPLIES],
        ),
        "procedures": make.file(
            "procedure revision applies_to every_months triggers resets retests cautions steps",
            [
                ["tune up", make.maybe("3"), "drive;belt", make.maybe("12"), "after loan;  unused 6 months",
                 "jitter: level+slope", "jitter; squeak", text(), text()],
            ],
        ),
        "suppliers": make.file(
            "supplier lead_days shipping note", [["Postbox", make.maybe("7"), make.maybe("3.9"), text()]]
        ),
    }  # fmt: skip


def _stands(make: _Maker) -> list[str]:
    """Return owner, location, standing, acquired on and from, price."""
    one = make.one
    return [
        make.maybe(one("Ada Quill", "Cy New")),
        make.maybe(one("shelf", "attic")),
        make.maybe(one("ready", "in use", "on loan")),
        make.maybe(make.day(partial=True)),
        make.maybe("Dee Seller"),
        make.maybe("12.34"),
    ]


def _equipment(make: _Maker) -> dict[str, str]:
    one, text = make.one, make.text
    units = [
        [tag, "VK 1", one("Velkari", "Drossmere"), make.maybe(f"S-{one('1', '2')}"), *_stands(make), text(), text()]
        for tag in _UNITS
    ]
    units.append(["P1", "PS 2", "", "", "", "", "", "", "", "", "", ""])
    entries = [[one(*_UNITS), "standing", one("ready", "away"), make.day(partial=True), text()] for _ in range(4)]
    entries += [[one(*_UNITS), "location", one("shelf", "box"), make.day(), ""] for _ in range(2)]
    entries += [[one(*_UNITS), "owner", "Bo Reed", make.day(), ""]] * 2
    return {
        "units": make.file(
            "tag model maker serial owner location standing acquired_on acquired_from price condition note", units
        ),
        "entries": make.file("tag what value from_date note", entries),
        "pairings": make.file(
            "drive supply_unit from_date to_date", [[one(*_UNITS), "P1", make.day(), ""] for _ in range(2)]
        ),
        "instruments": make.file(
            "instrument measurement reference from_date resolution kind tag host version note",
            [
                ["counter", "spindle speed", "yes", "", "0.1", "counter", "", "", "2.1", text()],
                ["counter", "spindle speed", "no", "2024-01-01", "0.05", "", "", "", "", ""],
                ["scope", "jitter", "", "", "", "", "D1", "bench", "", text()],
                ["ear", "squeak", "", "", "", "", "", "", "", ""],
            ],
        ),
        "limits": make.file(
            "tag model class maker measurement point nominal lower upper source from_date",
            [
                ["D1", "", "", "", "spindle speed", "", "300", "299.25", "300.75", text(), make.maybe("2024-05")],
                ["", "VK 1", "", "Velkari", "jitter", "", "", "", make.number(9), text(), ""],
                ["", "", "belt", "", "jitter", "", "1", "", "2", text(), ""],
            ],
        ),
    }


def _work(make: _Maker) -> dict[str, str]:
    one, text = make.one, make.text
    rows = []
    for number in range(6):
        tag, day = one(*_UNITS), make.day()
        make.services.append((f"S{number}", tag, day))
        done = one("", "tune up", "tune up; clean head", "clean head; clean head")
        closed = make.maybe(make.later(day))
        rows.append(
            [f"S{number}", tag, day, closed, done, text(), text().strip()[:20], make.maybe("30"), "Ada Quill", text()]
        )
    faults = [
        [one(*_UNITS), make.day(), "hum", one("", "No fault found", "belt"), text(), "", make.maybe("Eve Guest")]
        for _ in range(3)
    ]
    service, tag, day = make.services[0]
    faults.append([tag, day, "buzz", "", "", service, ""])
    return {
        "services": make.file("service tag opened_on closed_on procedures reason outcome minutes by findings", rows),
        "parts": make.file(
            "tag part fitted_on removed_on supply lot donor service",
            [
                [tag, "belt", day, "", "swab 9", "A", "", service],
                [tag, "motor", day, make.later(day), "", "", "P1", ""],
            ],
        ),
        "readings": _readings(make),
        "hours": make.file(
            "tag read_on hours reset", [["D2", make.day(), make.number(999, 1), one("", "no", "yes")]] * 2
        ),
        "faults": make.file("tag noticed_on symptom cause cure service by", faults),
    }


def _readings(make: _Maker) -> str:
    one, text = make.one, make.text
    rows = []
    for _ in range(15):
        name, tag, day = make.dice.choice(make.services)
        service = one("", name)
        stage = one("as found", "as left") if service else "between"
        value, unit = make.dice.choice((("300.10", ""), ("300.1", "r/min"), ("200.05", "ms"), ("3001", "")))
        if tag == "D1":  # its own limit has a nominal for which bars can stand still
            value, unit = make.dice.choice(((value, unit), ("-0.5", "bars/min")))
        seen = [tag, "spindle speed", one("", "360"), day, "counter", value, stage, service, unit]
        disk, supply_unit = make.maybe(one("R-1", "R-2")), make.maybe("P1")
        rows.append([*seen, disk, supply_unit, make.maybe("12.5"), "", make.maybe("cold"), text()])
    name, tag, day = make.services[-1]
    rows.append([tag, "squeak", "Top", day, "ear", "Marginal", "as found", "", "", "", "", "", "", "", ""])
    rows.append([tag, "jitter", "", day, "scope", "0.25", "between", "", "ms", "", "", "", "full load", "", ""])
    return make.file(
        "tag measurement point taken_on instrument value stage service measured_in disk supply_unit warm_up_minutes"
        " load set_aside note",
        rows + rows[:1],
    )


def _drawer(make: _Maker) -> dict[str, str]:
    one, text = make.one, make.text
    lots = [
        [supply, lot, make.day(), one("5", "100"), make.maybe("9.99"), "Postbox", make.maybe("3/22"), "", ""]
        for supply, _unit in _SUPPLIES
        for lot in ("A", "B")
    ]
    lots[0][-1] = TODAY.isoformat()
    uses = [
        [one("spirit", "swab 9", "grease 2"), make.maybe(one("A", "B")), one("1", "7", "120"), make.day(), "",
         make.maybe(one(*_UNITS)), make.maybe("tune up"), one("", "sheet", "measured"), one("", "yes", "no"),
         one("", "use", "discard", "short"), text() or "why"]
        for _ in range(8)
    ]  # fmt: skip
    name, tag, day = make.services[0]
    uses.append(["spirit", "", "2", day, name, tag, "", "", "", "", ""])
    uses.append(["spirit", "A", "1", make.day(), "", "", "", "", "", "return", ""])
    return {
        "lots": make.file("supply lot received_on quantity price supplier made expires_on opened_on", lots),
        "orders": make.file(
            "order supplier ordered_on supply packs arrived_on arrived_packs cancelled_on",
            [
                ["O-1", "Postbox", "2025-01-01", "spirit", "3", make.maybe("2025-02-01"), "", ""],
                ["O-1", "Postbox", "2025-01-01", "swab 9", "2", "", "", make.maybe("2025-02-02")],
                ["O-2", "Postbox", make.day(partial=True), "spirit", "1", TODAY.isoformat(), "0", ""],
            ],
        ),
        "offers": make.file(
            "supplier supply pack_quantity price currency from_packs",
            [["Postbox", "spirit", "500", "9.5", "", ""], ["Postbox", "spirit", "500", "8", "USD", "3"]],
        ),
        "amounts": make.file(
            "procedure supply quantity measured_in chance", [["tune up", "spirit", "0.5", "cl", "0.3"]]
        ),
        "uses": make.file("supply lot quantity used_on service tag procedure basis planned what reason", uses),
        "counts": make.file(
            "supply lot counted_on quantity",
            [["spirit", make.maybe("A"), make.day(), one("0", "33.3")] for _ in range(3)],
        ),
    }


def _people(make: _Maker) -> dict[str, str]:
    one, text = make.one, make.text
    loans = []
    for number, tag in enumerate(_UNITS[:3]):
        day = make.day()
        loan = [f"L{number}", one("", "out", "in"), tag, one("Ada Quill", "Fay New"), day, TODAY.isoformat(),
                make.maybe(make.later(day)), text(), text(), "", make.maybe("50")]  # fmt: skip
        loans.append(loan)
    loans.append([*loans[0][:2], "P1", *loans[0][3:8], "", text(), loans[0][10]])
    return {
        "valuations": make.file(
            "tag valued_on amount currency basis by evidence",
            [
                [
                    "D3",
                    make.day(partial=True),
                    "18",
                    one("EUR", "USD", "JPY"),
                    "sold alike",
                    make.maybe("Bo Reed"),
                    text(),
                ]
            ]
            * 2,
        ),
        "policies": make.file(
            "policy from_date to_date insurer sum_insured note",
            [["P/1", "2025", make.maybe("2027"), text(), "5000", text()]],
        ),
        "loans": make.file(
            "loan direction tag person out_on due_on back_on purpose condition_out condition_back deposit", loans
        ),
    }
