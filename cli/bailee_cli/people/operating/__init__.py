"""The operator's bad days, and what is done before: copies of a ledger, and bringing back what is missing."""
