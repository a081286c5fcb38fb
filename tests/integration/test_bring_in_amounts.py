"""The folder's own amounts of a procedure take the place of the reference data's, and nothing else does."""

from __future__ import annotations

from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from tests.support.books import act, digest
from tests.support.folders import bring, findings, plan, rows
from tests.support.times import NOW, TODAY

OWN = {
    "supplies": "supply,kind,measured_in,smallest_step,tracked\nspirit,solvent,ml,1,count\n",
    "amounts": "procedure,supply,quantity\nclean head,spirit,3\n",
}
SHEET = (
    "SELECT s.name FROM amount a JOIN supply s ON s.id = a.supply_id JOIN procedure p ON p.id = a.procedure_id"
    " WHERE p.name = 'clean head' AND a.void = 0 ORDER BY s.name"
)
REFERENCE = [("foam swab, lint-free",), ("isopropyl alcohol 99 %",)]


def test_own_amounts_take_the_place_of_untouched_reference_amounts(engine: Engine) -> None:
    """Both together would be counted twice; the import says which go, and undo brings them back."""
    assert rows(engine, SHEET) == REFERENCE
    before = digest(engine, effective=True)

    made = bring(engine, OWN)

    assert [("spirit",)] == rows(engine, SHEET)
    told = [(each.record, each.file) for each in findings(made, "changed")]
    assert [(f"amount clean head {name}", "amounts.csv") for (name,) in reversed(REFERENCE)] == told
    assert bring(engine, OWN).changes_nothing
    undo(engine, None, today=TODAY, now=NOW)
    assert before == digest(engine, effective=True)


def test_reference_amounts_that_the_folder_names_stay_and_change(engine: Engine) -> None:
    """A row for the same supply is that amount, changed; only the others go."""
    bring(engine, OWN | {"amounts": OWN["amounts"] + "clean head,isopropyl alcohol 99 %,9\n"})

    assert [("isopropyl alcohol 99 %",), ("spirit",)] == rows(engine, SHEET)


def test_reference_amounts_that_somebody_changed_stay(engine: Engine) -> None:
    """What a keeper edited is the keeper's own sheet."""
    with act(engine, "procedure edit") as work:
        sql = "SELECT a.id FROM amount a JOIN supply s ON s.id = a.supply_id WHERE s.name = 'foam swab, lint-free'"
        for (row,) in rows(engine, f"{sql} AND a.procedure_id = (SELECT id FROM procedure WHERE name = 'clean head')"):
            work.update("amount", row, steps=7)
        work.commit("seven swabs")

    bring(engine, OWN)

    assert [("foam swab, lint-free",), ("spirit",)] == rows(engine, SHEET)


def test_amounts_of_other_procedures_and_absent_rows_take_nothing_out(engine: Engine) -> None:
    """A folder that only changes an amount it has, or speaks of another procedure, leaves the rest alone."""
    bring(engine, OWN | {"amounts": "procedure,supply,quantity\ndust out,spirit,3\n"})
    assert rows(engine, SHEET) == REFERENCE

    made = plan(engine, {"amounts": "procedure,supply,quantity\nclean head,isopropyl alcohol 99 %,9\n"})

    assert [1, 0] == [made.totals["changed"], len(made.voids)]
