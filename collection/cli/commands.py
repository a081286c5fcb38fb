"""Every command with its help line, so that the help page loads no command."""

from __future__ import annotations

from typing import NamedTuple


class Entry(NamedTuple):
    """Where a command is found: module under collection.cli, attribute in it, first line of its help."""

    module: str
    attribute: str
    help: str


EVERYDAY = {
    "start": Entry("book", "start_command", "Create the book of your collection"),
    "import": Entry("folder", "import_command", "Bring in your own workbook, or a folder of CSV files"),
    "due": Entry("due", "due_command", "Show which units are due, and why"),
    "unit": Entry("unit", "unit_group", "List, show, add and edit units"),
    "service": Entry("service", "service_group", "Record what was done to a unit"),
    "reading": Entry("reading", "reading_group", "Add a reading, or set one aside"),
    "supply": Entry("supply", "supply_group", "Book supplies into and out of the drawer"),
    "stock": Entry("stock", "stock_command", "Show what is in the drawer"),
    "reorder": Entry("reorder", "reorder_command", "Show what to buy, and by when"),
    "undo": Entry("journal", "undo_command", "Take back an act"),
}

OTHERS = {
    "help": Entry("help", "help_command", "Explain the five things people come to do, step by step"),
    "demo": Entry("demo", "demo_command", "Build the book of an invented club and walk through it"),
    "where": Entry("book", "where_command", "Show which book is in use, and where it is"),
    "book": Entry("book", "book_group", "Change what the book goes by"),
    "export": Entry("folder", "export_group", "Write the book as files"),
    "plan": Entry("plan", "plan_command", "Show what to do on which bench day, and what that takes from the drawer"),
    "calendar": Entry(
        "calendar", "calendar_command", "Write what is due, bench days, loans and expiries as a calendar file"
    ),
    "instrument": Entry("instrument", "instrument_group", "Keep the instruments that readings are taken with"),
    "drift": Entry("drift", "drift_command", "Show what drifts, how fast, and when it will leave its limits"),
    "chart": Entry("chart", "chart_command", "Show which readings of a unit its own drift did not foretell"),
    "medium": Entry("medium", "medium_group", "Keep the disks that units are read, cleaned and tried with"),
    "round": Entry("round", "round_command", "Read or do one thing on many units, one line each"),
    "fault": Entry("fault", "fault_group", "Note and close the faults of units"),
    "emergency": Entry("emergency", "emergency_command", "Show what to carry out first, where it is, and whom to call"),
    "damage": Entry("damage", "damage_group", "Note damage and loss, with what an owner and an insurer ask for"),
    "arrival": Entry("arrival", "arrival_command", "Note a unit that came, as it came"),
    "condition": Entry("condition", "condition_group", "Note in what state units are, dated and by whom"),
    "safety": Entry("safety", "safety_group", "Note electrical safety checks, as a competent person made them"),
    "inventory": Entry(
        "inventory", "inventory_command", "List every unit: where it is, whose, and when it was last seen"
    ),
    "sighting": Entry("sighting", "sighting_group", "Note that units were seen, or looked for in vain"),
    "shelf-check": Entry("shelf_check", "shelf_check_command", "Hold a shelf against the book, tag by tag"),
    "label": Entry("label", "label_command", "Write labels for units as sheets to print"),
    "photo": Entry("photo", "photo_group", "Keep photos and papers of units"),
    "wanted": Entry("wanted", "wanted_group", "Note the parts that units wait for"),
    "part": Entry("part", "part_group", "Fit and remove parts of units, and see what a donor has left"),
    "procedure": Entry("procedure", "procedure_group", "List, show and change what is done to units"),
    "limit": Entry("limit", "limit_group", "List and change what readings are judged by"),
    "measurement": Entry("measurement", "measurement_group", "List, add and change what can be measured"),
    "consumption": Entry(
        "consumption", "consumption_command", "Show what work really takes of each supply, against its sheet"
    ),
    "intervals": Entry("intervals", "intervals_command", "Propose longer or shorter intervals by how units came in"),
    "model": Entry("model", "model_group", "List, show and change models"),
    "location": Entry("location", "location_group", "List, add and change the places where things stand"),
    "pairing": Entry("pairing", "pairing_group", "Tell which supply unit feeds which drive"),
    "person": Entry("person", "person_group", "Add, list, change and forget people"),
    "order": Entry("orders", "order_group", "Place orders, book what came, and see what is still to come"),
    "loan": Entry("loan", "loan_group", "Lend units and take them back"),
    "value": Entry("value", "value_group", "Say what units are worth, by whose word and on what basis"),
    "report": Entry("report", "report_group", "Write pages to print: for the bench, the shelf, a borrower, an insurer"),
    "policy": Entry("policy", "policy_group", "Keep what the collection is insured for"),
    "history": Entry("journal", "history_command", "Show what was done to the book, newest first"),
    "verify": Entry("journal", "verify_command", "Check the book against its rules"),
    "backup": Entry("backup", "backup_group", "Copy the book into a verified file; list and prune backups"),
    "restore": Entry("restore", "restore_command", "Put a backup in the place of the book"),
    "move-to": Entry("move", "move_to_command", "Copy the book to a database server, or back to a file"),
    "upgrade": Entry("restore", "upgrade_command", "Bring a book of an older version to this one"),
    "completion": Entry("completion", "completion_command", "Print the completion script of a shell"),
}

COMMANDS = EVERYDAY | OTHERS
