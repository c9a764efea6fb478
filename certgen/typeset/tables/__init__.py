"""Long tables drawn straight onto pages, since no engine's table is quick enough for a season's registers."""
