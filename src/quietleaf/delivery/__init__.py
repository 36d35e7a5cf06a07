"""What leaves, as records and bytes: broadcast wave, tags, report."""
