"""What a person does: one outer act is one transaction and one journal entry."""
