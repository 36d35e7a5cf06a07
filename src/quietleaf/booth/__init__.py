"""A reading being made: takes, the edit ledger, the timeline."""
