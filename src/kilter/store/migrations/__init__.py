"""Steps from an empty database to the tables of this release; the same on SQLite and PostgreSQL."""
