"""One read model of form, sample, envelope and hand-over, and the words of custody.

Papers, pages, answers, terminal and verifier show it.
"""
