"""Pages and forms: the station in a browser."""
