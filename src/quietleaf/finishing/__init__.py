"""From a timeline to a master: plan and apply."""
