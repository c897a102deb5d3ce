"""Cosigning: vouching for the growth of somebody else's log. No web framework, no SQL; C2SP tlog-witness and tlog-cosignature."""
