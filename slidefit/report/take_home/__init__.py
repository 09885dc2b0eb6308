"""What people take home: a live workbook, a page that answers offline, the sheet for the lender."""
