"""The auditor's file and its four verdicts, without network or database."""
