"""What each act on a form changes, by who does it: the parts of the fold in `forms`."""
