"""The HTML pages."""
