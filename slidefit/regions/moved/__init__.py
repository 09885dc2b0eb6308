"""Old against new: refitted windows of records, verdicts, a region or a folder fitted anew."""
