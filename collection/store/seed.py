"""Reading the reference data that ship with the program."""

import csv

from collection.store.shipped import shipped


def reference_rows(name: str) -> list[dict[str, str]]:
    """The rows of one shipped reference file ("procedures"), as column -> text."""
    path = shipped("seed_data", "reference", f"{name}.csv")
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))
