"""What a person does to the record, one file for each kind of thing; nothing else writes to it."""
