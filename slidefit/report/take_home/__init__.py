"""What people take home that computes without us: a live workbook and an offline page."""
