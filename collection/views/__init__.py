"""What a person asks: read only, each takes an open connection and sees one snapshot."""
