"""Is it in order? Each rule is a small pure function; `registry.evaluate` asks them all."""
