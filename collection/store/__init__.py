"""Opening, migrating and backing up books; computed results; shipped data."""
