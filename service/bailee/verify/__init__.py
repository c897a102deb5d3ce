"""The auditor's file and its four verdicts. An auditor's install ends here: no network, no database."""
