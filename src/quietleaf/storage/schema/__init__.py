"""The database's shape: tables as they are now, and the numbered steps that lead there."""
