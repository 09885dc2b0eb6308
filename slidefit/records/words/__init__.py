"""How sale lists are written: numbers, dates, units, animals, fields, headings, titles."""
