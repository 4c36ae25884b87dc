"""The pure floors: arguments in, values out. No clock, no database, no web, no random state."""
