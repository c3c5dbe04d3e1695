"""The record of a collection in a database; `kilter.store.start.start_store` opens it."""
