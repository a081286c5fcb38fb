"""The book of a shelf of drives and supplies: records, readings, services and what is due."""

__version__ = "0.1.0"
