"""The book of a collection of old disk drives and of the supplies that feed them."""

__version__ = "0.1.0"
