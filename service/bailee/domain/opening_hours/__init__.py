"""When a dock, a carrier or an office is open, and when an envelope reaches an open one."""
