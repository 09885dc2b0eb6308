"""The budget declared once, and its readers."""
