"""The pages: a thin face of the record and the services, for phones and old laptops, without a network."""
