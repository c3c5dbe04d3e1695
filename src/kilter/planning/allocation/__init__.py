"""Which objects can be made working from this stock, which donor to break, and what to buy."""
