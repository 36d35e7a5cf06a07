"""All input and output: database, reading folders, codecs, masters."""
