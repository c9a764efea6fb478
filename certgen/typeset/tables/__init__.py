"""Long tables drawn straight onto pages, since no setter's table is quick enough for a season's registers."""
