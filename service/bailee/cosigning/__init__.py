"""Vouching for the growth of somebody else's log (C2SP tlog-witness, tlog-cosignature). No web, no SQL."""
