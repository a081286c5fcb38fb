"""An exported workbook in memory, edited as a person would and brought back, without a file in between."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.book_back_given import BackColumn, BackRow, BackSheet, Origin
from collection.acts.book_back_plan import BackPlan, Prefer, plan_back
from collection.acts.book_back_write import bring_back
from collection.exchange.book_columns import SHOWN, as_exported, sheet_of
from collection.store.engine import fetch, reading
from collection.views.book_sheets import sheet_rows
from collection.views.folder.form import FORMS
from tests.support.times import NOW, TODAY

# A small shelf with at least one row of every kind.
SHELF = {
    "models": "model,maker,kind,drive_type,nominal_speed,replacement_value\n"
    "VK 1,Velkari,drive,belt,300,60\nPS 2,Velkari,supply unit,,,30\n",
    "locations": "location,inside,note\ncellar,,\nshelf A,cellar,by the door\n",
    "people": "person,role,phone\nMirel Tosk,keeper,11\nAnouk Verrin,member,22\n",
    "units": "tag,model,maker,serial,owner,location,standing,acquired_on,price,note\n"
    "D1,VK 1,Velkari,70-1,Mirel Tosk,shelf A,ready,2019-05,25,first\n"
    "D2,VK 1,Velkari,70-2,Mirel Tosk,shelf A,in use,2020-01-02,30,\nP1,PS 2,Velkari,,Mirel Tosk,,ready,,,\n",
    "pairings": "drive,supply_unit,from_date\nD1,P1,2020-01-01\n",
    "instruments": "instrument,measurement,resolution,note\ncounter,spindle speed,0.1,bench\n"
    "meter,rail voltage,0.01,\nmeter,ripple,0.01,\nloupe,head condition,,\n",
    "limits": "model,maker,measurement,nominal,lower,upper,source,from_date\n"
    "VK 1,Velkari,spindle speed,300,297,303,leaflet,2019-01-01\n",
    "supplies": "supply,kind,measured_in,smallest_step,tracked,note\nrail oil,lubricant,ml,0.1,count,\n"
    "belt 64,belt,piece,1,count,\n",
    "procedures": "procedure,applies_to,every_months,minutes\nclean rails,drive,12,20\n",
    "amounts": "procedure,supply,quantity,chance\nclean rails,rail oil,0.5,1\n",
    "suppliers": "supplier,lead_days,shipping\nOrdent,7,4.5\n",
    "offers": "supplier,supply,pack_quantity,price,from_packs\nOrdent,rail oil,10,8,1\n",
    "lots": "supply,lot,received_on,quantity,price,supplier,expires_on\nrail oil,O-1,2024-01-01,20,9,Ordent,2028-01\n"
    "belt 64,B-1,2024-01-01,3,6,Ordent,\n",
    "orders": "order,supplier,ordered_on,supply,packs,arrived_on\nO-9,Ordent,2025-05-01,rail oil,2,\n",
    "services": "service,tag,opened_on,closed_on,procedures,reason,minutes,by\n"
    "S1,D1,2025-02-01,2025-02-01,clean rails,noise,25,Mirel Tosk\n",
    "parts": "tag,part,fitted_on,supply,lot\nD1,belt,2025-02-01,belt 64,B-1\n",
    "readings": "tag,measurement,point,taken_on,instrument,value,stage,service,note\n"
    "D1,spindle speed,,2025-02-01,counter,301.5,as found,S1,\nD1,spindle speed,,2025-02-01,counter,300.1,as left,S1,\n"
    "D2,spindle speed,,2025-03-01,counter,299.4,between,,quiet\nD1,head condition,,2025-02-01,loupe,pass,as left,S1,\n",
    "uses": "supply,lot,quantity,used_on,service,tag,procedure,what,reason\n"
    "rail oil,O-1,0.5,2025-02-01,S1,D1,clean rails,use,\nrail oil,O-1,1,2025-02-02,,,,discard,spilt\n",
    "counts": "supply,lot,counted_on,quantity\nbelt 64,B-1,2025-06-01,2\n",
    "hours": "tag,read_on,hours,reset\nD1,2025-02-01,120,no\n",
    "faults": "tag,noticed_on,symptom,cause,cure,closed_on\nD2,2025-04-01,hums,,,\n"
    "D1,2024-04-01,slow,belt,new belt,2024-05-01\n",
    "valuations": "tag,valued_on,amount,basis,by,evidence\nD1,2025-01-01,90,market,Mirel Tosk,fair\n",
    "policies": "policy,from_date,insurer,sum_insured\nP-7,2025-01-01,Ordent Mutual,500\n",
    "loans": "loan,tag,person,out_on,due_on,purpose,back_on\nL1,D1,Anouk Verrin,2025-05-01,2025-06-01,show,2025-06-02\n"
    "L1,D2,Anouk Verrin,2025-05-01,2025-06-01,show,2025-06-02\n",
}


class CameBack:
    """All sheets of a book as an export would write them; rows are told by number, the first below the heading is 2."""

    def __init__(self, engine: Engine, day: date = TODAY) -> None:
        self.engine = engine
        self.sheets: dict[str, BackSheet] = {}
        with reading(engine) as conn:
            ((book,),) = fetch(conn, "SELECT key FROM book")
            act, seal = fetch(conn, "SELECT act_id, hash FROM seal ORDER BY id DESC LIMIT 1")[0]
            self.origin = Origin("book.xlsx", book, str(act), seal)
            for file in FORMS:
                form = sheet_of(file)
                columns = tuple(BackColumn(each.column, each.column, each.said) for each in form.marked)
                shown = next((each.heading for each in form.columns if each.kind == SHOWN), "")
                rows = [
                    BackRow(at, row.key, as_exported(row.version, form, row.cells).rpartition(":")[2],
                            tuple(row.cells), row.shown)
                    for at, row in enumerate(sheet_rows(conn, file, day), 2)
                ]  # fmt: skip
                self.sheets[form.name] = BackSheet(file, form.name, columns, rows, beside=shown)

    def cells(self, sheet: str, number: int) -> dict[str, str]:
        """Return the cells of a row by column."""
        row = next(row for row in self.sheets[sheet].rows if row.number == number)
        return dict(zip(FORMS[f"{sheet}.csv"].columns, row.cells, strict=True))

    def find(self, sheet: str, **cells: str) -> int:
        """Return the number of the first row with these cells."""
        rows = self.sheets[sheet].rows
        return next(row.number for row in rows if cells.items() <= self.cells(sheet, row.number).items())

    def write(self, sheet: str, number: int, **cells: str) -> None:
        """Type over cells of a row."""
        self._put(sheet, number, cells=tuple({**self.cells(sheet, number), **cells}.values()))

    def show(self, sheet: str, number: int, beside: str) -> None:
        """Type over the cell that only shows in what the number is measured."""
        self._put(sheet, number, beside=beside)

    def key(self, sheet: str, number: int, key: str) -> None:
        """Type over the hidden key of a row."""
        self._put(sheet, number, key=key)

    def _put(self, sheet: str, number: int, **told: Any) -> None:
        rows = self.sheets[sheet].rows
        at = next(at for at, row in enumerate(rows) if row.number == number)
        rows[at] = rows[at]._replace(**told)

    def add(self, sheet: str, **cells: str) -> int:
        """Add a row by hand; returns its number."""
        number = len(self.sheets[sheet].rows) + 100
        told = tuple(cells.get(column, "") for column in FORMS[f"{sheet}.csv"].columns)
        self.sheets[sheet].rows.append(BackRow(number, "", "", told))
        return number

    def copy(self, sheet: str, number: int, **cells: str) -> int:
        """Copy a row, its hidden cells too, and type over cells of the copy."""
        row = next(row for row in self.sheets[sheet].rows if row.number == number)
        self.sheets[sheet].rows.append(row._replace(number=number + 1000))
        self.write(sheet, number + 1000, **cells)
        return number + 1000

    def plan(self, prefer: Prefer = "") -> BackPlan:
        """Compare with the book."""
        with reading(self.engine) as conn:
            return plan_back(conn, self.origin, list(self.sheets.values()), today=TODAY, prefer=prefer)

    def bring(self, reason: str = "", prefer: Prefer = "") -> BackPlan:
        """Bring it in, which nothing may stand against."""
        plan = self.plan(prefer)
        assert plan.writable, told(plan, "refused", "conflict", "from another book")
        assert not plan.changes_nothing
        bring_back(self.engine, plan, self.origin, today=TODAY, now=NOW, reason=reason)
        return plan


def told(plan: BackPlan, *kinds: str) -> list[tuple[str | None, int | None, str | None, str | None, str | None]]:
    """Return (sheet, row, column, in the book, in the sheet) of the findings of some kinds."""
    return [(each.sheet, each.row, each.column, each.old, each.value) for each in plan.rows() if each.kind in kinds]


def rules(plan: BackPlan, kind: str) -> list[str]:
    """Return the rules of the findings of one kind."""
    return [str(each.rule) for each in plan.rows() if each.kind == kind]
