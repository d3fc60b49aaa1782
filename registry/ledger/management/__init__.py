"""Commands of the ledger."""
