"""The one day and the one instant of every test."""

from datetime import UTC, date, datetime

TODAY = date(2026, 3, 1)
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
