"""HTTP on a socket: who may keep a connection, for how long, and how a process of several ends. Knows no route and no ledger."""
