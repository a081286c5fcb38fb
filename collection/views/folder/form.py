"""The form of the folder: which files it may have, their columns, and which of them must be filled.

The order of the files is the order in which they can be brought in: what a file names stands in a file before it.
Every file may have a column `key` (the row's UUID) besides.
"""

from __future__ import annotations

from dataclasses import dataclass

KEY = "key"


@dataclass(frozen=True, slots=True)
class FileForm:
    """One file: the word for its records, the columns that name one to a person, the required ones, the others."""

    file: str
    record: str
    label: tuple[str, ...]
    required: tuple[str, ...]
    columns: tuple[str, ...]


def _form(file: str, record: str, label: str, columns: str) -> FileForm:
    """Read a form from text; a star marks what must be filled."""
    names = columns.split()
    return FileForm(
        file=f"{file}.csv",
        record=record,
        label=tuple(label.split()),
        required=tuple(name[:-1] for name in names if name.endswith("*")),
        columns=tuple(name.removesuffix("*") for name in names),
    )


_FORMS = (
    _form("measurements", "measurement", "measurement", "measurement* measured_in* ratio points source note"),
    _form(
        "models",
        "model",
        "maker model",
        "model* maker kind drive_type nominal_speed speed_adjustable media supply_inside replacement_value currency"
        " note",
    ),
    _form("locations", "location", "location", "location* inside note"),
    _form("people", "person", "person", "person* role email phone address note"),
    _form(
        "units",
        "unit",
        "tag",
        "tag* model* maker serial serial_state owner location standing acquired_on acquired_from price currency"
        " condition marks jumpers rom modifications accessories note",
    ),
    _form("entries", "entry", "tag what from_date", "tag* what* value* from_date* note"),
    _form("pairings", "pairing", "drive supply_unit", "drive* supply_unit* from_date* to_date"),
    _form(
        "instruments",
        "instrument",
        "instrument measurement",
        "instrument* measurement* reference from_date resolution uncertainty kind tag host version note",
    ),
    _form(
        "limits",
        "limit",
        "tag maker model class measurement point",
        "tag model class maker measurement* point nominal lower upper source from_date",
    ),
    _form(
        "supplies",
        "supply",
        "supply",
        "supply* kind* measured_in* smallest_step tracked density polymer thickener strength size fits"
        " shelf_life_months open_life_months wanted_chance note",
    ),
    _form(
        "procedures",
        "procedure",
        "procedure",
        "procedure* revision applies_to every_months every_hours triggers minutes resets retests cautions steps source",
    ),
    _form("amounts", "amount", "procedure supply", "procedure* supply* quantity* measured_in chance"),
    _form("suppliers", "supplier", "supplier", "supplier* lead_days shipping currency note"),
    _form(
        "offers",
        "offer",
        "supplier supply",
        "supplier* supply* pack_quantity* price* currency from_packs minimum_packs lead_days",
    ),
    _form(
        "lots",
        "lot",
        "supply lot",
        "supply* lot* received_on* quantity* price currency supplier made expires_on opened_on",
    ),
    _form(
        "orders",
        "order",
        "order supply",
        "order* supplier* ordered_on* supply* packs* arrived_on arrived_packs cancelled_on",
    ),
    _form(
        "services",
        "service",
        "service tag",
        "service* tag* opened_on* closed_on procedures reason outcome minutes by findings",
    ),
    _form("parts", "part", "tag part", "tag* part* fitted_on* removed_on supply lot donor service"),
    _form(
        "readings",
        "reading",
        "tag measurement point taken_on",
        "tag* measurement* point taken_on* instrument* value* stage* service measured_in disk supply_unit"
        " warm_up_minutes load set_aside note",
    ),
    _form(
        "uses",
        "use",
        "supply lot used_on",
        "supply* lot quantity* used_on* service tag procedure basis planned what reason",
    ),
    _form("counts", "count", "supply lot counted_on", "supply* lot counted_on* quantity*"),
    _form("hours", "hour reading", "tag read_on", "tag* read_on* hours* reset"),
    _form("faults", "fault", "tag symptom", "tag* noticed_on* symptom* cause cure closed_on service by"),
    _form("valuations", "valuation", "tag valued_on", "tag* valued_on* amount* currency* basis* by evidence"),
    _form("policies", "policy", "policy", "policy* from_date* to_date insurer sum_insured currency note"),
    _form(
        "loans",
        "loan",
        "loan tag",
        "loan* direction tag* person* out_on* due_on* back_on purpose condition_out condition_back deposit currency",
    ),
)
FORMS: dict[str, FileForm] = {form.file: form for form in _FORMS}
