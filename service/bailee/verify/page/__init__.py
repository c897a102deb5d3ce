"""The verifier as one static page: this package's Python, run inside a browser.

`bailee page` puts it together.
"""
