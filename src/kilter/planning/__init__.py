"""Planning: the least harmful cure, and scarce parts and donors shared out over a whole collection."""
