"""HTTP on a socket: who may keep a connection, and for how long. Knows no route and no ledger."""
