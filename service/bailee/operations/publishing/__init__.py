"""From a committed entry to a checkpoint that is signed, shown and cosigned; and what stops that."""
