"""Objects that run on display: wear by hours, switching on and years; spares; when to replace, and when to leave."""
